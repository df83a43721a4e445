"""A process watched: which signals a weak bath gives, what is said of it, and how often an even process is accused."""

from functools import cache

import numpy as np
import pytest

from curves import analyse, load_strip
from curves.errors import StripError
from curves.sensitometry.control.causes import ONE_LAYER, causes_of
from curves.sensitometry.control.watch import ProcessWatch, watch_process
from curves.sensitometry.uncertainty.results import Analysis
from curves.views.text.watch import watch_notes
from tests.control_demo import TIRED, runs
from tests.draws import NO_DRAWS
from tests.simulate import FOLDER, Scenario


@cache
def demo() -> tuple[Analysis, ...]:
    paths = sorted((FOLDER / "control").glob("*.toml"))
    return tuple(analyse(load_strip(path), NO_DRAWS) for path in paths)


@cache
def watched() -> ProcessWatch:
    return watch_process(demo(), 10)


def test_the_weak_bath_is_found_and_named() -> None:
    state = watched().strips[TIRED]
    assert state.observed["dmin"] is True
    assert state.observed["speed"] is False
    assert state.causes[0].name == "first developer weak, short or cold"
    assert not watched().in_control


def test_the_process_is_in_control_before_it() -> None:
    assert watch_process(demo()[:12], 10).in_control


def test_a_slow_strip_is_slow_by_what_the_bath_did() -> None:
    (speed,) = [number for number in watched().numbers if number.key == "speed"]
    # The simulation made the film 0.3 stop slower; one reading of a strip leaves T uncertain by a tenth of a stop.
    assert speed.chart.values[TIRED] - speed.chart.centre == pytest.approx(-0.3, abs=0.2)


@pytest.mark.parametrize(
    ("observed", "first"),
    [
        ({"dmin": True, "speed": False}, "first developer weak, short or cold"),
        ({"dmax": False, "speed": True}, "first developer strong, long or warm"),
        ({"dmax": False}, "incomplete reversal, or a second development that stopped short"),
        ({"balance.low.red": True}, ONE_LAYER.name),
    ],
)
def test_signals_have_their_usual_causes(observed: dict[str, bool], first: str) -> None:
    assert causes_of("reversal", observed)[0].name == first


def test_no_signal_has_no_cause_and_a_signal_that_nothing_explains_is_left_unexplained() -> None:
    assert causes_of("reversal", {}) == ()
    assert causes_of("reversal", {"contrast": True}) == ()


def test_strips_of_another_kind_are_refused() -> None:
    negative = analyse(load_strip(FOLDER / "heron-negative.toml"), NO_DRAWS)
    with pytest.raises(StripError, match="needed: control strips of one kind, read in one kind of density"):
        watch_process([*demo()[:4], negative], 4)


def test_a_number_missing_on_a_reference_strip_is_charted_and_one_missing_on_most_is_named() -> None:
    strips = list(demo()[:10])
    for index in range(7):
        # Seven of ten end before the film clears, with no patch: neither Dmin nor T is known there.
        strips[index] = analyse(load_strip(FOLDER / "heron-short.toml"), NO_DRAWS)
    found = watch_process(strips, 10)
    assert {"Dmin", "speed"} <= set(found.left_out)
    assert "Not charted, because fewer than 4 reference strips show it: Dmin, " in " ".join(watch_notes(found))
    found = watch_process([*demo()[:9], strips[0]], 10)
    assert found.left_out == ()
    (dmin,) = [number for number in found.numbers if number.key == "dmin"]
    assert np.isnan(dmin.chart.values[9])
    assert dmin.chart.centre == pytest.approx(float(np.mean(dmin.chart.values[:9])))


def strip_of(scenario: Scenario) -> Analysis:
    """Return a simulated run as an analysis."""
    from tests.sensitometry.filters.test_filter_shift import strip

    return analyse(strip(scenario.film, scenario.seed), NO_DRAWS)


@pytest.mark.slow
def test_an_even_process_is_accused_about_as_often_as_limits_from_ten_strips_must() -> None:
    # Limits from ten strips are wide or narrow by chance: a normal process passes those of one number in about 1 % of
    # strips, by simulation of the chart alone; here ten numbers, four strips a series.
    accused, points = 0, 0
    for seed in range(25):
        found = watch_process([strip_of(s) for s in runs(1000 + seed, tired=-1)], 10)
        for number in found.numbers:
            beyond = [s for s in number.signals if s.index >= 10 and s.rule == "beyond a limit"]
            accused += len(beyond)
            points += int(np.isfinite(number.chart.values[10:]).sum())
    assert points == 25 * 4 * len(found.numbers)
    assert accused / points < 0.025


@pytest.mark.slow
def test_a_weak_bath_is_caught_in_its_first_strip() -> None:
    caught = 0
    for seed in range(25):
        found = watch_process([strip_of(s) for s in runs(2000 + seed)], 10)
        observed = found.strips[TIRED].observed
        caught += observed.get("dmin") is True or observed.get("speed") is False
    assert caught >= 23


def test_the_balance_of_the_layers_is_their_density_less_that_of_green() -> None:
    first = demo()[0].channels
    charted = {number.key: number.chart.values for number in watched().numbers}
    for where, name in {"low": "T", "mid": "M", "high": "S"}.items():
        log_h = first["visual"].points[name].log_h.value
        assert log_h is not None
        for layer in ("red", "blue"):
            apart = [
                float(a.channels[layer].curve.density_at(log_h) - a.channels["green"].curve.density_at(log_h))
                for a in demo()
            ]
            assert charted[f"balance.{where}.{layer}"] == pytest.approx(apart)
