"""Readings out of order, told in words, with the exchange that would mend them."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from curves.sensitometry.core.units import Channel, FloatArray, sign_of
from curves.sensitometry.curve.mean_steps import ASSUMED_REPEATABILITY
from curves.sensitometry.order.direction import Reversal, reversal
from curves.sensitometry.order.misreadings import misreadings
from curves.sensitometry.order.plausibility import FEWEST, Plausibility, Steps
from curves.sensitometry.order.run import Misreading, Run
from curves.sensitometry.strip.strip import Strip
from curves.sensitometry.uncertainty.results import Notice
from curves.sensitometry.uncertainty.sources import step_uncertainty

_MOST_STEPS = 100
"""Steps beyond which nothing is searched: nobody enters as many by hand, and the search grows with their square."""

_WELL_READ = 0.75
"""Share of the steps at which a channel must be read to be searched together with the others [unitless]."""

DEAD = 0.02
"""A channel that changes by less along the strip is dead, or one number copied down [density]."""

_MOVES = 5.0
"""Range of a channel along the strip, in scatters of a reading, below which the order of its readings does not show:
own choice [unitless]."""

_CLOSEST = 0.2
"""Closest that two steps are taken to lie: nearer ones would make much of small differences [steps]."""

_FREEDOM = {"assumed": 1.0, "given": 3.0}
"""How many readings it is worth to know the scatter of one, as for the fit [degrees of freedom]."""


@dataclass(frozen=True, eq=False)
class ReadSteps:
    """The steps of a strip in the order of exposure, repeats averaged.

    Attributes:
        channels: those that were read anywhere.
        log_h: ascending, (n,) [log10].
        rows: the first row of each step, (n,).
        means: mean reading of each, (c, n); NaN where nothing was read [density].
        repeats: how often a step was read, as a rule [unitless].
    """

    channels: tuple[Channel, ...]
    log_h: FloatArray
    rows: Steps
    means: FloatArray
    repeats: float

    @classmethod
    def of(cls, strip: Strip) -> ReadSteps:
        """Average the readings of each step of a strip."""
        channels = tuple(c for c in strip.channels if np.isfinite(strip.readings[c]).any())
        log_h, rows, at = np.unique(np.round(strip.log_h, 7), return_index=True, return_inverse=True)
        means = np.empty((len(channels), log_h.size))
        for mean, channel in zip(means, channels, strict=True):
            read = np.isfinite(strip.readings[channel])
            often = np.bincount(at[read], minlength=log_h.size)
            total = np.bincount(at[read], weights=strip.readings[channel][read], minlength=log_h.size)
            mean[:] = np.where(often > 0, total / np.maximum(often, 1), np.nan)
        return cls(channels, log_h, rows, means, float(np.median(np.bincount(at))))


def out_of_order(strip: Strip) -> Iterator[Notice]:
    """Yield rows whose labels break the run of positions, and readings that stand in the wrong place."""
    yield from _row_order(strip)
    for part in _parts(strip):
        found, mended = misreadings(part.run)
        yield from (part.notice(misreading) for misreading in found)
        backwards = reversal(mended)
        if backwards is not None:
            yield part.runs_backwards(backwards, mended.rows)


def _row_order(strip: Strip) -> Iterator[Notice]:
    """Report rows that break the run of positions; going back for a repeat does not break it."""
    moves = np.diff(strip.position)
    if not moves.any():
        return
    way = np.sign(np.median(moves[moves != 0]))
    small = np.abs(moves) < 0.5 * np.ptp(strip.position)
    for row in np.flatnonzero((np.sign(moves) == -way) & small):
        if strip.position[row + 1] in strip.position[: row + 1]:
            continue
        yield Notice(
            "row-order",
            f"{strip.labels[row + 1]} comes after {strip.labels[row]}, which is out of order. Each row counts as it is"
            " labelled; check that the readings were not shifted.",
            step=int(strip.step_of_row[row + 1]),
        )


@dataclass(frozen=True, eq=False)
class _Part:
    """Channels of a strip that were read at the same steps.

    Attributes:
        strip: the strip.
        channels: their names.
        rows: a row of the strip for each step, ascending log H.
        run: their readings.
    """

    strip: Strip
    channels: tuple[Channel, ...]
    rows: Steps
    run: Run

    def notice(self, misreading: Misreading) -> Notice:
        """Return in words what is misread and what would mend it."""
        first, last = sorted((misreading.first, misreading.last))
        label = {row: self.strip.labels[self.rows[row]] for row in (first, last)}
        # The file as a rule lists the most exposed step first.
        both = _both(label[last], label[first])
        of = [self.channels[c] for c in misreading.channels]
        where = "" if len(of) == len(self.channels) else f" in {of[0]}"
        if misreading.mend == "exchange rows":
            readings = self.run.readings[list(misreading.channels)]
            off = float(np.abs(readings[:, first] - readings[:, last]).max())
            code = "rows-exchanged"
            text = (
                f"The readings of {both}{where} look exchanged: each fits the curve in the other's place, and is up to"
                f" {off:.2f} off where it stands. Exchange the readings of {both}{where}, or read both again."
            )
        elif misreading.mend == "move row":
            code = "rows-shifted"
            text = (
                f"The readings from {label[last]} to {label[first]}{where} look shifted by one row: what stands at"
                f" {label[misreading.first]} belongs at {label[misreading.last]}, and the rows between move on by one."
                " Read these steps again."
            )
        elif misreading.mend == "exchange channels":
            code, where = "channels-swapped", ""
            text = (
                f"{of[0]} and {of[1]} look swapped from {label[last]} to {label[first]}: both curves run smoothly if"
                " they change places there. Exchange their readings there."
            )
        elif misreading.mend == "drop step":
            code = "read-twice"
            text = (
                f"{label[last]} and {label[first]} read alike, where the strip is steep on both sides: one patch read"
                " twice? If so every later reading belongs one step back; read the strip again from there."
            )
        elif misreading.mend == "displace rows":
            one, other = (self.strip.labels[self.rows[row]] for row in misreading.alike)
            on = misreading.first <= misreading.last
            skipped = (first - 1, first) if on else (last, last + 1)
            gap = _both(*(self.strip.labels[self.rows[row]] for row in skipped[::-1]))
            way = "more" if on else "less"
            code = "rows-displaced"
            text = (
                f"{other} and {one} read alike, and a step looks skipped between {gap}: the readings from {label[last]}"
                f" to {label[first]} belong one step further to the {way} exposed end. Read these steps again."
            )
        else:
            code = "step-skipped"
            text = (
                f"A step looks skipped between {both}: density makes the way of two steps there. If so, every reading"
                f" from {label[first]} on belongs one step further on; read the strip again from there."
            )
        steps = self.strip.step_of_row[self.rows[[first, last]]]
        step = int(steps.max() if misreading.mend == "drop step" else steps.min())
        return Notice(code, text, of[0] if where else None, step)

    def runs_backwards(self, found: Reversal, rows: Steps) -> Notice:
        """Return in words where density runs against the direction of the strip, and that no exchange mends it.

        Args:
            found: where.
            rows: the run's rows that are left after mending.
        """
        word = "falls" if self.strip.kind == "negative" else "rises"
        amount = max(found.amount)
        of = [c for c, a in zip(self.channels, found.amount, strict=True) if a > 0.5 * amount]
        ends = [int(self.rows[rows[row]]) for row in (found.first, found.last)]
        first, last = (self.strip.labels[row] for row in ends)
        cause = "these steps were misread or stand in the wrong order, and no single exchange mends it"
        if found.last == rows.size - 1:
            cause = "the film solarises at its most exposed end, or these steps were misread"
        return Notice(
            "against-direction",
            f"{_listed(of)} density {word} with exposure between {first} and {last} by {amount:.2f}, beyond the scatter"
            f" of the readings: {cause}. The fitted curve is level there; read these steps again.",
            of[0] if len(of) == 1 else None,
            int(self.strip.step_of_row[ends[1]]),
        )


def _parts(strip: Strip) -> Iterator[_Part]:
    """Yield the channels that are read nearly everywhere, together, and each other channel by itself."""
    steps = ReadSteps.of(strip)
    one = ASSUMED_REPEATABILITY if strip.repeatability is None else strip.repeatability
    least = max(DEAD, _MOVES * one)
    alive = np.array([np.nanmax(mean) - np.nanmin(mean) >= least for mean in steps.means], dtype=bool)
    often = np.where(alive, np.isfinite(steps.means).sum(axis=1), 0)
    if not alive.any() or not FEWEST <= steps.log_h.size <= _MOST_STEPS:
        return
    usual = float(np.median(np.diff(steps.log_h)))
    gaps = np.maximum(np.diff(steps.log_h) / usual, _CLOSEST)
    position = np.concatenate([[0.0], np.cumsum(gaps)])
    known = "assumed" if strip.repeatability is None else "given"
    exposure = float(np.median(step_uncertainty(strip))) / usual
    well = often >= _WELL_READ * often.max()
    alone = [np.array([channel]) for channel in np.flatnonzero(alive & ~well)]
    for group in (np.flatnonzero(well), *alone):
        at = np.flatnonzero(np.isfinite(steps.means[group]).all(axis=0))
        if at.size < FEWEST:
            continue
        readings = Plausibility(
            steps.means[np.ix_(group, at)], position[at], one / math.sqrt(steps.repeats), _FREEDOM[known]
        )
        yield _Part(
            strip,
            tuple(steps.channels[channel] for channel in group),
            steps.rows[at],
            Run(readings, np.arange(at.size), strip.wedge is not None, exposure, usual, sign_of(strip.kind)),
        )


def _both(one: str, other: str) -> str:
    """Return two labels as a person would say them: "steps 14 and 15", "EI 25 and EI 50"."""
    if one.startswith("step ") and other.startswith("step "):
        return f"steps {one.removeprefix('step ')} and {other.removeprefix('step ')}"
    return f"{one} and {other}"


def _listed(words: list[Channel]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
