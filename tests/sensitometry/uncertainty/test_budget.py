"""The budget: every source of error reaches the numbers it should, and no other; what is given replaces the assumed."""

import math
from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest

from curves import Choices, analyse, load_strip
from curves.sensitometry.analysis.analyse import analyse_alone, budget_names, in_stops, measure_budgets
from curves.sensitometry.analysis.channels import fit_channels
from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import LAYERS, STOP
from curves.sensitometry.strip.exposure import Camera, Contact, Frames
from curves.sensitometry.strip.metering import FilterUsed
from curves.sensitometry.strip.strip import Patches, Strip
from curves.sensitometry.strip.wedge import Wedge
from curves.sensitometry.uncertainty.budget import Budget, budgets
from curves.sensitometry.uncertainty.intervals import needed_draws
from curves.sensitometry.uncertainty.sources import Errors, sources_of
from tests.draws import NO_DRAWS
from tests.sensitometry.shapes import exact, slide
from tests.simulate import FOLDER, scenarios

QUICK = Choices(draws=500, most_draws=500)
POSITION = np.arange(1.0, 22.0)
GRID = np.linspace(-3.0, 0.0, 241)
LIGHT = Contact(2000.0, 0.02, 0.10, 0.15, evenness_stops=0.03, light="daylight 5500 K")
WEDGE = replace(Wedge.nominal(21, 0.15, uncertainty=0.01, common=0.01), scale_uncertainty=0.005)


def strip(**changed: Any) -> Strip:
    """Return a slide on a contact strip of which every size of error is given, with some of it changed."""
    log_h = LIGHT.log_h(POSITION, WEDGE)
    noise = 0.01 * np.random.default_rng(4).standard_normal(21)
    given = Strip(
        "invented", "reversal", "visual", LIGHT, POSITION,
        {"visual": np.round(slide(log_h, centre=float(log_h.mean())) + noise, 2)}, WEDGE,
        patches=Patches(fully_exposed={"visual": 0.15}, unexposed={"visual": 3.05}), repeatability=0.01,
        reader_zero=0.01, reader_scale=0.01, meter_constant=13.0,
    )  # fmt: skip
    return replace(given, **changed)


@cache
def usual(number: str) -> dict[str, Budget]:
    """Return the budgets of a number of the strip as it is."""
    return measure_budgets(strip(), number, QUICK)


def u_of(of: Strip | None, number: str) -> float:
    (budget,) = (usual(number) if of is None else measure_budgets(of, number, QUICK)).values()
    return budget.u


def parts(of: Strip | None, number: str) -> dict[str, float]:
    (budget,) = (usual(number) if of is None else measure_budgets(of, number, QUICK)).values()
    return {line.key: line.u for line in budget.lines}


@pytest.mark.parametrize("number", budget_names(strip()))
def test_shares_are_positive_sorted_and_sum_to_one(number: str) -> None:
    for budget in usual(number).values():
        shares = [line.share for line in budget.lines]
        assert sum(shares) == pytest.approx(1.0)
        assert min(shares) > 0
        assert shares == sorted(shares, reverse=True)


@pytest.mark.parametrize("number", ["T", "M", "ei", "gamma", "dmin", "iso_2240"])
def test_the_parts_add_up_to_the_whole(number: str) -> None:
    (budget,) = measure_budgets(strip(), number, Choices(draws=1000, most_draws=1000)).values()
    assert np.hypot.reduce([line.u for line in budget.lines]) == pytest.approx(budget.u, rel=0.12)


def test_removing_a_source_lowers_the_uncertainty_by_its_share() -> None:
    fitted = fit_channels(strip())["visual"]
    errors = Errors.of(strip(), 4000, 0)

    def spread(drawn: Errors) -> float:
        u = fitted.with_errors(drawn, QUICK).points.t.quantity.u
        assert u is not None
        return u

    (budget,) = measure_budgets(strip(), "T", Choices(draws=4000, most_draws=4000)).values()
    for line in budget.lines:
        left = spread(errors.only(*errors.active - {line.key}))
        assert (left / budget.u) ** 2 == pytest.approx(1.0 - line.share, abs=0.06)


def test_each_source_reaches_the_numbers_it_should_and_no_others() -> None:
    # Light moves log H and index, not densities; a reader's zero lifts densities, not points counted from Dmin.
    assert {"exposure", "wedge"} <= set(parts(None, "T"))
    assert "meter" not in parts(None, "T")
    assert {"exposure", "wedge", "meter"} <= set(parts(None, "ei"))
    # The end of the strip stands beside the patch; the light is the whole strip's, and no density's.
    assert {"patches", "zero", "reader scale", "readings"} <= set(parts(None, "dmin"))
    assert {"exposure", "wedge", "meter"}.isdisjoint(parts(None, "dmin"))
    assert {"exposure", "zero", "wedge", "meter", "patches"}.isdisjoint(parts(None, "gamma"))
    assert {"readings", "steps", "smoothing", "wedge scale", "evenness", "reader scale"} == set(parts(None, "gamma"))


