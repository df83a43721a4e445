"""The section [plan] of a record: what was expected of the strip before it was exposed."""

from __future__ import annotations

from typing import Any

from curves.errors import RecordError, StripError
from curves.files.base.fields import Section, check_number
from curves.sensitometry.core.values import POSITIVE, STOPS
from curves.sensitometry.strip.origin import SHARE, Expected, PlannedEnds

_KEYS = ("thin_end", "dense_end", "chance", "alone", "strip", "strips", "box", "off_stops")


def planned_ends(section: Section) -> PlannedEnds | None:
    """Return the prediction that the section [plan] holds; None where the record has no plan.

    Args:
        section: the section, empty if it is missing.

    Raises:
        RecordError: a key is missing, unknown or out of range.
    """
    section.only(*_KEYS)
    if not any(key in section for key in _KEYS):
        return None
    shares = {key: section.number(key, SHARE, needed=f"a chance, such as {key} = 0.95") for key in ("chance", "alone")}
    box = section.number("box", POSITIVE, needed="the speed that the plan began with, such as box = 80")
    off = section.number("off_stops", STOPS, needed="how far that might be wrong, such as off_stops = 1.0")
    numbers = {k: section.whole(k, needed=f"a whole number, such as {k} = 1", least=1) for k in ("strip", "strips")}
    assert box is not None
    assert off is not None
    try:
        return PlannedEnds(
            _expected(section, "thin_end"),
            _expected(section, "dense_end"),
            shares["chance"] or 0.0,
            shares["alone"] or 0.0,
            numbers["strip"],
            numbers["strips"],
            box,
            off,
        )
    except StripError as error:
        raise RecordError(error.what, where=section.where, needed=error.needed) from error


def plan_section(planned: PlannedEnds) -> dict[str, Any]:
    """Return the contents of the section [plan] for a prediction."""
    return {
        "thin_end": [round(x, 3) for x in planned.thin],
        "dense_end": [round(x, 3) for x in planned.dense],
        "chance": round(planned.chance, 3),
        "alone": round(planned.alone, 3),
        "strip": planned.strip,
        "strips": planned.strips,
        "box": planned.box,
        "off_stops": planned.off_stops,
    }


def _expected(section: Section, key: str) -> Expected:
    """Return the least, the expected and the greatest log H of one end of the curve [log10]."""
    listed = section.take(key)
    needed = f"least, expected and greatest log H, such as {key} = [-0.5, 0.1, 0.7]"
    if not isinstance(listed, list) or len(listed) != 3:
        raise RecordError(f"'{key}' is not three numbers", where=section.where, needed=needed)
    least, middle, most = (check_number(x, section.at(key)) for x in listed)
    return least, middle, most
