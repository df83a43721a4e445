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

from curves.errors import CurvesError, StripError, nearest
from curves.sensitometry.analysis.analyse import analyse, analyse_alone, measure_budgets
from curves.sensitometry.combining.joining import join
from curves.sensitometry.combining.together import common_value
from curves.sensitometry.comparison.numbers import ComparableNumber, NumberKey, comparable_numbers, in_own_unit, scaled
from curves.sensitometry.comparison.pairs import EXPOSED_AGAIN, exposure_scatter
from curves.sensitometry.core.choices import Choices
from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.streams import stream
from curves.sensitometry.core.units import CHANNELS, LAYERS, PATCH_NAMES, STOP, Channel, FloatArray
from curves.sensitometry.next_exposure.possible_film import PossibleFilm, possible_films
from curves.sensitometry.next_exposure.proposals import Proposal, proposals, strip_of, with_patch
from curves.sensitometry.strip.origin import Expected, PlannedNumber, PredictedInterval
from curves.sensitometry.strip.strip import Patches, Strip
from curves.sensitometry.uncertainty.budget import Budget
from curves.sensitometry.uncertainty.results import Analysis
from curves.sensitometry.uncertainty.sources import ASSUMED_METERING, sources_of

FILMS = 19
"""Films that each proposal is tried on: nine in ten of what comes lie between the least and the greatest [unitless]."""

_FEW = 5
"""Films on which the places of a bracket are tried [unitless]."""

_OVERLAP_DRAWS = 50
"""Draws behind the errors of two strips whose overlap places them: enough for the size of an error [unitless]."""

_DRAWS = 250
"""Draws behind each simulated interval; what they scatter by is the same before and after [unitless]."""

FURTHER_OUT = 1.10
"""Distance from the median at which the ends lie, in that of the least and the greatest film: counted, so that nine in
ten of what came lay between, over films of families that the benchmark of planned gains draws [unitless]."""

WORTH = 0.10
"""Share by which an interval must shrink for a proposal to be worth its film: our own choice [unitless]."""

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
    trial = _Trial.of(_reduced(strip, analysis, number.key), number.key, small)
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


@dataclass(frozen=True, eq=False)
class _Trial:
    """The strip as it is analysed beside every proposal: few draws, no more channels than the number needs.

    Attributes:
        strip: the strip.
        key: the number.
        choices: with few draws.
        first: results of the strip.
    """

    strip: Strip
    key: NumberKey
    choices: Choices
    first: Analysis

    @classmethod
    def of(cls, strip: Strip, key: NumberKey, choices: Choices) -> _Trial:
        """Analyse a strip."""
        return cls(strip, key, choices, _analysed(strip, choices))

    def outcome(self, proposal: Proposal, film: PossibleFilm) -> _Outcome | None:
        """Return the number before and after a proposal, if the strip comes from a film.

        None where the film gives no interval afterwards.
        """
        now = scaled(self.first, self.key)
        try:
            if proposal.exposes:
                second = self._second(proposal, film)
                return _Outcome.of(now, combined(self.first, second, self.key), scaled(second, self.key))
            with_more = self._with_filter(proposal, film) if proposal.way == "filter" else self._read(proposal, film)
            return _Outcome.of(now, scaled(_analysed(with_more, self.choices), self.key))
        except CurvesError:
            return None

    def _second(self, proposal: Proposal, film: PossibleFilm) -> Analysis:
        """Return the results of the strip that a proposal exposes."""
        template, origin = strip_of(proposal, self.strip)
        return _analysed(film.exposed(template, origin + self._astray(template, film)), self.choices)

    def _with_filter(self, proposal: Proposal, film: PossibleFilm) -> Strip:
        """Return the strip with its filters as well known as two strips, with and without them, make them."""
        second = self._second(proposal, film)
        rows = [scaled(analysis, self.key).rows for analysis in (self.first, second)]
        if rows[0] is None or rows[1] is None:
            return self.strip
        apart = rows[1] - rows[0] + exposure_scatter(self.first, second, self.choices.seed) / STOP
        # What the two strips do not share leaves the film's factor open; a meter shows its own without error.
        through = [used for used in self.strip.filters if used.metered == "through"]
        each = float(np.nanstd(apart[1:])) / math.sqrt(len(through))
        filters = [replace(f, uncertainty_stops=each) if f in through else f for f in self.strip.filters]
        return replace(self.strip, filters=tuple(filters))

    def _read(self, proposal: Proposal, film: PossibleFilm) -> Strip:
        """Return the strip with what a proposal reads of it."""
        if proposal.patch is not None:
            read = film.patch(proposal.patch, dict.fromkeys(self.strip.readings, 0.0))
            return with_patch(self.strip, proposal.patch, read)
        have = max(1, round(self.strip.position.size / np.unique(self.strip.position).size))
        return film.read_again(self.strip, proposal.readings - have)

    def _astray(self, second: Strip, film: PossibleFilm) -> float:
        """Return the error of a second exposure against its record, counted as the first strip counts log H [log10]."""
        drawn = float(film.rng.standard_normal())
        if not second.metering.metered:
            return math.sqrt(2.0) * EXPOSED_AGAIN * STOP * drawn
        stated = second.exposure.uncertainty_stops
        own = STOP * (ASSUMED_METERING if stated is None else stated) * drawn
        return own - film.exposure_error - (0.0 if self.strip.metering.metered else film.tone_error)


def _analysed(strip: Strip, choices: Choices) -> Analysis:
    """Return the analysis of a strip with all its sources of error drawn, without a budget."""
    return analyse_alone(strip, sources_of(strip), choices)


@dataclass(frozen=True, eq=False)
class _Outcome:
    """A number on one film, on its scale.

    Attributes:
        before: half the width of the interval of the strip at hand; infinite where it has none.
        after: the number with what the proposal adds, which has an interval.
        alone: the number by the further strip alone; None where there is no such strip.
    """

    before: float
    after: Quantity
    alone: Quantity | None

    @classmethod
    def of(cls, before: Quantity, after: Quantity, alone: Quantity | None = None) -> _Outcome | None:
        """Return the outcome on a film; None without an interval afterwards."""
        if after.half_width is None:
            return None
        return cls(math.inf if before.half_width is None else before.half_width, after, alone)


def combined(first: Analysis, second: Analysis, key: NumberKey) -> Quantity:
    """Return one number of two strips of a film, on its scale, as one.

    Indexes that both strips show are combined as `combining.together` combines them; any other number is that of the
    two strips joined into one curve (`combining.joining`).

    Args:
        first, second: results of the strips, with as many draws of the same seed.
        key: the number.

    Raises:
        StripError: the strips cannot be joined.
    """
    known = [scaled(analysis, key) for analysis in (first, second)]
    shown = [quantity for quantity in known if quantity.value is not None]
    if key[0] == "ei" and len(shown) == 2:
        return on_scale(common_value(first, second))
    if first.strip.log_h_unit != second.strip.log_h_unit:
        return shown[0] if shown else Quantity.missing("neither of the strips shows the number")
    few = replace(second.choices, draws=_OVERLAP_DRAWS, most_draws=_OVERLAP_DRAWS)
    joined = join(first.strip, second.strip, choices=few)
    return scaled(_analysed(joined.strip, second.choices), key)


def on_scale(index: Quantity) -> Quantity:
    """Return an index on the scale on which indexes add, as log2, without its rows [stops]."""
    value, low, high = (None if x is None else math.log2(x) for x in (index.value, index.low, index.high))
    return Quantity(value, low, high, index.how)


def _gain(proposal: Proposal, tried: list[_Outcome | None], width: float | None) -> ExpectedGain:
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