def test_an_exposure_error_is_worth_its_own_size() -> None:
    found = parts(None, "ei")
    assert found["exposure"] == pytest.approx(0.10, rel=0.02)
    assert found["meter"] == pytest.approx(0.15, rel=0.02)
    assert found["wedge"] == pytest.approx(0.01 / STOP, rel=0.02)


@pytest.mark.parametrize(
    ("changed", "source", "u"),
    [
        ({"exposure": replace(LIGHT, uncertainty_stops=None)}, "exposure", 0.15),
        ({"exposure": replace(LIGHT, meter_uncertainty_stops=None)}, "meter", 1 / 3 / 3**0.5),
        ({"wedge": replace(WEDGE, uncertainty=np.full(21, 0.02), assumed=True)}, "steps", 0.02),
        ({"wedge": replace(WEDGE, common=None)}, "wedge", 0.02),
        ({"wedge": replace(WEDGE, scale_uncertainty=None)}, "wedge scale", 0.01),
        ({"exposure": replace(LIGHT, evenness_stops=None)}, "evenness", 0.05),
        ({"reader_scale": None}, "reader scale", 0.01),
        ({"meter_constant": None}, "constant", math.log2(14.0 / 12.5) / 2.0 / 3**0.5),
        ({"repeatability": None}, "readings", 0.01),
        ({"reader_zero": None}, "zero", 0.01),
    ],
)
def test_what_the_record_gives_replaces_what_is_assumed(changed: dict[str, Any], source: str, u: float) -> None:
    assert source not in sources_of(strip()) or not sources_of(strip())[source].assumed
    assumed = sources_of(strip(**changed))[source]
    assert assumed.assumed
    assert assumed.u == pytest.approx(u)
    told = [n.message for n in analyse(strip(**changed), NO_DRAWS).warnings if n.code == "assumed-uncertainty"]
    assert assumed.name in "".join(told)
    assert not [n for n in analyse(strip(), NO_DRAWS).warnings if n.code == "assumed-uncertainty"]


def test_a_light_that_is_not_said_to_match_daylight_is_a_source_of_its_own() -> None:
    assert "light colour" not in sources_of(strip())
    for light in ("", "tungsten lamp 3200 K", "LED 2700 K"):
        source = sources_of(strip(exposure=replace(LIGHT, light=light)))["light colour"]
        assert source.assumed
        assert source.u == pytest.approx(1 / 3 / 3**0.5)  # a third of a stop either way: common practice
    assert "light colour" in parts(strip(exposure=replace(LIGHT, light="")), "ei")
    assert "light colour" not in sources_of(strip(exposure=replace(LIGHT, light="LED 5600 K")))


def test_a_given_uncertainty_shows_in_every_number_it_touches() -> None:
    wide = strip(exposure=replace(LIGHT, uncertainty_stops=0.5))
    for number in ("T", "S", "M", "ei", "iso_2240"):
        assert u_of(wide, number) > 1.5 * u_of(None, number)
    assert u_of(wide, "gamma") == pytest.approx(u_of(None, "gamma"))


def test_the_constant_of_the_meter_moves_a_tone_on_an_absolute_strip_and_a_speed_on_a_metered_one() -> None:
    # Of an absolute strip the tone that decides needs k, the standard's speed does not; of a metered one the other way.
    u, scene = math.log2(14.0 / 12.5) / 2.0 / 3**0.5, replace(QUICK, white=0.45, shadow=-0.45)
    densities = slide(LIGHT.log_h(POSITION, WEDGE), dmin=0.10, centre=float(LIGHT.log_h(POSITION, WEDGE).mean()))
    patches = Patches(fully_exposed={"visual": 0.10}, unexposed={"visual": 3.00})
    absolute = strip(meter_constant=None, patches=patches, readings={"visual": np.round(densities, 2)})
    metered = replace(absolute, exposure=Camera(80.0, 11, uncertainty_stops=0.10))

    def part(of: Strip, number: str) -> float:
        (budget,) = measure_budgets(of, number, scene).values()
        return {line.key: line.u for line in budget.lines}.get("constant", 0.0)

    for of in (absolute, metered):
        assert analyse(of, scene).working_ei.basis == "highlight"
        assert part(of, "T") == 0.0
    assert part(absolute, "ei") == pytest.approx(u, rel=0.02)
    assert part(absolute, "iso_2240") == 0.0
    assert part(metered, "ei") == 0.0
    assert part(metered, "iso_2240") == pytest.approx(u, rel=0.02)


