"""Several strips of one film as JSON: their common index, or the one strip that they were joined to."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from curves.files.results.content import FORMAT, json_text, quantity, strip_content
from curves.sensitometry.checks.kept_plan import KeptNumber
from curves.sensitometry.combining.agreement import Agreement
from curves.sensitometry.combining.joining import JoinedStrip
from curves.sensitometry.combining.overlap import Overlap
from curves.sensitometry.combining.together import CommonIndex, StripShare

JOINED_FORMAT = 1
"""Version of the layout of a joined strip; it changes only when a key changes its meaning."""


def together_json(found: CommonIndex) -> str:
    """Return a common index as JSON text: ``{"format": 2, "strips": [...], "together": {...}}``."""
    strips = [strip_content(share.analysis) for share in found.strips]
    return json_text({"format": FORMAT, "strips": strips, "together": _common(found)})


def _common(found: CommonIndex) -> dict[str, Any]:
    return {
        "recommended": quantity(found.recommended),
        "nominal": found.nominal,
        "range_ends": [quantity(end) for end in found.range],
        "agreement": None if found.agreement is None else _agreement(found.agreement),
        "offsets": [
            {"strip": each.strip.title, "against": each.against.title, "more_exposure_stops": quantity(each.more)}
            for each in found.offsets
        ],
        "odd_strip": None if found.odd is None else found.odd.analysis.strip.title,
        "scatter_stops": quantity(found.scatter),
        "plans": [_plan(kept) for kept in found.kept_plans],
        "shared": [source.name for source in found.shared],
        "shared_stops": found.shared_error,
        "shares": [_share(share) for share in found.strips],
    }


def _agreement(test: Agreement) -> dict[str, Any]:
    return {
        "contradict": test.contradicts,
        "chi_square": test.chi_square,
        "degrees_of_freedom": test.freedom,
        "chance": test.chance,
    }


def _plan(kept: KeptNumber) -> dict[str, Any]:
    """Return the plan of one strip after the other, and whether it held."""
    return {
        "after": kept.plan.after,
        "expected": {"value": list(kept.expected.value), "half_width_stops": list(kept.expected.half_width)},
        "chance": kept.plan.chance,
        "value_held": kept.value_held,
        "width_held": kept.width_held,
    }


def _share(share: StripShare) -> dict[str, Any]:
    return {
        "title": share.analysis.strip.title,
        "index": quantity(share.index),
        "weight": share.weight,
        "against_the_others_stops": quantity(share.apart),
        "fit": share.fit,
    }


def joined_json(joined: JoinedStrip, record: Path, table: Path) -> str:
    """Return a joined strip as JSON text: what its exposures were moved by, what the curves show, and its files.

    Args:
        joined: the joined strip.
        record, table: the files that it was written to.
    """
    strip = joined.strip
    return json_text(
        {
            "format": JOINED_FORMAT,
            "title": strip.title,
            "log_h_unit": strip.log_h_unit,
            "log_h": [float(strip.log_h.min()), float(strip.log_h.max())],
            "readings": strip.position.size,
            "exposures": [
                {"name": name, "moved_stops": quantity(moved)}
                for name, moved in zip(joined.names, joined.moved, strict=True)
            ],
            "overlaps": [_overlap(each) for each in joined.overlaps],
            "remarks": list(joined.remarks),
            "files": {"record": record.as_posix(), "table": table.as_posix()},
        }
    )


def _overlap(each: Overlap) -> dict[str, Any]:
    """Return two strips where they overlap; without a discrepancy where no record states anything to hold it to."""
    return {
        "first": each.first,
        "second": each.second,
        "density": list(each.density),
        "offset_stops": quantity(each.found),
        "discrepancy_stops": None if each.unstated else quantity(each.discrepancy),
        "contradicts": each.contradicts,
        "bend_stops": quantity(each.bend),
        "bends": each.bends,
    }
