"""Predictions against films behind filters, from spectra; `tests.bench.filters` does the same for 200 films."""

import functools
import math
from collections.abc import Mapping

import numpy as np
import pytest

from tests import spectral
from tests.bench.filters import Tally, report, run
from tests.simulate import STOP

FILMS = pytest.mark.parametrize("films", [4, pytest.param(8, marks=pytest.mark.slow)])


@functools.cache
def tallies(films: int) -> Mapping[str, Tally]:
    return run(films, draws=150, ranked=1)


@FILMS
def test_film_measured_densities_foretell_index_and_cast(films: int) -> None:
    # The goal for 95 % of films is a sixth of a stop and 0.05; of four films or eight, one may miss.
    tally = tallies(films)["film"]
    assert sum(s > 1 / 6 for s in tally.stops) <= 1
    assert sum(c > 0.05 for c in tally.cast) <= 1


@FILMS
def test_densitometer_densities_foretell_them_less_well(films: int) -> None:
    tally = tallies(films)["densitometer"]
    assert sum(s > 1 / 3 for s in tally.stops) <= 1
    assert sum(c > 0.12 for c in tally.cast) <= 2
    assert np.median(tally.cast) > np.median(tallies(films)["film"].cast)


@FILMS
def test_two_strips_give_a_factor_several_times_better_than_a_spot_meter(films: int) -> None:
    # Common practice: a factor from spot metering a grey card is good to about half a stop.
    factors = tallies(films)["film"].factors
    meter, strips = (float(np.quantile(factors[k], 0.95)) for k in ("a spot meter", "two strips"))
    assert 0.3 < meter < 0.7
    assert strips < 0.15
    assert strips < meter / 3


@pytest.mark.parametrize("source", ["film", "densitometer"])
@FILMS
def test_intervals_hold_as_often_as_they_say(source: str, films: int) -> None:
    # Casts of three layers at three tones of eight films: some 24 independent ones, so that only gross failure shows
    # here. Regression: computed by this code, 0.97 and 1.00.
    held = [h for name, found in tallies(films)[source].held.items() if name.startswith("cast at") for h in found]
    assert len(held) > 6 * films
    assert np.mean(held) > 0.85


@FILMS
def test_the_table_of_the_bench_names_what_it_counts(films: int) -> None:
    lines = report(tallies(films))
    assert lines[0] == f"filters known by film, {films} films and stacks"
    assert any("interval of cast at grey" in line for line in lines)


def test_spectra_of_a_neutral_filter_are_neutral_to_everything() -> None:
    glass = spectral.neutral(0.3)
    film = spectral.SpectralFilm(spectral.random_film(np.random.default_rng(1)).film, spectral.sensitivities())
    assert list(film.sees(glass).values()) == pytest.approx([0.3] * 3)
    assert list(glass.densitometer().values()) == pytest.approx([0.3] * 3)


def test_layers_overlap_and_stacks_do_not_quite_add() -> None:
    seen = spectral.sensitivities()
    assert (np.minimum(seen["green"], seen["red"]).sum() / seen["green"].sum()) > 0.02
    film = spectral.SpectralFilm(spectral.random_film(np.random.default_rng(1)).film, seen)
    one, other = spectral.cc(40.0, "magenta"), spectral.conversion(131.0)
    sums = [film.sees(one)[c] + film.sees(other)[c] for c in spectral.LAYERS]
    both = list(film.sees(spectral.stacked([one, other])).values())
    assert sums != pytest.approx(both, abs=1e-4)
    assert sums == pytest.approx(both, abs=0.03)


def test_a_spectral_filter_of_131_mired_is_two_thirds_of_a_stop_for_the_meter() -> None:
    # Common practice: an orange conversion of about 131 mired has a factor of about two thirds of a stop to a stop.
    stops = spectral.conversion(131.0).to(spectral.METER) / STOP
    assert 0.6 < stops < 1.4
    assert math.isfinite(stops)
