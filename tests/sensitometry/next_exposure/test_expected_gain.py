"""The interval to expect after each proposal: whether it is the one that comes, and what is said to tell most."""

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from curves import Choices, analyse, load_strip
from curves.errors import StripError
from curves.sensitometry.analysis.analyse import analyse_alone
from curves.sensitometry.comparison.numbers import NumberKey, comparable_numbers, scaled
from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.streams import stream
from curves.sensitometry.core.units import Channel, FloatArray
from curves.sensitometry.next_exposure.expected_gain import (
    ExpectedGain,
    NextExposure,
    _predicted,
    next_exposure,
    number_of,
)
from curves.sensitometry.next_exposure.possible_film import possible_films
from curves.sensitometry.next_exposure.proposals import Proposal, strip_of
from curves.sensitometry.next_exposure.trials import Trial, combined, on_scale
from curves.sensitometry.strip.origin import PredictedInterval
from curves.sensitometry.uncertainty.sources import sources_of
from tests.bench.coverage import DESIGNS
from tests.bench.planned_gain import outcomes, ratios
from tests.draws import FEW_DRAWS
from tests.simulate import FOLDER

AGAIN = Proposal("again", 10.5, 0, 21, offset_stops=1.0)
LIKELY = PredictedInterval((3.9, 4.0, 4.1), (0.3, 0.4, 0.5))


@cache
def after(name: str, number: str = "ei") -> NextExposure:
    """Return what could come after a demo strip."""
    return next_exposure(load_strip(FOLDER / f"{name}.toml"), number, 5, Choices(draws=250, most_draws=250), 6)


def gain_of(found: NextExposure, key: str) -> ExpectedGain:
    """Return what one proposal can be expected to do."""
    return next(gain for gain in found.gains if gain.proposal.key == key)


def test_the_ends_of_nine_in_ten_lie_a_tenth_further_out_than_the_films() -> None:
    numbers = [Quantity(v, v - w, v + w, "fitted") for v, w in ((1.0, 0.3), (1.2, 0.4), (1.8, 0.6))]
    found = _predicted(numbers, [1.0] * 3, 3)
    assert found is not None
    # Own arithmetic: 1.2 - 1.1 * 0.2 and 1.2 + 1.1 * 0.6; 0.4 - 1.1 * 0.1 and 0.4 + 1.1 * 0.2.
    assert found.value == pytest.approx((0.98, 1.2, 1.86))
    assert found.half_width == pytest.approx((0.29, 0.4, 0.62))
    # Of four films only one shows the number: nothing is foretold.
    assert _predicted([numbers[0], None, None, None], [1.0] * 4, 4) is None


@pytest.mark.parametrize("seeds", [(1,), pytest.param((1, 2), marks=pytest.mark.slow)])
def test_the_planned_gain_is_the_gained(seeds: tuple[int, ...]) -> None:
    # Films of a family that no constant was chosen by; the bench counts over many.
    found = [o for seed in seeds for o in outcomes("weibull", DESIGNS["usual"], seed, 250, 6)]
    assert len(found) >= 9 * len(seeds)
    assert np.median(ratios(found)) == pytest.approx(1.0, abs=0.15)


def test_the_camera_tells_most_where_the_meter_is_most_of_it() -> None:
    found = after("wren-reversal")
    assert found.best is not None
    assert found.best.proposal.way == "camera"
    assert found.budget is not None
    assert found.budget.lines[0].key == "meter"
    # More than a strip metered by itself to a third of a stop either way could leave, with the scatter of a frame.
    assert found.half_width is not None
    assert 0.2 < (found.best.half_width or 0.0) < found.half_width


def gain_of_a_repeat(seed: int, films: int = 6, draws: int = 250) -> float:
    """Return the share by which the interval of an index shrinks by the same strip again, as one seed draws it."""
    strip, key = load_strip(FOLDER / "wren-reversal.toml"), ("ei", None)
    trial = Trial.of(strip, key, Choices(seed=seed, draws=draws, most_draws=draws))
    drawn = possible_films(trial.first, films, stream(seed, "next exposure", strip.title))
    tried = [trial.outcome(replace(AGAIN, offset_stops=0.0), film) for film in drawn]
    return 1.0 - float(np.median([o.after.half_width / o.before for o in tried if o and o.after.half_width]))


@pytest.mark.parametrize("seeds", [4, pytest.param(8, marks=pytest.mark.slow)])
def test_what_rests_on_the_same_meter_gains_less_than_a_tenth(seeds: int) -> None:
    # One seed of so few films and draws says 2 to 9 % (regression: computed by this code), so several are taken.
    gains = [gain_of_a_repeat(seed) for seed in range(seeds)]
    error = float(np.std(gains, ddof=1)) / math.sqrt(len(gains))
    assert np.mean(gains) + 2.0 * error < 0.10
    # The meter is 63 % of the variance: a repeat that did away with all the rest would gain 21 % (own arithmetic).
    assert np.mean(gains) > 0.0


