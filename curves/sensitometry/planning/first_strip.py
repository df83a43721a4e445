"""The first strips of a film: how many, how far apart, at which exposure, and with what chance.

Strips that overlap hold together what one longer wedge would. The fewest strips are taken that reach the chance asked
for, and of those the closest together, since the more they overlap, the more often one strip alone holds the curve.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from curves.errors import StripError
from curves.sensitometry.core.quantity import ENDS, Quantity
from curves.sensitometry.core.units import STOP
from curves.sensitometry.core.values import Bounds, number
from curves.sensitometry.planning.population import DRAWS, CurveEnds, FilmGuess, ends_of
from curves.sensitometry.strip.wedge import Wedge

WANTED = 0.90
"""The chance that is asked for where nothing else is stated: our own choice [unitless]."""

CHANCE = Bounds(least=0.05, most=0.999)
"""A chance that can be asked for [unitless]."""

OVERLAP = 0.60
"""The least overlap of neighbouring strips, two stops, so that the curves themselves show the offset between them: our
own choice [log10]."""

MOST_STRIPS = 8
"""Strips beyond which the guess is better mended than the plan: our own choice."""

MOST_FRAMES = 25
"""Frames of the longest bracket that is planned: our own choice."""

LENGTHS = (0.85, 1.15)
"""Factors on the lengths of the curves between which a chance is shown: our own choice [unitless]."""

_GRID = 0.01
"""Steps in which the place of a strip is searched [log10]."""


@dataclass(frozen=True)
class Layout:
    """Strips, or frames of a bracket, and where they lie together.

    Attributes:
        count: strips, or frames [unitless].
        apart: from one to the next [stops].
        centre: log H of the middle of all of them [log10 lux-seconds].
        chance: the chance that they hold both ends of the curve, if they lie there [unitless].
        length: log H from the least to the most exposed step of all of them [log10].
    """

    count: int
    apart: int
    centre: float
    chance: float
    length: float

    @property
    def ends(self) -> tuple[float, float]:
        """Log H of the least and of the most exposed step of all strips [log10 lux-seconds]."""
        return self.centre - self.length / 2.0, self.centre + self.length / 2.0

    @property
    def middles(self) -> tuple[float, ...]:
        """Log H of the middle of each strip or frame, the most exposed first [log10 lux-seconds]."""
        steps = [(self.count - 1) / 2.0 - i for i in range(self.count)]
        return tuple(self.centre + s * self.apart * STOP for s in steps)


@dataclass(frozen=True, eq=False)
class Expectation:
    """The films that a guess allows: as the population has them, and with all curves shorter and longer.

    Attributes:
        guess: what is known of the film.
        exposure_stops: standard uncertainty of the exposure [stops].
        ends: ends of the curves.
        shorter, longer: the same with the lengths of the curves changed by `LENGTHS`.
    """

    guess: FilmGuess
    exposure_stops: float
    ends: CurveEnds
    shorter: CurveEnds
    longer: CurveEnds

    @classmethod
    def of(cls, guess: FilmGuess, exposure_stops: float, seed: int) -> Expectation:
        """Return the films that a guess allows.

        Args:
            guess: what is known of the film.
            exposure_stops: standard uncertainty of the exposure that the strip will get [stops].
            seed: of the draws.
        """
        made = [ends_of(guess, exposure_stops, seed, longer=factor) for factor in (1.0, *LENGTHS)]
        return cls(guess, exposure_stops, *made)

    def chance(self, least: float, most: float) -> Quantity:
        """Return the chance that both ends of the curve lie between two log H [log10 lux-seconds] -> [unitless].

        Counting scatters by a third of a per cent; the interval is wider. Its ends are the chances if all curves are
        longer and shorter than the population has them.
        """
        found = [each.chance(least, most) for each in (self.ends, self.shorter, self.longer)]
        note = f"interval: all curves {LENGTHS[1] - 1.0:.0%} longer to {1.0 - LENGTHS[0]:.0%} shorter; {DRAWS} films"
        return Quantity(found[0], min(found), max(found), "estimated", note=note)

    def end(self, *, most_exposed: bool) -> Quantity:
        """Return the place expected for one end of the curve, and 95 % of the films about it [log10 lux-seconds]."""
        rows = self.ends.most if most_exposed else self.ends.least
        low, middle, high = (float(x) for x in np.quantile(rows, (ENDS[0], 0.5, ENDS[1])))
        return Quantity(middle, low, high, "estimated", note="95 % of the films that the guess allows")


def best_centre(ends: CurveEnds, length: float) -> tuple[float, float]:
    """Return the middle log H at which a span of log H holds most films, and their share.

    Where a whole run of places is as good, its middle is taken: there an error of the exposure costs least.

    Args:
        ends: ends of the curves.
        length: log H that the span covers [log10].
    """
    held = ends.most - ends.least <= length
    # A film is held while the middle lies between these two.
    first, last = np.sort((ends.most - length / 2.0)[held]), np.sort((ends.least + length / 2.0)[held])
    if first.size == 0:
        return float(np.median(ends.most + ends.least)) / 2.0, 0.0
    grid = np.arange(first[0], last[-1] + _GRID, _GRID)
    count = np.searchsorted(first, grid, side="right") - np.searchsorted(last, grid, side="left")
    # Places within half a per cent of the best count as good: counting alone scatters by a third of a per cent.
    good = grid[count >= count.max() - 0.005 * ends.most.size]
    centre = float(good.mean())
    return centre, ends.chance(centre - length / 2.0, centre + length / 2.0)


def layouts_of_strips(expected: Expectation, wedge: Wedge, wanted: float) -> Iterator[Layout]:
    """Yield the layouts that hold both ends of the curve with a chance, the fewest and closest strips first.

    Args:
        expected: the films that the guess allows.
        wedge: the wedge at hand.
        wanted: the chance asked for [unitless]; where no layout reaches it, that of most strips comes alone.

    Raises:
        StripError: the wedge is too short to overlap with itself.
    """
    number(wanted, "chance", CHANCE)
    reached = False
    for count in range(1, MOST_STRIPS + 1):
        for layout in _of_count(expected, wedge, count):
            if layout.chance >= wanted:
                reached = True
                yield layout
    if not reached:
        yield layout


def layouts_by_count(expected: Expectation, wedge: Wedge, wanted: float, most: int) -> tuple[Layout, ...]:
    """Return the layout of each number of strips up to ``most``: the closest that reaches a chance, or the furthest.

    Args:
        expected: the films that the guess allows.
        wedge: the wedge at hand.
        wanted: the chance asked for [unitless].
        most: the greatest number of strips.
    """
    found = []
    for count in range(1, most + 1):
        layouts = list(_of_count(expected, wedge, count))
        found.append(next((each for each in layouts if each.chance >= wanted), layouts[-1]))
    return tuple(found)


def _of_count(expected: Expectation, wedge: Wedge, count: int) -> Iterator[Layout]:
    """Yield the layouts of a number of strips where they hold most films, the closest together first."""
    span = span_of(wedge)
    furthest = math.floor((span - OVERLAP) / STOP + 1e-9)
    if furthest < 1:
        raise StripError(
            f"the wedge spans {span / STOP:.1f} stops",
            where="wedge",
            needed=f"at least {OVERLAP / STOP + 1:.0f} stops, so that two strips can overlap by {OVERLAP / STOP:.0f}",
            hint="use a longer wedge, or a bracket of a grey card",
            settings=("wedge",),
        )
    for apart in range(1, furthest + 1) if count > 1 else (0,):
        length = span + (count - 1) * apart * STOP
        yield Layout(count, apart, *best_centre(expected.ends, length), length)


def layout_of_frames(expected: Expectation, wanted: float) -> Layout:
    """Return the shortest bracket in whole stops that holds both ends of the curve with a chance.

    Args:
        expected: the films that the guess allows.
        wanted: the chance asked for [unitless]; where `MOST_FRAMES` frames do not reach it, they are returned.
    """
    number(wanted, "chance", CHANCE)
    for count in range(3, MOST_FRAMES + 1, 2):
        length = (count - 1) * STOP
        centre, chance = best_centre(expected.ends, length)
        if chance >= wanted:
            break
    return Layout(count, 1, centre, chance, length)


def span_of(wedge: Wedge) -> float:
    """Return the log H that a wedge covers [log10]."""
    return float(wedge.density.max() - wedge.density.min())


def middle_of(wedge: Wedge) -> float:
    """Return the density in the middle between a wedge's two ends [density]."""
    return float(wedge.density.max() + wedge.density.min()) / 2.0
