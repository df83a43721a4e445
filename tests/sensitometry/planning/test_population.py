"""The films that a guess allows."""

from __future__ import annotations

import numpy as np
import pytest

from curves.errors import StripError
from curves.sensitometry.core.units import STOP
from curves.sensitometry.planning.population import (
    BEYOND_SPEED_POINT,
    DRAWS,
    PRIORS,
    CurveEnds,
    FilmGuess,
    Maker,
    ends_of,
)

SLIDE = FilmGuess("reversal", "transparency", 100.0, 0.0, colour=False)
NEGATIVE = FilmGuess("negative", "black-and-white negative", 100.0, 0.0, colour=False)


def test_the_standards_place_the_curve_of_a_film_of_100() -> None:
    # ISO 2240: 10 / S lux-seconds at the mean of T and S; ISO 6: 0.8 / S at the speed point (both from memory).
    assert SLIDE.anchor == pytest.approx(-1.0)
    assert NEGATIVE.anchor == pytest.approx(-2.0969, abs=1e-4)


def test_without_errors_only_the_lengths_of_the_curve_vary() -> None:
    ends = ends_of(SLIDE, 0.0, seed=0)
    # Calculated from the limits: half of 0.55 to 1.25, 0.45 in the mean, and the medians of what lies beyond,
    # sqrt(0.15 * 0.80) = 0.346 and sqrt(0.15 * 1.00) = 0.387.
    assert np.median(ends.most) == pytest.approx(-1.0 + 0.45 + 0.346, abs=0.03)
    assert np.median(ends.least) == pytest.approx(-1.0 - 0.45 - 0.387, abs=0.03)


def test_a_negative_is_needed_as_far_as_its_contrast_is_reckoned() -> None:
    ends = ends_of(NEGATIVE, 0.0, seed=0)
    assert ends.most == pytest.approx(np.full(DRAWS, NEGATIVE.anchor + BEYOND_SPEED_POINT))
    # Calculated: 95 % of toes are 0.08 to 0.60 long, and the speed point of a film of 100 lies at -2.097.
    assert np.quantile(ends.least, [0.025, 0.975]) == pytest.approx((-2.697, -2.177), abs=0.01)


def test_a_wrong_box_speed_moves_the_whole_curve() -> None:
    right, wrong = (ends_of(FilmGuess("negative", "black-and-white negative", 100.0, off, colour=False), 0.0, 0)
                    for off in (0.0, 2.0))  # fmt: skip
    assert np.ptp(right.most) == pytest.approx(0.0)
    # Two stops either way, evenly: the ends of four stops, a standard deviation of 4 / sqrt(12).
    assert np.ptp(wrong.most) == pytest.approx(4.0 * STOP, abs=0.01)
    assert wrong.most.std() == pytest.approx(4.0 * STOP / 12.0**0.5, abs=0.005)


def test_an_exposure_that_errs_moves_the_curve_as_well() -> None:
    assert ends_of(NEGATIVE, 0.5, 0).most.std() == pytest.approx(0.5 * STOP, rel=0.03)


def test_layers_that_lie_apart_lengthen_the_curve() -> None:
    film: Maker = "colour negative"
    one, three = (ends_of(FilmGuess("reversal", film, 80.0, 0.0, colour=c), 0.0, 0) for c in (False, True))
    assert float(np.mean(three.most - three.least) - np.mean(one.most - one.least)) == pytest.approx(0.25, abs=0.01)


def test_longer_curves_are_longer_at_both_ends() -> None:
    usual, longer = (ends_of(SLIDE, 0.0, 0, longer=factor) for factor in (1.0, 1.5))
    assert (longer.most - SLIDE.anchor) == pytest.approx(1.5 * (usual.most - SLIDE.anchor))
    assert (longer.least - SLIDE.anchor) == pytest.approx(1.5 * (usual.least - SLIDE.anchor))


def test_the_same_seed_gives_the_same_films() -> None:
    assert np.array_equal(ends_of(SLIDE, 0.1, 3).most, ends_of(SLIDE, 0.1, 3).most)
    assert not np.array_equal(ends_of(SLIDE, 0.1, 3).most, ends_of(SLIDE, 0.1, 4).most)


def test_a_process_that_the_film_was_not_made_for_widens_the_guess() -> None:
    for (film, kind), prior in PRIORS.items():
        guess = FilmGuess(kind, film, 80.0)
        assert guess.own_process == (prior.within == 0.0)
        assert guess.own_process or prior.faster < 0.0


def test_a_chance_is_the_share_of_films_that_lie_inside() -> None:
    ends = CurveEnds(np.array([-2.0, -1.0, -1.5, -3.0]), np.array([0.0, 1.0, 0.5, 0.0]))
    assert ends.chance(-2.0, 0.5) == 0.5
    assert ends.chance(-3.0, 1.0) == 1.0
    assert ends.chance(-0.5, 1.0) == 0.0


@pytest.mark.parametrize(("box", "off"), [(0.0, 1.0), (-80.0, 1.0), (80.0, -1.0), (80.0, 11.0)])
def test_a_guess_that_no_film_can_be_is_refused(box: float, off: float) -> None:
    with pytest.raises(StripError):
        FilmGuess("reversal", "transparency", box, off)


def test_curves_have_a_length() -> None:
    with pytest.raises(StripError, match="factor of length"):
        ends_of(SLIDE, 0.1, 0, longer=0.0)
