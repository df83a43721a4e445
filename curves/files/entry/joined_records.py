"""The record and the table of a joined strip, which load like those of any other."""

from __future__ import annotations

import csv
import io
from pathlib import Path
from typing import Any

import numpy as np

from curves.errors import OutputError
from curves.files.base.record_edits import new_text, record_path
from curves.files.base.strip_table import EXPOSURE_COLUMN
from curves.files.base.writing import all_or_none, write_atomically
from curves.files.strips.record import LOG_H_WORDS
from curves.sensitometry.combining.joining import JoinedStrip
from curves.sensitometry.core.units import PATCH_NAMES
from curves.sensitometry.strip.exposure import GivenExposure
from curves.sensitometry.strip.reciprocity import Schwarzschild
from curves.sensitometry.strip.strip import Strip

_DECIMALS = 4
"""Decimals of a density in the table: two are read, more come of a factor or of a mean [unitless]."""


def write_joined(name: Path, joined: JoinedStrip) -> tuple[Path, Path]:
    """Write the record of a joined strip and its table of readings; return their paths.

    Args:
        name: the record's name, with or without .toml; the table stands beside it.
        joined: the strip.

    Raises:
        OutputError: one of the files exists, or cannot be written; then neither is.
    """
    record = record_path(name)
    table = record.with_suffix(".csv")
    readings = _table(joined.strip)
    for path in (record, table):
        # The record is written last: a table of these readings without one was left by a run that was killed.
        left_over = path == table and path.is_file() and path.read_bytes() == readings.encode("utf-8")
        if path.exists() and not left_over:
            raise OutputError(
                "there is already such a file",
                where=str(path),
                needed="a name that is free, so that nothing is lost",
                hint="name another",
                settings=("into",),
            )
    with all_or_none(record, table):
        write_atomically(table, readings)
        write_atomically(record, new_text(_content(joined.strip, table.name)))
    return record, table


def _table(strip: Strip) -> str:
    """Return the readings of a joined strip as CSV: exposure, log H, and the densities as they were read."""
    assert isinstance(strip.exposure, GivenExposure)
    assert strip.exposure.pieces is not None
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\n")
    table.writerow([EXPOSURE_COLUMN, "log_h", *strip.channels])
    factor = strip.callier or 1.0
    for row, (name, log_h) in enumerate(zip(strip.exposure.pieces.of_row, strip.position, strict=True)):
        densities = (factor * float(strip.readings[c][row]) for c in strip.channels)
        cells = ("" if np.isnan(d) else f"{round(d, _DECIMALS):.2f}" if round(d, 2) == round(d, _DECIMALS)
                 else f"{round(d, _DECIMALS):g}" for d in densities)  # fmt: skip
        table.writerow([name, f"{log_h:.4f}", *cells])
    return text.getvalue()


def _content(strip: Strip, table: str) -> dict[str, Any]:
    """Return the contents of the record of a joined strip."""
    texts = {"title": strip.title, "film": strip.film, "process": strip.process, "sample": strip.sample}
    patches = {name: dict(getattr(strip.patches, name)) for name in PATCH_NAMES}
    factor = strip.callier or 1.0
    reader = {
        "name": strip.reader or None,
        "repeatability": strip.repeatability,
        "zero": strip.reader_zero,
        "scale_uncertainty": strip.reader_scale,
        "callier": strip.callier,
        "flare": strip.read_as.flare,
        "flare_uncertainty": strip.read_as.flare_uncertainty,
    }
    filters = [
        {"name": f.name, "metered": f.metered, "factor": f.factor, "uncertainty_stops": f.uncertainty_stops}
        for f in strip.filters
    ]
    return {
        **{key: text for key, text in texts.items() if text},
        **({} if strip.date is None else {"date": strip.date.isoformat()}),
        "kind": strip.kind,
        "density": strip.density,
        "readings": table,
        "notes": strip.notes,
        "exposure": _exposure(strip),
        "patches": {name: {c: round(factor * d, _DECIMALS) for c, d in p.items()} for name, p in patches.items() if p},
        "reader": _given(reader),
        **({"filter": [_given(one) for one in filters]} if filters else {}),
    }


def _exposure(strip: Strip) -> dict[str, Any]:
    """Return the section [exposure]: what log H counts from, and how sure the exposures are."""
    exposure = strip.exposure
    assert isinstance(exposure, GivenExposure)
    assert exposure.pieces is not None
    law = strip.reciprocity
    return {
        "method": "given",
        "log_h": next(word for word, unit in LOG_H_WORDS.items() if unit == exposure.unit),
        **_given(
            {
                "ei": exposure.ei,
                "seconds": exposure.seconds,
                "light": exposure.light or None,
                "uncertainty_stops": exposure.uncertainty_stops,
                "between_stops": exposure.pieces.between_stops,
                "step_stops": exposure.pieces.step_stops or None,
                "scale_uncertainty": exposure.pieces.scale_uncertainty or None,
                "meter_uncertainty_stops": exposure.meter_uncertainty_stops,
                "meter_constant": strip.meter_constant,
                "schwarzschild": law.p if isinstance(law, Schwarzschild) else None,
                "reciprocity": None if law is None or isinstance(law, Schwarzschild) else [list(p) for p in law.pairs],
            }
        ),
    }


def _given(values: dict[str, Any]) -> dict[str, Any]:
    """Return the values of a section that are given."""
    return {key: value for key, value in values.items() if value is not None}
