"""Films that a strip leaves possible: what they are on the strip, beyond it, and in new readings."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from curves import load_strip
from curves.sensitometry.analysis.analyse import analyse_alone
from curves.sensitometry.next_exposure.possible_film import LEFT, PossibleCurve, PossibleFilm, possible_films
from curves.sensitometry.uncertainty.results import Analysis
from curves.sensitometry.uncertainty.sources import sources_of, step_uncertainty
from tests.draws import FEW_DRAWS
from tests.simulate import FOLDER

GRID = np.linspace(-1.0, 1.0, 201)
FALLING = PossibleCurve(GRID, 1.0 - 0.5 * GRID, (1.9, 0.3), (-0.5, -0.5), 0.1, 0.01)
"""A straight fall from 1.5 to 0.5 that has 0.4 left to rise and 0.2 left to fall."""


@cache
def of(name: str) -> Analysis:
    """Return the analysis of a demo strip with all its errors and few draws."""
    strip = load_strip(FOLDER / f"{name}.toml")
    return analyse_alone(strip, sources_of(strip), FEW_DRAWS)


def films(name: str, count: int = 8) -> list[PossibleFilm]:
    """Return films that a demo strip leaves possible."""
    return possible_films(of(name), count, np.random.default_rng(1))


def test_a_curve_goes_on_from_the_slope_at_the_end_of_the_strip_to_its_own_end() -> None:
    assert FALLING.at(np.array([-0.5, 0.0, 0.5])) == pytest.approx([1.25, 1.0, 0.75])
    # Beyond, what is left dies away: 0.2 left at a slope of 0.5 falls by 0.2 (1 - exp(-2.5 x)).
    beyond = np.array([0.1, 0.4, 30.0])
    assert FALLING.at(1.0 + beyond) == pytest.approx(0.3 + 0.2 * np.exp(-2.5 * beyond))
    assert FALLING.at(-1.0 - beyond) == pytest.approx(1.9 - 0.4 * np.exp(-1.25 * beyond))
    flat = replace(FALLING, ends=(1.5, 0.5))
    assert flat.at(np.array([-9.0, 9.0])) == pytest.approx([1.5, 0.5])


def test_films_are_rows_of_the_strip_s_ensemble_with_the_errors_of_the_row() -> None:
    found = of("wren-reversal").channels["visual"].ensemble
    for film in films("wren-reversal"):
        row = int(np.abs(found.log_h_error - film.exposure_error).argmin())
        assert row > 0
        assert film.curves["visual"].density == pytest.approx(found.density[row])
        assert film.tone_error == found.tone_error[row]
        assert film.curves["visual"].base == found.patches["base"][row]


def test_an_end_that_the_strip_shows_is_the_end_of_the_row() -> None:
    found = [film.curves["visual"].at(np.array([-8.0, 8.0])) for film in films("wren-reversal", 40)]
    # The demo film has Dmax 3.05 and Dmin 0.08 (tests.simulate); the reader's noise and scale are in each row.
    assert np.mean(found, axis=0) == pytest.approx([3.05, 0.08], abs=0.03)
    assert np.std(found, axis=0).max() < 0.08


def test_an_end_that_the_strip_does_not_show_is_drawn_and_never_below_the_base() -> None:
    ends = []
    for film in films("heron-short", 60):
        curve = film.curves["green"]
        last, slope = curve.density[-1], abs(curve.slopes[1])
        assert curve.base - 1e-9 <= curve.ends[1] < last
        left = (last - curve.ends[1]) / (0.30103 * slope)
        assert left <= LEFT[1] + 1e-6
        ends.append(curve.ends[1])
    assert np.ptp(ends) > 0.2


def test_readings_of_a_film_scatter_as_its_steps_do_and_its_patches_are_its_ends() -> None:
    strip = of("wren-reversal").strip
    film = films("wren-reversal")[1]
    curve = film.curves["visual"]
    off = [film.exposed(strip, 0.0).readings["visual"] - curve.at(strip.log_h) for _ in range(60)]
    flat = np.abs(np.gradient(curve.at(strip.log_h), strip.log_h)) < 0.05
    assert flat.sum() >= 2
    assert np.std([each[flat] for each in off]) == pytest.approx(curve.noise, rel=0.2)
    # On the slope, the wedge's errors of 0.005 add to it.
    steep = np.abs(np.gradient(curve.at(strip.log_h), strip.log_h)) > 1.5
    assert np.std([each[steep] for each in off]) > 1.05 * curve.noise
    read = [film.patch("fully_exposed", {"visual": 0.0})["visual"] for _ in range(200)]
    assert np.mean(read) == pytest.approx(curve.ends[1], abs=4.0 * curve.noise / np.sqrt(200))


def test_more_exposure_moves_the_readings_along_the_curve() -> None:
    strip = of("wren-reversal").strip
    quiet = {c: replace(curve, noise=1e-9) for c, curve in films("wren-reversal")[0].curves.items()}
    film = replace(films("wren-reversal")[0], curves=quiet)
    assert strip.wedge is not None
    exact = replace(strip, wedge=replace(strip.wedge, uncertainty=np.zeros(21)))
    moved = film.exposed(exact, 0.30).readings["visual"]
    assert moved == pytest.approx(quiet["visual"].at(exact.log_h + 0.30), abs=1e-6)


def test_more_readings_stand_beside_those_at_hand_and_lie_about_them() -> None:
    strip = of("wren-reversal").strip
    film = films("wren-reversal")[2]
    more = film.read_again(strip, 2)
    assert more.position.size == 3 * strip.position.size
    read = more.readings["visual"].reshape(3, -1)
    assert (read[0] == strip.readings["visual"]).all()
    # What a step lies off the curve by, its exposure being wrong, is there again: new readings are nearer to the old
    # ones than two independent sets of exposures would be.
    assert np.std(read[1] - read[2]) < 2.0 * film.curves["visual"].noise


def test_each_step_is_off_by_as_much_as_the_record_says_and_alike_at_one_place() -> None:
    strip = of("wren-reversal").strip
    (film,) = films("wren-reversal", 1)
    drawn = np.array([film._step_errors(strip) for _ in range(3000)])
    # The standard deviation of 3000 draws is known to 1.3 %; twenty-one steps are looked at, so 5 %.
    assert drawn.std(axis=0) == pytest.approx(step_uncertainty(strip), rel=0.05)
    assert np.ptp(drawn[:, strip.step_of_row == 3], axis=1).max() == 0.0
