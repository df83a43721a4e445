"""One proposal tried on one film that a strip leaves possible: read or exposed, analysed, combined with the strip."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from curves.errors import CurvesError
from curves.sensitometry.analysis.analyse import analyse_alone
from curves.sensitometry.combining.joining import join
from curves.sensitometry.combining.together import common_value
from curves.sensitometry.comparison.numbers import NumberKey, scaled
from curves.sensitometry.comparison.pairs import EXPOSED_AGAIN, exposure_scatter
from curves.sensitometry.core.choices import Choices
from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import STOP
from curves.sensitometry.next_exposure.possible_film import PossibleFilm
from curves.sensitometry.next_exposure.proposals import Proposal, strip_of, with_patch
from curves.sensitometry.strip.strip import Strip
from curves.sensitometry.uncertainty.results import Analysis
from curves.sensitometry.uncertainty.sources import ASSUMED_METERING, sources_of

_OVERLAP_DRAWS = 50
"""Draws behind the errors of two strips whose overlap places them: enough for the size of an error [unitless]."""


@dataclass(frozen=True, eq=False)
class Trial:
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
    def of(cls, strip: Strip, key: NumberKey, choices: Choices) -> Trial:
        """Analyse a strip."""
        return cls(strip, key, choices, analysed(strip, choices))

    def outcome(self, proposal: Proposal, film: PossibleFilm) -> Outcome | None:
        """Return the number before and after a proposal, if the strip comes from a film.

        None where the film gives no interval afterwards.
        """
        now = scaled(self.first, self.key)
        try:
            if proposal.exposes:
                second = self._second(proposal, film)
                return Outcome.of(now, combined(self.first, second, self.key), scaled(second, self.key))
            with_more = self._with_filter(proposal, film) if proposal.way == "filter" else self._read(proposal, film)
            return Outcome.of(now, scaled(analysed(with_more, self.choices), self.key))
        except CurvesError:
            return None

    def _second(self, proposal: Proposal, film: PossibleFilm) -> Analysis:
        """Return the results of the strip that a proposal exposes."""
        template, origin = strip_of(proposal, self.strip)
        return analysed(film.exposed(template, origin + self._astray(template, film)), self.choices)

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


def analysed(strip: Strip, choices: Choices) -> Analysis:
    """Return the analysis of a strip with all its sources of error drawn, without a budget."""
    return analyse_alone(strip, sources_of(strip), choices)


@dataclass(frozen=True, eq=False)
class Outcome:
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
    def of(cls, before: Quantity, after: Quantity, alone: Quantity | None = None) -> Outcome | None:
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
    return scaled(analysed(joined.strip, second.choices), key)


def on_scale(index: Quantity) -> Quantity:
    """Return an index on the scale on which indexes add, as log2, without its rows [stops]."""
    value, low, high = (None if x is None else math.log2(x) for x in (index.value, index.low, index.high))
    return Quantity(value, low, high, index.how)
