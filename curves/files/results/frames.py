"""Steps and curves as pandas tables, for a spreadsheet or a notebook."""

from __future__ import annotations

from dataclasses import asdict

import numpy as np
import pandas as pd

from curves.sensitometry.uncertainty.results import Analysis


def steps_frame(analysis: Analysis) -> pd.DataFrame:
    """Return every step of every channel, one row per channel and step.

    Columns: channel, step, label, log_h [log10], density [density], repeats, fitted [density], residual [density],
    flag (empty unless the step was set aside) and remark (what to know of the reading).
    """
    rows = [{"channel": c, **asdict(s)} for c, found in analysis.channels.items() for s in found.steps]
    return pd.DataFrame(rows)


def curve_frame(analysis: Analysis) -> pd.DataFrame:
    """Return the fitted curves, one row per log H [log10].

    Columns for each channel: density, the ends of its 95 % interval (``_low``, ``_high``) [density] and its gradient
    [density per log10 H]; NaN off the channel's own range of log H.
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