def test_a_negative_s_index_is_its_speed_whatever_the_meter() -> None:
    # Simulated strip: of known exposure; 0.8 over the exposure of the speed point, for any K.
    film = replace(strip(), kind="negative", readings={"visual": strip().readings["visual"][::-1]}, patches=Patches())
    found = [analyse(replace(film, meter_constant=k), QUICK) for k in (12.5, 14.0)]
    indexes = [a.working_ei.recommended.value for a in found]
    assert indexes[0] == pytest.approx(indexes[1])
    assert indexes[0] == pytest.approx(found[0].speeds["iso_6"].value.value)
    shadows = [a.working_ei.criteria["shadow"].ei.value or 0.0 for a in found]
    assert shadows[1] / shadows[0] == pytest.approx(14.0 / 12.5)


def test_a_meter_that_looks_through_a_filter_is_a_source_of_its_own() -> None:
    through = strip(filters=(FilterUsed("orange conversion", "through"),))
    assert parts(through, "ei")["colour"] == pytest.approx(0.5 / 3**0.5, rel=0.02)
    measured = strip(filters=(FilterUsed("orange conversion", "through", uncertainty_stops=0.1),))
    assert parts(measured, "ei")["colour"] == pytest.approx(0.1, rel=0.02)
    assert "colour" not in parts(strip(filters=(FilterUsed("orange conversion", "without"),)), "ei")


@pytest.mark.parametrize(
    ("exposure", "wedge", "keys"),
    [
        (Camera(80.0, 9, flare=0.002), WEDGE, {"exposure", "flare", "steps", "wedge scale"}),
        (Frames(50.0), None, {"exposure", "steps"}),
        (LIGHT, WEDGE, {"exposure", "wedge", "meter", "steps", "wedge scale", "evenness"}),
    ],
)
def test_each_way_of_exposing_has_its_own_sources(
    exposure: Camera | Frames | Contact, wedge: Wedge | None, keys: set[str]
) -> None:
    found = strip(exposure=exposure, wedge=wedge, position=POSITION if wedge else np.linspace(-5.0, 5.0, 21))
    assert set(sources_of(found)) == keys | {"readings", "smoothing", "zero", "patches", "reader scale"}


def test_flare_matters_at_the_dark_end_and_not_at_the_clear_end() -> None:
    camera = Camera(80.0, 9, flare=0.002, uncertainty_stops=0.0)
    log_h = camera.log_h(POSITION, WEDGE)
    readings = {"visual": np.round(slide(log_h, centre=float(log_h.mean())), 2)}
    found = strip(exposure=camera, readings=readings)
    assert parts(found, "S").get("flare", 0.0) > 5.0 * parts(found, "T").get("flare", 0.0)


def test_what_two_strips_share_cancels_in_their_difference() -> None:
    # The same wedge and the same light, another film: each point carries their error, the distance does not.
    one = strip()
    other = strip(title="another", readings={"visual": np.round(one.readings["visual"] + 0.02, 2)})
    found = [analyse(s, Choices(draws=1000, most_draws=1000)).channels["visual"].ensemble for s in (one, other)]
    errors = [ensemble.log_h_error for ensemble in found]
    np.testing.assert_array_equal(errors[0], errors[1])
    assert errors[0].std() > 0.02
    separate = replace(other, exposure=replace(LIGHT, lux=2001.0))
    elsewhere = analyse(separate, Choices(draws=1000, most_draws=1000)).channels["visual"].ensemble.log_h_error
    assert np.std(errors[0] - elsewhere) > 0.02


def test_a_wedge_has_the_same_errors_for_a_strip_read_in_part() -> None:
    # Two strips through one wedge, the other not read to its end: row by row the steps they share are as wrong.
    whole = strip()
    part = replace(
        whole, position=POSITION[:15], readings={"visual": whole.readings["visual"][:15]}, labels=whole.labels[:15]
    )
    one, other = (
        fit_channels(s)["visual"].with_errors(Errors.of(s, 500, 0).only("steps"), QUICK).ensemble for s in (whole, part)
    )
    at = float(np.mean([other.grid[0], other.grid[-1]]))
    there = [np.array([np.interp(at, e.grid, row) for row in e.density[1:]]) for e in (one, other)]
    assert np.corrcoef(there[0], there[1])[0, 1] > 0.9


def test_a_speed_that_the_strip_does_not_have_is_not_offered() -> None:
    layers = replace(
        strip(), kind="negative", density="status M", readings=dict.fromkeys(LAYERS, 3.2 - strip().readings["visual"])
    )
    assert "iso_5800" in budget_names(layers)
    assert "iso_6" not in budget_names(layers)


