"""The interval that a number can be expected to have after each thing that could come next, by simulation.

1. Films are drawn that the strip leaves possible (`possible_film`): rows of its ensembles.
2. Each film gives the readings of each proposal, with the errors of reading and exposure that the proposal has anew.
3. Those readings are analysed as any strip is. A second strip is combined with the first: rows of one seed carry the
   same errors of wedge, reader, light and meter, so that what the two share is not averaged away.
4. The interval that comes out, held against that of the strip alone with as many draws, tells by how much the interval
   shrinks; the median over the films is expected. One more film is as likely as any of them, so that what comes lies
   between their least and their greatest with a chance of (n - 1) / (n + 1): nine in ten by `FILMS`. The films are
   drawn from the strip as it is known, and what comes lies a little further out: so do the ends that are given.

One exposure against another by the same light is as sure as `comparison.pairs` has it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from curves.errors import StripError, nearest
from curves.sensitometry.analysis.analyse import analyse, measure_budgets
from curves.sensitometry.comparison.numbers import ComparableNumber, NumberKey, comparable_numbers, in_own_unit
from curves.sensitometry.core.choices import Choices
from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.streams import stream
from curves.sensitometry.core.units import CHANNELS, LAYERS, PATCH_NAMES, Channel, FloatArray
from curves.sensitometry.next_exposure.possible_film import PossibleFilm, possible_films
from curves.sensitometry.next_exposure.proposals import Proposal, proposals, strip_of
from curves.sensitometry.next_exposure.trials import Outcome, Trial
from curves.sensitometry.strip.origin import Expected, PlannedNumber, PredictedInterval
from curves.sensitometry.strip.strip import Patches, Strip
from curves.sensitometry.uncertainty.budget import Budget, BudgetLine
from curves.sensitometry.uncertainty.results import Analysis

FILMS = 19
"""Films that each proposal is tried on: nine in ten of what comes lie between the least and the greatest [unitless]."""

_FEW = 5
"""Films on which the places of a bracket are tried [unitless]."""

_DRAWS = 250
"""Draws behind each simulated interval; what they scatter by is the same before and after [unitless]."""

FURTHER_OUT = 1.10
"""Distance from the median at which the ends lie, in that of the least and the greatest film: counted, so that nine in
ten of what came lay between, over films of families that the benchmark of planned gains draws [unitless]."""

WORTH = 0.10
"""Share by which an interval must shrink for a proposal to be worth its film: our own choice [unitless]."""

OF_THE_METER = ("meter", "constant")
"""Sources that are the same for every strip of a film: the meter that the index is meant for, and its constant."""

SURE = 0.90
"""Chance of a number, where the first strip gave none, that is good enough: our own choice [unitless]."""


@dataclass(frozen=True)
class ExpectedGain:
    """The effect that one proposal can be expected to have on a number.

    Attributes:
        proposal: what is done.
        after: the number after it over the possible films, on its scale; None where not half of them give an interval.
        alone: the number by the further strip alone, likewise; None too where the proposal is not a strip of its own.
        gain: share by which the interval shrinks; None where there is none before, or none after [unitless].
        chance: share of the possible films for which the number has an interval afterwards [unitless].
    """

    proposal: Proposal
    after: PredictedInterval | None
    alone: PredictedInterval | None
    gain: float | None
    chance: float

    @property
    def half_width(self) -> float | None:
        """Half the width of the 95 % interval after it, median over the possible films, on the number's scale."""
        return None if self.after is None else self.after.half_width[1]

    @property
    def worth(self) -> bool:
        """True if the interval shrinks by enough, or a number that was missing is likely there."""
        return self.chance >= SURE if self.gain is None else self.gain >= WORTH

    @property
    def rank(self) -> tuple[float, float, float]:
        """Place in a list that begins with what tells most; of equals, with what takes the least film."""
        sure = min(self.chance, SURE)
        width = math.inf if self.half_width is None else self.half_width
        return -sure, width, self.proposal.film_cm + self.proposal.frames


