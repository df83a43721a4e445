"""A filter measured on film, and a stack put to the test: curves of known shape, moved by known amounts."""

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from curves import Choices, analyse, load_strip
from curves.errors import StripError
from curves.sensitometry.core.units import CHANNELS, LAYERS, STOP
from curves.sensitometry.filters.densities import filter_of
from curves.sensitometry.filters.from_strips import MeasuredFilter, layer_shift, measure_filter
from curves.sensitometry.filters.prediction_check import PredictionCheck, check_stack
from curves.sensitometry.strip.exposure import Camera, Contact
from curves.sensitometry.strip.metering import FilterUsed
from curves.sensitometry.strip.strip import Patches, Strip
from curves.sensitometry.strip.wedge import Wedge
from curves.sensitometry.uncertainty.ensemble import Ensemble
from curves.sensitometry.uncertainty.results import Analysis
from tests.sensitometry.shapes import exact
from tests.simulate import FOLDER, NOMINAL, Film, scenarios

CHOICES = Choices(draws=250, most_draws=0)
MOVE = {"red": 0.06, "green": 0.24, "blue": 0.55}


def moved(film: Film, by: dict[str, float], *, ceiling: float = 0.0, steeper: float = 1.0) -> Film:
    """Return the film as it answers behind a filter, and developed to another ceiling or contrast."""
    layers = {
        c: replace(
            layer,
            ceiling=layer.ceiling + ceiling,
            emulsions=tuple(replace(e, centre=e.centre + by[c], spread=e.spread / steeper) for e in layer.emulsions),
        )
        for c, layer in film.layers.items()
    }
    return Film(film.kind, layers)


def strip(film: Film | None = None, seed: int = 1) -> Strip:
    """Return one reading of the demo strip, of the demo film or of another."""
    scenario = scenarios()["heron-reversal"]
    scenario = scenario if film is None else replace(scenario, film=film)
    read, patches = scenario.readings(seed), scenario.patch_readings(seed)
    by_name = {name: {c: values[c] for c in CHANNELS} for name, values in patches.items()}
    light = Contact(float(scenario.exposure["lux"]), float(scenario.exposure["seconds"]))
    return Strip(
        scenario.name, "reversal", "status A", light, scenario.positions, {c: read[c] for c in CHANNELS},
        Wedge(NOMINAL, np.full(NOMINAL.size, 0.005)), patches=Patches(**by_name), repeatability=scenario.noise,
    )  # fmt: skip


@cache
def bare() -> Analysis:
    return analyse(strip(), CHOICES)


@cache
def filtered(ceiling: float = 0.0, steeper: float = 1.0) -> Analysis:
    film = moved(scenarios()["heron-reversal"].film, MOVE, ceiling=ceiling, steeper=steeper)
    return analyse(strip(film, seed=77), CHOICES)


@cache
def measured(ceiling: float = 0.0) -> MeasuredFilter:
    return measure_filter(bare(), filtered(ceiling), CHOICES, meter_stops=1.0)


@pytest.mark.parametrize("channel", LAYERS)
def test_the_density_to_each_layer_is_recovered(channel: str) -> None:
    found = next(s for c, s in measured().layers.items() if c == channel)
    assert found.density.half_width is not None
    # Three half-widths of one reading of a strip; how often the interval itself holds, tests.bench.filters counts.
    assert found.density.value == pytest.approx(MOVE[channel], abs=3 * found.density.half_width)
    assert found.density.half_width < 0.055
    assert found.pure
    assert found.misfit < 0.03


