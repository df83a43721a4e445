"""Measures, points, steps and curves as pandas tables, for a spreadsheet or a notebook."""

from __future__ import annotations

from dataclasses import asdict

import numpy as np
import pandas as pd

from curves.files.results.number_table import cells_of
from curves.sensitometry.measures.table import measures_of
from curves.sensitometry.uncertainty.results import Analysis


def measures_frame(analysis: Analysis) -> pd.DataFrame:
    """Return every measure of every channel (Dmin, gamma, range and so on), one row per channel and measure.

    Columns: channel; measure, its key; label, its name; unit (empty for a plain number); value, low and high (95 %
    interval) and u (standard uncertainty), in that unit and NaN where there is none; side ("<" or ">") and bound, where
    only a bound is known; how ("measured", "fitted" or "estimated"); why, the reason why a value is missing; note.
    """
    rows = [
        {
            "channel": channel,
            "measure": m.key,
            "label": m.label,
            "unit": m.unit,
            **cells_of(found.measures[m.key], "value"),
        }
        for channel, found in analysis.channels.items()
        for m in measures_of(analysis.strip.kind)
    ]
    return pd.DataFrame(rows)


def points_frame(analysis: Analysis) -> pd.DataFrame:
    """Return the points of every channel (T, S and M of a reversal, the speed point of a negative), one row each.

    Columns: channel; point; log_h, low and high (95 % interval) and u (standard uncertainty) [log10, as
    ``analysis.strip.log_h_unit`` says], NaN where there is none; density [density], which defines the point;
    meaning; side ("<" or ">") and bound [log10], where only a bound is known; how, why and note as in `measures_frame`.
    """
    rows = []
    for channel, found in analysis.channels.items():
        for name, point in found.points.items():
            density = np.nan if point.density is None else point.density
            cells = {"density": density, "meaning": point.meaning, **cells_of(point.log_h, "log_h")}
            rows.append({"channel": channel, "point": name, **cells})
    columns = ["channel", "point", "log_h", "low", "high", "u", "density", "meaning", "side", "bound", "how", "why"]
    return pd.DataFrame(rows, columns=[*columns, "note"])


def steps_frame(analysis: Analysis) -> pd.DataFrame:
    """Return every step of every channel, one row per channel and step.

    Columns: channel, step, label, log_h [log10], density [density], repeats, fitted [density], residual [density],
    flag (empty unless the step was set aside) and remark (what to know of the reading).
    """
    rows = [{"channel": c, **asdict(s)} for c, found in analysis.channels.items() for s in found.steps]
    return pd.DataFrame(rows)


def curve_frame(analysis: Analysis) -> pd.DataFrame:
    """Return the fitted curves, one row per log H.

    Columns: log_h [log10]; for each channel its density, named after the channel, the ends of the density's 95 %
    interval (``_low``, ``_high``) [density], and its gradient (``_gradient``) [density per log10 H]; NaN off the
    channel's own range of log H.
    """
    # Channels may cover different ranges of log H: all are put on the log H of the longest.
    grid = max((found.curve.grid for found in analysis.channels.values()), key=lambda g: float(np.ptp(g)))
    columns = {"log_h": grid}
    for channel, found in analysis.channels.items():
        curve = found.curve
        parts = {"": curve.grid_density, "_low": curve.low, "_high": curve.high, "_gradient": curve.grid_gradient}
        for ending, values in parts.items():
            columns[channel + ending] = np.interp(grid, curve.grid, values, left=np.nan, right=np.nan)
    return pd.DataFrame(columns)


def as_csv(frame: pd.DataFrame) -> str:
    """Return a table as CSV text: four decimals, empty cells for missing numbers."""
    return frame.to_csv(index=False, float_format="%.4f", lineterminator="\n")