def test_readings_of_two_strips_are_drawn_apart() -> None:
    exact = replace(Wedge.nominal(21, 0.15, uncertainty=0.0, common=0.0), scale_uncertainty=0.0)
    one, other = (
        analyse(strip(title=title, wedge=exact, reader_scale=0.0), QUICK).channels["visual"].ensemble
        for title in ("one", "other")
    )
    assert abs(np.corrcoef(one.density[1:, 120], other.density[1:, 120])[0, 1]) < 0.2


def test_the_same_strip_and_seed_give_the_same_numbers() -> None:
    one, again, other = (analyse(strip(), replace(QUICK, seed=seed)).working_ei for seed in (3, 3, 4))
    assert one.recommended == again.recommended
    assert one.recommended != other.recommended


def test_one_gross_misreading_moves_the_points_by_less_than_their_interval_and_is_named() -> None:
    clean = analyse(strip(), QUICK)
    for index in (3, 9, 15):
        readings = strip().readings["visual"].copy()
        readings[index] += 0.3
        found = analyse(strip(readings={"visual": readings}), QUICK)
        assert any(n.code == "step-set-aside" and n.step == index + 1 for n in found.warnings)
        for name in ("T", "S"):
            was = clean.channels["visual"].points[name].log_h
            now = found.channels["visual"].points[name].log_h
            assert was.low is not None
            assert was.high is not None
            assert now.value is not None
            assert was.low <= now.value <= was.high


def test_draws_are_added_until_the_ends_settle_or_there_are_enough() -> None:
    few, many = Choices(draws=250, most_draws=250), Choices(draws=250, most_draws=1000)
    assert analyse(strip(), few).draws == 250
    found = analyse(strip(), many)
    assert found.draws == 1000 or found.settled
    assert analyse(strip(), Choices(draws=0)).draws == 0


def test_an_interval_settles_when_its_blocks_agree() -> None:
    rng = np.random.default_rng(0)
    spread_evenly = np.tile(np.linspace(-1.7, 1.7, 250), 4)
    assert needed_draws(np.r_[0.0, spread_evenly]) <= 1.0
    assert needed_draws(np.r_[0.0, rng.standard_t(3.0, 500)]) > 1.0


@pytest.mark.parametrize("name", scenarios())
def test_the_index_of_every_demo_strip_has_its_budget_or_no_value(name: str) -> None:
    ei = analyse(load_strip(FOLDER / f"{name}.toml"), QUICK).working_ei
    if ei.recommended.value is None:
        assert ei.budget is None
        return
    assert ei.budget is not None
    assert ei.budget.u == pytest.approx(in_stops(ei.recommended), rel=0.05)
    assert ei.budget.unit == "stops"


def test_a_number_that_is_not_there_has_no_budget() -> None:
    with pytest.raises(KeyError):
        measure_budgets(strip(), "no such number", QUICK)
    assert in_stops(Quantity.missing("off the strip")) == 0.0


def test_a_number_that_a_source_alone_does_not_give_takes_nothing_from_it() -> None:
    # By hand: 0.3 and 0.4 make shares of 9 and 16 in 25.
    alone = {"exposure": 0.3, "wedge": 0.4, "meter": None}

    def quantities(drawn: Errors) -> dict[str, Quantity]:
        keys = [key for key in alone if key in drawn.active]
        if len(keys) == len(alone):
            return {"T": Quantity(1.0, 0.0, 2.0, u=0.5)}
        return {"T": Quantity(1.0, u=alone[keys[0]])} if keys else {}

    (found,) = budgets(Errors.of(strip(), 250, 0), quantities, lambda q: q.u or 0.0, "stops").values()
    assert {line.key: line.share for line in found.lines} == pytest.approx({"wedge": 0.64, "exposure": 0.36})


def test_the_step_that_a_meter_read_moves_all_log_h_by_its_own_error() -> None:
    # Of the wedge each step is uncertain by 0.01; a contact strip has no metered step.
    for exposure, size in ((Camera(80.0, 11, uncertainty_stops=0.0), 0.01), (LIGHT, 0.0)):
        of = strip(exposure=exposure)
        alone = fit_channels(of)["visual"].with_errors(Errors.of(of, 500, 0).only("steps"), QUICK).ensemble
        assert alone.log_h_error[1:].std() == pytest.approx(size, rel=0.1)


def test_some_sources_alone_do_not_tell_whether_an_interval_has_settled() -> None:
    assert not analyse_alone(strip(), ["exposure"], QUICK).settled


def test_the_end_of_a_curve_is_named_by_the_step_there() -> None:
    curve = replace(exact(GRID, slide(GRID)), end_steps=("step 21", "step 1"))
    assert curve.end_step(most_exposed=True) == "the most exposed step (step 1)"
    assert curve.end_step(most_exposed=False) == "the least exposed step (step 21)"
    assert exact(GRID, slide(GRID)).end_step(most_exposed=True) == "the most exposed step"