def test_what_two_strips_share_cancels_and_what_they_do_not_stays() -> None:
    # One curve against itself: the scatter of two exposures, 0.05 stop each, and neither light, wedge nor meter.
    again = math.sqrt(2.0) * 0.05 * STOP
    same = measure_filter(bare(), bare(), CHOICES)
    for shift in same.layers.values():
        assert shift.density.value == pytest.approx(0.0)
        assert shift.rows[1:].std() == pytest.approx(again, rel=0.02)
    # Two readings: their scatter joins it.
    assert again < measured().uncertainty < math.hypot(again, 0.01)
    alone = bare().channels["green"].ensemble.log_h_error.std()
    assert alone > 0.03
    assert measured().notes == (
        "The two strips are taken to have had the same light for the same time, within 0.07 stop (standard"
        " uncertainty, assumed).",
    )


def test_layers_move_together_where_one_exposure_differs_from_the_other() -> None:
    # What two exposures differ by is common to the layers: the cast between layers does not carry it.
    rows = {c: s.rows[1:] for c, s in measured().layers.items()}
    assert rows["green"].std() > 0.019
    assert (rows["green"] - rows["red"]).std() < 0.009


def test_an_exposure_stated_to_be_exact_scatters_by_nothing() -> None:
    one, other = (analyse(exactly_exposed(a.strip), CHOICES) for a in (bare(), filtered()))
    found = measure_filter(one, other, CHOICES)
    assert 0.002 < found.uncertainty < 0.01
    assert found.notes == ("The two strips are assumed to have had exactly the same light for exactly the same time.",)


def exactly_exposed(one: Strip) -> Strip:
    """Return a strip whose record states an exposure without error."""
    return replace(one, exposure=replace(one.exposure, uncertainty_stops=0.0))


def test_strips_with_other_numbers_of_draws_are_compared_row_by_row() -> None:
    more = analyse(filtered().strip, replace(CHOICES, draws=500))
    found = measure_filter(bare(), more, CHOICES)
    for c in LAYERS:
        assert found.layers[c].density.value == pytest.approx(measured().layers[c].density.value)
        assert found.layers[c].rows.size == 251


def test_another_development_is_no_pure_shift() -> None:
    bent = measured(0.35).layers
    assert not any(s.pure for s in bent.values())
    assert all(s.contrast > 1.03 for s in bent.values())


def test_the_meter_is_corrected_by_what_the_film_sees_more() -> None:
    found = measured()
    assert found.film_stops.value is not None
    assert found.meter_stops == 1.0
    assert found.film_stops.low is not None
    assert found.film_stops.high is not None
    assert found.correction.value == pytest.approx(found.film_stops.value - 1.0)
    assert found.correction.low == pytest.approx(found.film_stops.low - 1.0)
    assert found.correction.high == pytest.approx(found.film_stops.high - 1.0)
    # The eye of a slide sees mostly green and red: the film's cost lies between their densities.
    assert MOVE["red"] < found.film_stops.value * STOP < MOVE["green"]


def test_without_a_meter_factor_the_correction_has_a_reason() -> None:
    found = measure_filter(bare(), filtered(), CHOICES)
    assert found.correction.value is None
    assert found.correction.why == "the filter's factor for the meter is not given"


def _relative(analysis_seed: int, film: Film, ei: float, used: tuple[FilterUsed, ...] = ()) -> Strip:
    """Return the demo film photographed by a meter set to ``ei``, its exposures such as the film needs."""
    one = strip(film, analysis_seed)
    exposure = Camera(ei, 8, uncertainty_stops=0.1)
    assert isinstance(one.exposure, Contact)
    log_h = exposure.log_h(one.position, one.wedge) + 1.0 - np.log10(ei)
    rng = np.random.default_rng(analysis_seed)
    readings = {c: np.round(film.density(c, log_h) + 0.01 * rng.standard_normal(log_h.shape), 2) for c in LAYERS}
    patches = Patches(fully_exposed={c: film.patch("fully_exposed", c) for c in LAYERS})
    return Strip(
        "photographed", "reversal", "status A", exposure, one.position, readings, one.wedge,
        patches=patches, repeatability=0.01, filters=used,
    )  # fmt: skip


