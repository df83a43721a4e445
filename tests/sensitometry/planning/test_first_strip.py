"""Where first strips lie, how many there are, and their chance."""

from __future__ import annotations

import numpy as np
import pytest

from curves.errors import StripError
from curves.sensitometry.core.units import STOP
from curves.sensitometry.planning.first_strip import (
    MOST_FRAMES,
    MOST_STRIPS,
    OVERLAP,
    Expectation,
    Layout,
    best_centre,
    layout_of_frames,
    layouts_by_count,
    layouts_of_strips,
    span_of,
)
from curves.sensitometry.planning.population import CurveEnds, FilmGuess
from curves.sensitometry.strip.wedge import Wedge

LONG, SHORT = Wedge.nominal(21, 0.15), Wedge.nominal(11, 0.15)


def layout_of_strips(films: Expectation, wedge: Wedge, wanted: float = 0.95) -> Layout:
    return next(layouts_of_strips(films, wedge, wanted))


def expected(off: float) -> Expectation:
    return Expectation.of(FilmGuess("reversal", "transparency", 80.0, off, colour=False), 0.15, seed=0)


def test_a_strip_lies_in_the_middle_of_the_places_that_hold_every_film() -> None:
    # Calculated: films from -1.0 to 1.0 and -1.4 to 0.6 fit 3.0 of log H about -0.4 ... 0.1: the middle is -0.2.
    ends = CurveEnds(np.array([-1.0, -1.4]), np.array([1.0, 0.6]))
    centre, chance = best_centre(ends, 3.0)
    assert centre == pytest.approx(-0.2, abs=0.01)
    assert chance == 1.0


def test_films_longer_than_the_strip_are_left_out_of_the_search() -> None:
    ends = CurveEnds(np.array([-1.0, -9.0]), np.array([1.0, 9.0]))
    centre, chance = best_centre(ends, 2.4)
    assert centre == pytest.approx(0.0, abs=0.01)
    assert chance == 0.5


def test_a_strip_that_holds_no_film_has_a_chance_of_nothing() -> None:
    centre, chance = best_centre(CurveEnds(np.array([-2.0]), np.array([1.0])), 1.0)
    assert centre == pytest.approx(-0.5)
    assert chance == 0.0


def test_a_better_guess_needs_fewer_strips() -> None:
    counts = [layout_of_strips(expected(off), LONG).count for off in (0.0, 1.0, 2.0, 5.0)]
    assert counts == [1, 1, 2, 2]  # regression: computed by this code


def test_a_shorter_wedge_needs_more_strips() -> None:
    assert layout_of_strips(expected(1.0), SHORT).count > layout_of_strips(expected(1.0), LONG).count


@pytest.mark.parametrize("off", [0.0, 2.0, 5.0])
@pytest.mark.parametrize("wedge", [LONG, SHORT])
def test_neighbouring_strips_overlap_by_two_stops(wedge: Wedge, off: float) -> None:
    found = layout_of_strips(expected(off), wedge)
    assert span_of(wedge) - found.apart * STOP >= OVERLAP - 1e-9
    assert found.length == pytest.approx(span_of(wedge) + (found.count - 1) * found.apart * STOP)


@pytest.mark.parametrize("wanted", [0.5, 0.8, 0.95, 0.99])
def test_the_chance_asked_for_is_reached(wanted: float) -> None:
    films = expected(3.0)
    for found in (layout_of_strips(films, LONG, wanted), layout_of_frames(films, wanted)):
        assert (films.chance(*found.ends).value or 0.0) >= wanted


def test_strips_as_close_together_as_the_chance_allows() -> None:
    films, found = expected(2.0), layout_of_strips(expected(2.0), LONG)
    closer = found.length - STOP
    assert found.count == 2
    assert best_centre(films.ends, closer)[1] < 0.95


def test_where_nothing_reaches_the_chance_the_most_strips_are_planned() -> None:
    films = Expectation.of(FilmGuess("reversal", "transparency", 80.0, 10.0), 0.15, seed=0)
    assert layout_of_strips(films, Wedge.nominal(9, 0.15), 0.99).count == MOST_STRIPS
    assert layout_of_frames(films, 0.999).count == MOST_FRAMES


def test_a_wedge_too_short_to_overlap_with_itself_is_refused() -> None:
    with pytest.raises(StripError, match=r"the wedge spans 2\.0 stops"):
        layout_of_strips(expected(1.0), Wedge.nominal(5, 0.15))


@pytest.mark.parametrize("wrong", [0.0, 1.0, 95.0])
def test_a_chance_is_a_share(wrong: float) -> None:
    with pytest.raises(StripError, match="chance"):
        layout_of_strips(expected(1.0), LONG, wrong)


def test_the_middles_of_strips_lie_about_the_centre_the_most_exposed_first() -> None:
    found = Layout(3, 2, -1.0, 0.9, 4.0)
    assert found.middles == pytest.approx((-1.0 + 2 * STOP, -1.0, -1.0 - 2 * STOP))
    assert found.ends == (-3.0, 1.0)


def test_a_chance_shows_what_longer_and_shorter_curves_make_of_it() -> None:
    films = expected(1.0)
    found = films.chance(*layout_of_strips(films, LONG).ends)
    assert found.low is not None
    assert found.value is not None
    assert found.high is not None
    assert found.low < found.value < found.high


def test_the_ends_expected_are_those_of_95_per_cent_of_films() -> None:
    films = expected(1.0)
    end = films.end(most_exposed=True)
    assert end.low is not None
    assert end.high is not None
    assert np.mean((films.ends.most >= end.low) & (films.ends.most <= end.high)) == pytest.approx(0.95, abs=0.002)


def test_each_strip_more_adds_to_the_chance() -> None:
    found = layouts_by_count(expected(5.0), SHORT, 0.95, 5)
    assert [each.count for each in found] == [1, 2, 3, 4, 5]
    chances = [each.chance for each in found]
    assert chances == sorted(chances)
    # Regression: five short strips do not reach the chance, so all lie as far apart as they may.
    assert chances[-1] < 0.95
    assert {each.apart for each in found[1:]} == {2}


def test_a_number_of_strips_that_reaches_the_chance_lies_as_close_as_it_may() -> None:
    films = expected(2.0)
    assert layouts_by_count(films, LONG, 0.9, 2)[1] == layout_of_strips(films, LONG, 0.9)