@dataclass(frozen=True, eq=False)
class NextExposure:
    """All that could come after a strip, best first.

    Attributes:
        analysis: results of the strip.
        number: the number that is to be known better.
        half_width: half the width of its 95 % interval now, on its scale; None where it has none.
        gains: the proposals, best first.
        budget: what the interval is made of; None where there is none.
        films: possible films that each proposal was tried on.
    """

    analysis: Analysis
    number: ComparableNumber
    half_width: float | None
    gains: tuple[ExpectedGain, ...]
    budget: Budget | None
    films: int

    @property
    def best(self) -> ExpectedGain | None:
        """The proposal that tells most, or None if none is worth its film."""
        return next((gain for gain in self.gains if gain.worth), None)

    @property
    def of_the_meter(self) -> tuple[BudgetLine, ...]:
        """The parts of the interval that no strip shrinks which has no meter in it: meter in use and constant."""
        lines = () if self.budget is None else self.budget.lines
        return tuple(line for line in lines if line.key in OF_THE_METER)

    @property
    def without_meter(self) -> float | None:
        """Half the width of the interval without those parts, on the number's scale; None where it has none."""
        if self.half_width is None:
            return None
        return self.half_width * math.sqrt(max(0.0, 1.0 - sum(line.share for line in self.of_the_meter)))

    def planned(self, gain: ExpectedGain) -> PlannedNumber:
        """Return the prediction of a further strip, each number in its own unit.

        Raises:
            StripError: the number has no place in a record, or too few films showed it.
        """
        name, channel = self.number.key
        if gain.after is None or (channel is None) != (name == "ei"):
            raise StripError(
                f"no interval of {name} can be expected of a strip",
                where="number",
                needed="the index, or a measure such as gamma, that most films show",
                settings=("number",),
            )
        own, both = (
            None if each is None else PredictedInterval(_shown(self.number.key, each.value), each.half_width)
            for each in (gain.alone, gain.after)
        )
        assert both is not None
        return PlannedNumber(self.analysis.strip.title, name, channel, self.films, own, both)


def _shown(key: NumberKey, values: Expected) -> Expected:
    """Return three values on a number's scale in its own unit."""
    least, middle, greatest = (float(x) for x in in_own_unit(key, np.array(values)))
    return least, middle, greatest


def next_exposure(strip: Strip, name: str, frames: int, choices: Choices, films: int) -> NextExposure:
    """Find what would tell most about a number of a strip, by simulation from what the strip leaves possible.

    Args:
        strip: the strip.
        name: the number by its JSON name, of the channel that decides ("ei", "gamma", "T", "iso_2240"), or of another
            ("red.gamma").
        frames: frames of a bracket, at most.
        choices: choices that the analysis rests on.
        films: possible films that each proposal is tried on.

    Raises:
        StripError: the strip has no such number, or as for `analyse` and `proposals`.
    """
    analysis = analyse(strip, choices)
    number = number_of(analysis, name)
    small = replace(choices, draws=_DRAWS, most_draws=_DRAWS)
    trial = Trial.of(_reduced(strip, analysis, number.key), number.key, small)
    drawn = possible_films(trial.first, films, stream(choices.seed, "next exposure", strip.title))
    width = number.value.half_width

    def gain(proposal: Proposal, some: Sequence[PossibleFilm]) -> ExpectedGain:
        return _gain(proposal, [trial.outcome(proposal, film) for film in some], width)

    every = [p for p in proposals(analysis, frames) if number.key[0] == "ei" or not _counts_elsewhere(p, strip)]
    # The places of a bracket are tried on a few films, the best of each length on all.
    placed: dict[int, list[ExpectedGain]] = {}
    for bracket in (c for c in every if c.way == "bracket"):
        placed.setdefault(bracket.frames, []).append(gain(bracket, drawn[:_FEW]))
    best = [min(some, key=lambda g: g.rank).proposal for some in placed.values()]
    gains = [gain(c, drawn) for c in [*(c for c in every if c.way != "bracket"), *best]]
    ranked = tuple(sorted(gains, key=lambda g: g.rank))
    return NextExposure(analysis, number, width, ranked, _budget(analysis, number, choices), films)