def test_strips_metered_at_different_indexes_and_through_the_filter_come_to_the_same() -> None:
    film = scenarios()["heron-reversal"].film
    one = analyse(_relative(5, film, 8.0), CHOICES)
    # The meter looks through the filter, takes it for 0.3, and gives that much more light: the film behind the
    # filter gets what is metered less what the filter holds back beyond that.
    seen = {c: f - 0.3 for c, f in MOVE.items()}
    through = _relative(6, moved(film, seen), 6.0, (FilterUsed("orange", "through"),))
    other = analyse(through, CHOICES)
    found = measure_filter(one, other, CHOICES, meter_stops=0.3 / STOP)
    for c in LAYERS:
        assert found.layers[c].density.value == pytest.approx(MOVE[c], abs=0.03)
    # Two meterings of a tenth of a stop each are in the interval: 1.96 * 0.30103 * 0.1414 either way.
    assert found.layers["green"].density.half_width == pytest.approx(0.083, rel=0.25)
    with pytest.raises(StripError) as caught:
        measure_filter(one, other, CHOICES)
    assert str(caught.value) == (
        "photographed: the meter looked through the filter, and the filter's factor for the meter is not given; needed:"
        " the factor between its readings without and with the filter.\nTry: give meter_factor=2.5."
    )


def test_strips_that_cannot_be_compared_are_refused_in_words() -> None:
    other = analyse(load_strip(FOLDER / "heron-negative.toml"), CHOICES)
    with pytest.raises(StripError) as caught:
        measure_filter(bare(), other, CHOICES)
    assert str(caught.value) == (
        "Heron 80, negative, its own process: kind is negative, but reversal on heron-reversal; needed: two"
        " strips of one film, exposed,"
        " processed and read alike, one without and one with the filter."
    )


def checked(actual: Analysis, densities: dict[str, float], *, uncertainty: float = 0.005) -> PredictionCheck:
    one = filter_of("amber", [densities[c] for c in LAYERS], "nominal", uncertainty=uncertainty)
    return check_stack(bare(), actual, [one], (0,), CHOICES)


def test_a_prediction_that_holds_is_told_to_hold() -> None:
    found = checked(filtered(), MOVE, uncertainty=0.01)
    assert found.says == ("The prediction holds: nothing differs by more than its uncertainty.",)
    assert all(tone.held for tone in found.tones.values())
    assert found.ei_miss.value == pytest.approx(0.0, abs=0.15)
    for tone in found.tones.values():
        assert tone.measured.amount.value == pytest.approx(tone.predicted.amount.value, abs=0.06)


def test_a_miss_in_one_layer_points_to_a_filters_density() -> None:
    found = checked(filtered(), {**MOVE, "blue": 0.35})
    assert len([s for s in found.says if s.startswith("A filter's density")]) == 1
    assert "'amber' (nominal): measure it on film" in found.says[0]
    assert not found.tones["grey"].held
    assert found.shift_misses["blue"].value == pytest.approx(0.20, abs=0.02)


def test_a_miss_in_all_layers_alike_points_to_the_meter() -> None:
    found = checked(filtered(), {c: f - 0.15 for c, f in MOVE.items()})
    (said,) = found.says
    assert said.startswith("The meter or the exposure: all layers alike needed 0.5 stops more than the drawer says.")


def test_a_change_of_dmax_and_contrast_points_to_drift() -> None:
    found = checked(filtered(ceiling=0.35), MOVE)
    # The Dmin of one layer, misread by 0.03 in this strip, may be named before it.
    assert any(s.startswith("Drift: a filter cannot change D") and "Dmax of red by +0.3" in s for s in found.says)
    assert any(s.startswith("Drift: every layer's contrast changed in one direction (red +") for s in found.says)


