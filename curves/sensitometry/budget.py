"""How sure: every number is computed on the fitted curve and on all curves that the readings allow, at once.

An `Ensemble` holds them as rows of one array: row 0 is the estimate, the others are draws (JCGM 101). Whatever is
computed from it row by row comes out as an estimate and its distribution, and `summarise` turns that into a
`Quantity`. Sources of uncertainty other than the scatter of the readings join by changing the rows.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from curves.sensitometry.curve import ASSUMED_REPEATABILITY, Curve
from curves.sensitometry.quantity import How, Quantity
from curves.sensitometry.units import CHANNELS, VISUAL_MODEL_RMS, Channel, FloatArray, Kind

COVERAGE = 0.95
"""Probability of every interval shown [unitless]."""

_OFFSTRIP_SHARE = 0.5


@dataclass(frozen=True, eq=False)
class Ensemble:
    """The fitted curve of one channel (row 0) and the curves that the readings allow (the other rows).

    Attributes:
        channel, kind: what it is a curve of.
        grid: log H, ascending, (g,) [log10].
        density: (r, g) [density], each row monotone.
        gradient: (r, g) [density per log10 H].
        patches: for "base", "unexposed", "fully_exposed", where read: density, (r,) [density].
        level_error: error common to all densities of the channel, (r,) [density]; row 0 is 0.
        estimated: True if the channel was computed from others.
    """

    channel: Channel
    kind: Kind
    grid: FloatArray
    density: FloatArray
    gradient: FloatArray
    patches: Mapping[str, FloatArray]
    level_error: FloatArray
    estimated: bool = False

    @classmethod
    def of(
        cls,
        curve: Curve,
        channel: Channel,
        patches: Mapping[str, float],
        *,
        repeatability: float | None = None,
        estimated: bool = False,
        seed: int = 0,
    ) -> Ensemble:
        """Gather a fitted curve, its draws, and the patches read beside it.

        Args:
            curve: the fitted curve, with draws.
            channel: what it is a curve of.
            patches: density of each patch that was read [density].
            repeatability: standard deviation of one reading [density]; assumed if None.
            estimated: the channel was computed from the layers.
            seed: seed of the patch readings' errors.
        """
        rows = 1 + len(curve.draws)
        rng = np.random.default_rng((seed, CHANNELS.index(channel), 1))
        noise = ASSUMED_REPEATABILITY if repeatability is None else repeatability

        def error(deviation: float) -> FloatArray:
            return np.concatenate([[0.0], deviation * rng.standard_normal(rows - 1)])

        return cls(
            channel=channel,
            kind=curve.kind,
            grid=curve.grid,
            density=np.vstack([curve.grid_density, curve.draws]),
            gradient=np.vstack([curve.grid_gradient, curve.gradient_draws]),
            patches={name: patches[name] + error(noise) for name in sorted(patches)},
            level_error=error(VISUAL_MODEL_RMS if estimated else 0.0),
            estimated=estimated,
        )

    @property
    def how(self) -> How:
        """How numbers from this curve were found."""
        return "estimated" if self.estimated else "fitted"

    @property
    def how_read(self) -> How:
        """How the densities of its patches were found."""
        return "estimated" if self.estimated else "measured"


def summarise(
    rows: FloatArray, *, how: How = "fitted", beyond: float | None = None, note: str | None = None
) -> Quantity:
    """Return the estimate (row 0) with its 95 % interval from the other rows.

    Args:
        rows: (r,); NaN in a row means that this curve does not reach the point; row 0 must be a number.
        how: how the number was found.
        beyond: value at the end of the strip that the NaN rows ran off; they are counted there.
        note: what the number refers to.

    Returns:
        The quantity; without draws, or if half of them have no value, it has no interval and says so in its note.
    """
    value, draws = float(rows[0]), rows[1:]
    lost = ~np.isfinite(draws)
    if draws.size == 0 or lost.mean() > _OFFSTRIP_SHARE:
        why = "no interval: " + ("no draws were made" if draws.size == 0 else "too near the end of the strip")
        return Quantity(value, how=how, note=f"{note}; {why}" if note else why)
    if lost.any():
        draws = draws[~lost] if beyond is None else np.where(lost, beyond, draws)
        if beyond is not None and lost.mean() > (1 - COVERAGE) / 2:
            note = "; ".join(filter(None, [note, "the interval ends with the strip"]))
    low, high = np.quantile(draws, [(1 - COVERAGE) / 2, (1 + COVERAGE) / 2])
    return Quantity(value, min(float(low), value), max(float(high), value), how, note=note)