def _counts_elsewhere(proposal: Proposal, first: Strip) -> bool:
    """Return True if a second strip counts log H from elsewhere, so that the two make one index and not one curve."""
    return proposal.exposes and strip_of(proposal, first)[0].log_h_unit != first.log_h_unit


def number_of(analysis: Analysis, name: str) -> ComparableNumber:
    """Return a number of a strip by its JSON name, such as "ei", "gamma", "gamma.red" or "red.gamma".

    Raises:
        StripError: the strip has no such number.
    """
    numbers = comparable_numbers(analysis)
    first, _, second = name.partition(".")
    word, layer = (second, first) if first in CHANNELS else (first, second)
    ways: list[NumberKey] = [(word, c) for c in CHANNELS if c == layer]
    for key in ways if layer else [(word, None), (word, analysis.working_ei.channel)]:
        if key in numbers:
            return numbers[key]
    known = list(dict.fromkeys(key for key, _ in numbers))
    near = nearest(word, known)
    raise StripError(
        f"the strip has no number {name!r}", where="number",
        needed=f"one of {', '.join(known)}; for one channel gamma.red", hint=near, settings=("number",),
    )  # fmt: skip


def _reduced(strip: Strip, analysis: Analysis, key: NumberKey) -> Strip:
    """Return the strip with no more channels than a number is computed from."""
    name, channel = key
    needed: tuple[Channel, ...] = (channel or analysis.working_ei.channel,)
    if name == "iso_5800" or analysis.channels[needed[0]].estimated:
        needed = LAYERS
    patches = {name: {c: d for c, d in getattr(strip.patches, name).items() if c in needed} for name in PATCH_NAMES}
    readings = {c: strip.readings[c] for c in needed}
    return replace(strip, readings=readings, patches=Patches(**patches))


def _gain(proposal: Proposal, tried: list[Outcome | None], width: float | None) -> ExpectedGain:
    """Return the effect that a proposal can be expected to have, from its trials.

    Args:
        proposal: the proposal.
        tried: the outcome on each film; None where there is no interval after.
        width: half the width before, with all draws; None where there is no interval.
    """
    there = [each for each in tried if each is not None]
    # The ratio of two widths from the same draws is surer than either of them.
    scales = [1.0 if width is None else width / each.before for each in there]
    after = _predicted([each.after for each in there], scales, len(tried))
    alone = _predicted([each.alone for each in there], scales, len(tried))
    gain = None if width is None or after is None else 1.0 - after.half_width[1] / width
    return ExpectedGain(proposal, after, alone, gain, len(there) / len(tried))


def _predicted(numbers: Sequence[Quantity | None], scales: Sequence[float], of: int) -> PredictedInterval | None:
    """Return a number over films, its widths times ``scales``; None where not half of ``of`` films give an interval."""
    found = [
        (n.value, n.half_width * s) for n, s in zip(numbers, scales, strict=True) if n and n.half_width is not None
    ]
    if 2 * len(found) < max(of, 1):
        return None
    values, widths = np.array(found, dtype=float).T
    return PredictedInterval(_middle(values), _middle(widths))


def _middle(values: FloatArray) -> Expected:
    """Return the lower end of nine in ten, the median and the upper end, of values over the films."""
    middle = float(np.median(values))
    low, high = (middle + FURTHER_OUT * (float(end) - middle) for end in (values.min(), values.max()))
    return low, middle, high


def _budget(analysis: Analysis, number: ComparableNumber, choices: Choices) -> Budget | None:
    """Return the budget of a number, or None where there is none."""
    name, channel = number.key
    if name == "ei":
        return analysis.working_ei.budget
    try:
        found = measure_budgets(analysis.strip, name, choices)
    except KeyError:
        return None
    return found.get(channel) if channel is not None else next(iter(found.values()), None)