def test_one_layer_of_another_shape_points_to_crossover() -> None:
    film = scenarios()["heron-reversal"].film
    odd = moved(film, MOVE)
    steep = moved(film, MOVE, steeper=1.25)
    mixed = Film("reversal", {**odd.layers, "blue": steep.layers["blue"]})
    found = checked(analyse(strip(mixed, seed=78), CHOICES), MOVE)
    assert any(s.startswith("Crossover: a shift does not explain blue;") for s in found.says)


def ladder(trend: float, bend: float, top: float = 2.5) -> Ensemble:
    """Return a curve of slope -1 that a shift of 0.2, a trend and a bend along its density move in log H."""
    density = np.linspace(0.2, top, 2001)
    along = 2.0 * (density - 0.2) / (2.5 - 0.2) - 1.0
    log_h = -density + 0.2 + trend * along + bend * (along**2 - 1.0 / 3.0)
    grid = np.linspace(-2.4, 0.3, 2001)
    return exact(grid, np.interp(-grid, -log_h, density))


@pytest.mark.parametrize(
    ("trend", "bend", "bent"),
    [(0.02, 0.08, True), (-0.02, -0.08, True), (0.04, -0.02, False), (-0.04, 0.02, False), (-0.02, 0.08, True)],
)
def test_curves_that_differ_more_in_shape_than_in_contrast_are_bent(trend: float, bend: float, bent: bool) -> None:
    found = layer_shift(ladder(0.0, 0.0), ladder(trend, bend), 0.0)
    assert found.density.value == pytest.approx(0.0, abs=0.006)
    assert found.bent is bent
    # By hand: log H gains the trend over half the range of 2.3, on a slope of one.
    assert found.contrast == pytest.approx(1.0 / (1.0 - trend / 1.15), rel=0.01)
    assert np.isnan(found.chance)
    assert found.pure


def test_a_shift_is_found_with_the_offset_of_the_two_exposures_and_without_misfit() -> None:
    moved_by = replace(ladder(0.0, 0.0), grid=ladder(0.0, 0.0).grid + 0.35)
    found = layer_shift(ladder(0.0, 0.0), moved_by, -0.1)
    assert found.density.value == pytest.approx(0.25, abs=1e-6)
    assert found.misfit == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize(("top", "enough"), [(0.499, False), (0.501, True)])
def test_two_curves_must_have_0_30_of_density_in_common(top: float, enough: bool) -> None:
    bare_curve, short = ladder(0.0, 0.0), ladder(0.0, 0.0)
    short = replace(short, density=np.clip(short.density, 0.2, top))
    if enough:
        assert layer_shift(bare_curve, short, 0.0).density.value == pytest.approx(0.0, abs=0.01)
    else:
        with pytest.raises(StripError, match=r"share only 0\.30 of density"):
            layer_shift(bare_curve, short, 0.0)


# Regression: 0.0074, computed by this code; nothing where all of the difference lies in the part that is left out.
@pytest.mark.parametrize(("share", "misfit"), [(0.03, 0.0), (0.08, 0.0074)])
def test_the_outer_twenty_fifth_of_the_common_range_does_not_count_for_a_shift(share: float, misfit: float) -> None:
    # From 0.2 to 2.5 there are 2.3 of density: a curve that leaves the other only nearer to its ends is as good.
    bare_curve = ladder(0.0, 0.0)
    density = bare_curve.density[0]
    inside = np.clip(density, 0.2 + 2.3 * share, 2.5 - 2.3 * share)
    # Beyond, the curve falls half as steeply and ends at the same densities outside of the grid.
    odd = np.clip(inside + 0.5 * (density - inside), 0.2, 2.5)
    found = layer_shift(bare_curve, replace(bare_curve, density=odd[None, :]), 0.0)
    assert found.misfit == pytest.approx(misfit, abs=5e-4)


