"""A process watched: which signals a weak bath gives, what is said of it, and how often an even process is accused."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from scipy.stats import t as student

from curves import analyse, load_strip
from curves.errors import StripError
from curves.sensitometry.control.action import Alarm
from curves.sensitometry.control.causes import ONE_LAYER, causes_of
from curves.sensitometry.control.watch import ProcessWatch, watch_process
from curves.sensitometry.uncertainty.results import Analysis
from curves.views.many.control import signal_words, watch_notes
from tests.control_demo import AGED, BESIDE, FIRST, SECOND, TIRED
from tests.draws import NO_DRAWS
from tests.simulate import FOLDER


@cache
def demo() -> tuple[Analysis, ...]:
    paths = sorted((FOLDER / "control").glob("*.toml"))
    return tuple(analyse(load_strip(path), NO_DRAWS) for path in paths)


def strips_of_first() -> list[Analysis]:
    return [analysis for analysis in demo() if analysis.strip.batch == FIRST]


@cache
def watched() -> ProcessWatch:
    return watch_process(demo(), 10)


def place_of(run: int) -> int:
    """Return the place among the demo's strips of the strip that is judged in a run, from 0."""
    return run + (len(BESIDE) if run > BESIDE[-1] else max(run - BESIDE[0], 0))


def test_the_weak_bath_is_found_within_two_strips_and_named() -> None:
    states = [watched().strips[place_of(run)] for run in TIRED]
    assert not watched().in_control
    assert states[1].out
    assert states[1].observed["dmin"] is True
    assert states[1].observed["speed"] is False
    assert states[1].causes[0].name == "first developer weak, short or cold"
    assert [s for s in watched().strips if s.out] == [s for s in states if s.out]


def test_the_process_is_in_control_before_it() -> None:
    assert watch_process(demo()[: place_of(TIRED[0])], 10).in_control


def test_a_value_never_reads_like_the_limit_that_it_has_passed() -> None:
    (dmin,) = [number for number in watched().numbers if number.key == "dmin"]
    last = place_of(TIRED[0])
    for alarm, words in (
        (Alarm(last, 1, 0.1234, 0.1233), "Dmin 0.1234: above its action limit, 0.1233"),
        (Alarm(last, 1, 0.125, 0.123), "Dmin 0.125: above its action limit, 0.123"),
        (Alarm(last, 2, 0.1232, 0.1233), "Dmin 0.1232, the mean of the last 2 strips: below the action limit of that"),
    ):
        first, *_ = signal_words(replace(dmin, alarms=(alarm,), unit=""), last)
        assert first.startswith(words)


def test_a_slow_strip_is_slow_by_what_the_bath_did() -> None:
    (speed,) = [number for number in watched().numbers if number.key == "speed"]
    # The simulation made the film 0.3 stop slower; one reading of a strip leaves T uncertain by a tenth of a stop.
    assert speed.values[place_of(TIRED[0])] - speed.chart.centre == pytest.approx(-0.3, abs=0.25)


def test_a_batch_is_joined_by_what_went_through_beside_it() -> None:
    batches = watched().batches
    assert batches.names == (FIRST, SECOND)
    assert batches.beside(1) == (len(BESIDE), len(BESIDE), len(BESIDE))
    assert int(batches.joining.sum()) == len(BESIDE)
    assert watched().reference == 10
    # The simulation aged the second batch by these sizes; the interval is the program's.
    for key, true in {"dmin": AGED["veil"], "speed": -AGED["slower"], "dmax": 0.0}.items():
        (number,) = [number for number in watched().numbers if number.key == key]
        apart = number.differences[1]
        assert apart.low < true < apart.high
        # Pairs in runs of their own: by least squares, the mean of the differences of the pairs.
        pairs = [np.flatnonzero(batches.run == run) for run in np.unique(batches.run[batches.joining])]
        assert apart.value == pytest.approx(np.mean([number.read[new] - number.read[old] for old, new in pairs]))
        np.testing.assert_allclose(number.read - number.values, np.where(batches.batch == 1, apart.value, 0.0))
        assert np.isnan(number.chart.values[batches.joining]).all()


def test_the_chance_of_an_alarm_is_shared_out_over_numbers_and_means() -> None:
    numbers, batches = watched().numbers, watched().batches
    # One in a hundred over ten numbers and the means of one, two and eight strips; ten references of the first batch.
    share = 0.01 / 10 / 3
    assert len(numbers) == 10
    for number in numbers:
        reach = student.ppf(1.0 - share / 2.0, number.spread.freedom) * number.spread.size * np.sqrt(1.0 + 1.0 / 10.0)
        limits = [number.chart.centre - reach, number.chart.centre + reach]
        np.testing.assert_allclose(number.limits[batches.batch == 0], [limits] * int((batches.batch == 0).sum()))


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
    strips = strips_of_first()[:10]
    for index in range(7):
        # Seven of ten end before the film clears, with no patch: neither Dmin nor T is known there.
        short = replace(load_strip(FOLDER / "heron-short.toml"), batch=FIRST)
        strips[index] = analyse(short, NO_DRAWS)
    found = watch_process(strips, 10)
    assert {"Dmin", "speed"} <= set(found.left_out)
    assert "Not charted, because fewer than 4 reference strips show it: Dmin, " in " ".join(watch_notes(found))
    found = watch_process([*strips_of_first()[:9], strips[0]], 10)
    assert found.left_out == ()
    (dmin,) = [number for number in found.numbers if number.key == "dmin"]
    assert np.isnan(dmin.chart.values[9])
    assert dmin.chart.centre == pytest.approx(float(np.mean(dmin.chart.values[:9])))


def test_the_balance_of_the_layers_is_their_density_less_that_of_green() -> None:
    first = demo()[0].channels
    charted = {number.key: number.read for number in watched().numbers}
    for where, name in {"low": "T", "mid": "M", "high": "S"}.items():
        log_h = first["visual"].points[name].log_h.value
        assert log_h is not None
        for layer in ("red", "blue"):
            apart = [
                float(a.channels[layer].curve.density_at(log_h) - a.channels["green"].curve.density_at(log_h))
                for a in demo()
            ]
            assert charted[f"balance.{where}.{layer}"] == pytest.approx(apart)
