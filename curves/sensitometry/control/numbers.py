"""The numbers of a control strip that show how a process runs, and what errors of reading alone make of each."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

import numpy as np

from curves.sensitometry.analysis.analyse import analyse_alone
from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.rows import along_rows
from curves.sensitometry.core.units import LAYERS, STOP, Channel, FloatArray, eye_channel
from curves.sensitometry.curve.posterior import READINGS
from curves.sensitometry.uncertainty.results import Analysis

PLACES = {"reversal": {"low": "T", "mid": "M", "high": "S"}, "negative": {"low": "speed"}}
"""Points of the first strip's curve at whose log H the layers' balance is read, by kind of strip."""

_FURTHER = {"mid": 0.60, "high": 1.20}
"""Log H beyond a negative's speed point at which its middle and high densities are read: our own choice [log10]."""

_DRAWS = 250
"""Draws behind the errors of reading: a standard deviation to 5 % [unitless]."""

_MISSING = np.array([np.nan])


def label_of(key: str, kind: str) -> tuple[str, str]:
    """Return the name of a charted number that a person reads, and its unit."""
    if key.startswith("balance"):
        _, where, layer = key.split(".")
        return f"{layer} less green, {where}", "density"
    return {
        "dmin": ("Dmin", "density"),
        "dmax": ("Dmax", "density"),
        "speed": ("speed", "stops"),
        "contrast": ("average gradient" if kind == "reversal" else "gradient, 1.30", ""),
    }[key]


def places_of(first: Analysis) -> dict[str, float]:
    """Return the log H at which the layers are compared, low, mid and high, as the first strip shows it [log10]."""
    points = first.channels[eye_channel(first.channels)].points
    found = {where: float(_rows(points[name].log_h)[0]) for where, name in PLACES[first.strip.kind].items()}
    if first.strip.kind == "negative":
        found |= {where: found["low"] + further for where, further in _FURTHER.items()}
    return found


def control_numbers(analysis: Analysis, places: Mapping[str, float]) -> dict[str, float]:
    """Return the charted numbers of one strip by their keys; NaN where a number is missing.

    Args:
        analysis: a control strip.
        places: log H at which the layers are compared [log10].
    """
    return {key: float(rows[0]) for key, rows in _numbers(analysis, places)}


def reading_errors(analyses: Sequence[Analysis], places: Mapping[str, float]) -> dict[str, float]:
    """Return the standard deviation that errors of reading alone give to each number of a control strip.

    Args:
        analyses: strips that were read alike; the first that shows a number tells it.
        places: as for `control_numbers`.
    """
    found: dict[str, float] = {}
    for analysis in analyses:
        choices = replace(analysis.choices, draws=_DRAWS)
        drawn = analyse_alone(analysis.strip, (READINGS, "patches"), choices)
        errors = {key: float(np.nanstd(rows[1:])) for key, rows in _numbers(drawn, places) if np.isfinite(rows[0])}
        found = errors | found
        if len(found) == len(control_numbers(analysis, places)):
            break
    return found


def _numbers(analysis: Analysis, places: Mapping[str, float]) -> Iterator[tuple[str, FloatArray]]:
    """Yield the charted numbers of one strip, row by row of its draws; NaN where a number is missing."""
    eye = analysis.channels[eye_channel(analysis.channels)]
    yield "dmin", _rows(eye.measures["dmin"])
    yield "dmax", _rows(eye.measures["dmax"])
    point = eye.points["T" if analysis.strip.kind == "reversal" else "speed"].log_h
    yield "speed", -_rows(point) / STOP
    yield "contrast", _rows(eye.measures["average_gradient"])
    if all(layer in analysis.channels for layer in LAYERS):
        for where, log_h in places.items():
            red, green, blue = (_density(analysis, layer, log_h) for layer in LAYERS)
            yield f"balance.{where}.red", red - green
            yield f"balance.{where}.blue", blue - green


def _density(analysis: Analysis, layer: Channel, log_h: float) -> FloatArray:
    """Return the density of a layer at a log H, row by row; NaN where the estimate lies off the strip [density]."""
    found = analysis.channels[layer]
    rows = found.ensemble.density
    drawn = along_rows(np.array([log_h]), found.ensemble.grid, rows)[1:, 0] if len(rows) > 1 else np.array([])
    return np.concatenate([np.atleast_1d(found.curve.density_at(log_h)), drawn])


def _rows(quantity: Quantity) -> FloatArray:
    """Return the rows of a quantity; one NaN where it has no value."""
    if quantity.value is None:
        return _MISSING
    return np.array([quantity.value]) if quantity.rows is None else quantity.rows