def test_the_meter_is_set_aside_by_its_share_of_the_variance() -> None:
    found = after("wren-reversal")
    assert found.half_width is not None
    assert found.budget is not None
    assert {line.key for line in found.of_the_meter} == {"meter", "constant"} & {
        line.key for line in found.budget.lines
    }
    rest = sum(line.share for line in found.budget.lines if line.key not in ("meter", "constant"))
    assert found.without_meter == pytest.approx(found.half_width * math.sqrt(rest))
    # Nothing is set aside where there is no interval, or where nothing tells what it is made of.
    assert after("heron-short").without_meter is None
    assert replace(found, budget=None).without_meter == found.half_width


def test_proposals_stand_in_the_order_of_what_they_tell() -> None:
    widths = [gain.half_width for gain in after("wren-reversal").gains]
    assert widths == sorted(widths, key=lambda w: math.inf if w is None else w)
    for gain in after("wren-reversal").gains:
        assert gain.after is not None
        assert gain.after.half_width[0] <= (gain.half_width or 0.0) <= gain.after.half_width[2]
        assert (gain.alone is not None) == gain.proposal.exposes


def test_a_strip_that_ended_early_is_finished_by_more_exposure_with_a_chance() -> None:
    found = after("heron-short")
    assert found.half_width is None
    first = found.gains[0]
    assert first.proposal.way == "again"
    assert first.proposal.offset_stops >= 3.0
    assert first.chance > 0.5
    assert gain_of(found, "readings 3").chance == 0.0
    assert first.proposal.patch == "fully_exposed"
    chances = [gain_of(found, f"again +{stops}").chance for stops in (1, 2, 3)]
    assert chances == sorted(chances)


def test_what_is_worth_its_film_gains_a_tenth_or_is_nearly_sure_to_show_the_number() -> None:
    assert ExpectedGain(AGAIN, LIKELY, None, 0.10, 1.0).worth
    assert not ExpectedGain(AGAIN, LIKELY, None, 0.09, 1.0).worth
    assert ExpectedGain(AGAIN, LIKELY, None, None, 0.90).worth
    assert not ExpectedGain(AGAIN, LIKELY, None, None, 0.89).worth


def test_of_equal_widths_the_one_that_takes_less_film_comes_first() -> None:
    readings = Proposal("readings", 0.0, 0, 42, readings=3)
    some = [ExpectedGain(p, LIKELY, None, 0.2, 1.0) for p in (AGAIN, readings)]
    assert min(some, key=lambda g: g.rank).proposal is readings
    unsure = ExpectedGain(readings, PredictedInterval((4.0, 4.0, 4.0), (0.1, 0.1, 0.1)), None, None, 0.5)
    assert min([some[0], unsure], key=lambda g: g.rank) is some[0]


def test_numbers_are_named_as_json_names_them() -> None:
    analysis = analyse(load_strip(FOLDER / "heron-reversal.toml"), FEW_DRAWS)
    assert number_of(analysis, "ei").key == ("ei", None)
    assert number_of(analysis, "gamma").key == ("gamma", "visual")
    assert number_of(analysis, "red.gamma").key == number_of(analysis, "gamma.red").key == ("gamma", "red")
    assert number_of(analysis, "iso_2240").key == ("iso_2240", None)
    assert scaled(analysis, ("gamma", "red")) == number_of(analysis, "red.gamma").value
    assert scaled(analysis, ("gamma", None)).value is None
    for name in ("gama", "violet.gamma", "red.ei"):
        with pytest.raises(StripError, match="has no number"):
            number_of(analysis, name)


def test_an_index_adds_as_log2() -> None:
    found = on_scale(Quantity(16.0, 8.0, 32.0))
    assert (found.value, found.low, found.high) == (4.0, 3.0, 5.0)


def test_two_strips_of_a_curve_are_joined_for_what_is_not_an_index() -> None:
    first = load_strip(FOLDER / "wren-reversal.toml")
    template, _ = strip_of(replace(AGAIN, offset_stops=0.0), first)
    rng = np.random.default_rng(3)
    read: dict[Channel, FloatArray] = {"visual": template.readings["visual"] + 0.012 * rng.standard_normal(21)}
    results = [analyse_alone(s, sources_of(s), FEW_DRAWS) for s in (first, replace(template, readings=read))]
    key: NumberKey = ("gamma", "visual")
    alone = [comparable_numbers(a)[key].value for a in results]
    both = combined(results[0], results[1], key)
    assert both.value == pytest.approx(np.mean([q.value for q in alone if q.value is not None]), abs=0.05)
    assert (both.half_width or 0.0) < max(q.half_width or 0.0 for q in alone)