def with_rows(*curves: Ensemble) -> Ensemble:
    """Return an ensemble whose estimate is the first curve and whose draws are the others."""
    rows = np.vstack([curve.density for curve in curves])
    none = np.zeros(len(curves))
    return replace(
        curves[0],
        density=rows,
        gradient=np.vstack([curve.gradient for curve in curves]),
        level_error=none,
        log_h_error=none,
        meter_error=none,
        constant_error=none,
        touch_error=none,
        left_to_move=np.zeros((len(curves), 2)),
    )


@pytest.mark.parametrize(("trend", "pure"), [(0.0, True), (0.004, True), (0.1, False)])
def test_a_shift_is_pure_if_the_draws_explain_how_the_estimate_departs_from_it(trend: float, pure: bool) -> None:
    # The draws scatter by 0.005 in trend and in bend; the first of them leans against the estimate.
    scatter = 0.005 * np.random.default_rng(1).standard_normal((40, 2))
    scatter[0] = (-0.005, 0.0)
    straight_on = ladder(0.0, 0.0)
    found = layer_shift(
        with_rows(*[straight_on] * 41), with_rows(ladder(trend, 0.0), *(ladder(*each) for each in scatter)), 0.0
    )
    assert found.pure is pure
    assert found.chance == pytest.approx({0.0: 1.0, 0.1: 0.0}.get(trend, 0.75), abs=0.25)


def test_a_strip_checked_against_itself_differs_by_nothing() -> None:
    same = analyse(exactly_exposed(bare().strip), CHOICES)
    found = check_stack(same, same, [], (), CHOICES)
    assert found.says == ("The prediction holds: nothing differs by more than its uncertainty.",)
    assert all(tone.held for tone in found.tones.values())
    assert found.ei_miss.value == pytest.approx(0.0, abs=1e-3)  # the index is found to so much


def test_without_draws_a_prediction_is_compared_by_its_estimate_alone() -> None:
    alone = Choices(draws=0)
    one, other = (analyse(a.strip, alone) for a in (bare(), filtered()))
    found = check_stack(one, other, [filter_of("amber", [MOVE[c] for c in LAYERS], "film")], (0,), alone)
    assert found.ei_miss.value == pytest.approx(0.0, abs=0.15)
    assert found.ei_miss.low is None


def test_a_negative_that_took_a_stop_more_for_the_same_densities_missed_by_a_stop() -> None:
    # By hand: an index of 40 is a whole stop, 3 degrees, below one of 80; the demo film is invented.
    once = load_strip(FOLDER / "heron-negative.toml")
    assert isinstance(once.exposure, Camera)
    twice = replace(once, exposure=replace(once.exposure, ei=40.0))
    one, other = (analyse(s, CHOICES) for s in (once, twice))
    found = check_stack(one, other, [], (), CHOICES)
    assert found.ei_miss.value == pytest.approx(1.0, abs=0.01)
    assert found.ei.value == pytest.approx((found.stack.prediction.ei.value or 0.0) / 2.0, rel=0.01)


def test_of_several_filters_the_least_certain_is_to_be_measured() -> None:
    miss = {**MOVE, "blue": 0.25}
    drawer = [
        filter_of("amber", [miss[c] for c in LAYERS], "film", uncertainty=0.005),
        filter_of("haze", [0.0, 0.0, 0.01], "nominal", uncertainty=0.02),
        filter_of("clear", [0.0, 0.0, 0.0], "film", uncertainty=0.001),
    ]
    said = " ".join(check_stack(bare(), filtered(), drawer, (0, 1, 2), CHOICES).says)
    assert "The least certain filter is 'haze' (nominal): measure it on film." in said


def test_misses_of_a_tone_are_told_against_the_mean_of_the_layers() -> None:
    found = checked(filtered(), {**MOVE, "blue": 0.35})
    misses = [q.value for q in found.tones["grey"].misses.values()]
    assert None not in misses
    # Each layer's miss is counted from the mean of the three, so the three add to nothing.
    assert sum(m for m in misses if m is not None) == pytest.approx(0.0, abs=1e-9)
    assert max(abs(m) for m in misses if m is not None) > 0.03
