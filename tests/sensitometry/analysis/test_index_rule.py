"""The rule of the index: what decides, that nothing jumps, and that what is not known passes through as true bounds."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import fields

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from curves.sensitometry.analysis.index_rule import (
    Marks,
    Requests,
    Span,
    clearness,
    decide,
    grey_limits,
    hull,
    place_of,
)
from curves.sensitometry.analysis.reversal_index import Answer
from curves.sensitometry.core.choices import Choices
from curves.sensitometry.core.units import STOP, FloatArray
from curves.sensitometry.measures.points import dmax, dmin
from curves.sensitometry.measures.table import ChannelCurves
from curves.sensitometry.strip.metering import Metering, metered_exposure
from tests.bench.index_truth import LEAST, MOST, truth_of
from tests.sensitometry.analysis.ten_films import Curve, logistic, mixture
from tests.sensitometry.shapes import exact

GRID = np.linspace(-4.5, 3.0, 1501)
METERING = Metering(metered_exposure(), metered_exposure(), metered=False)


def answer_of(curve: Curve) -> Answer:
    """Return what the rule makes of a curve that is known exactly, its ends read as patches."""
    ends = curve(np.array([MOST, LEAST]))
    film = exact(GRID, curve(GRID), fully_exposed=float(ends[0]), unexposed=float(ends[1]))
    return Answer.of(ChannelCurves(film, dmin(film), dmax(film), Choices()), METERING, Choices())


def index_of(curve: Curve) -> float:
    """Return the index of a curve that is known exactly."""
    value = answer_of(curve).index().value
    assert value is not None
    return value


def arctan(low: float, high: float, middle: float, steep: float) -> Curve:
    """Return a falling arctangent: long soft ends."""
    return lambda x: low + (high - low) * (0.5 - np.arctan(steep * (x - middle)) / math.pi)


def corner(low: float, high: float, middle: float, steep: float) -> Curve:
    """Return a straight fall with a hard corner at the dense end and a soft one at the thin end."""

    def curve(x: FloatArray) -> FloatArray:
        net = 0.08 * np.logaddexp(0.0, -steep * (x - middle) / 0.08)
        return np.asarray(np.minimum(low + net, high))

    return curve


SHAPES: dict[str, Callable[[float, float, float], Curve]] = {
    # Of Dmin, Dmax and a factor of gamma.
    "logistic": lambda low, high, g: logistic(low, high, -0.6, 2.8 * g),
    "soft shoulder": lambda low, high, g: logistic(low, high, -0.6, 2.6 * g, 0.5),
    "soft toe": lambda low, high, g: logistic(low, high, -0.6, 2.8 * g, 2.5),
    "arctangent": lambda low, high, g: arctan(low, high, -0.6, 4.0 * g),
    "corner": lambda low, high, g: corner(low, high, 0.2, 1.6 * g),
    "two emulsions": lambda low, high, g: mixture(
        (0.6, logistic(low, high, -0.6 - 0.25 / g, 4.0 * g)), (0.4, logistic(low, high, -0.6 + 0.3 / g, 3.6 * g))
    ),
}  # fmt: skip

FINE = 0.01


def one_in_three(names: str, *pairs: tuple[float, float]) -> pytest.MarkDecorator:
    """Return the cases of every shape with three pairs: of each shape one has its turn, two wait for a release."""
    return pytest.mark.parametrize(
        f"shape, {names}",
        [
            pytest.param(shape, *pair, marks=[] if (number + place) % 3 == 0 else [pytest.mark.slow])
            for number, shape in enumerate(SHAPES)
            for place, pair in enumerate(pairs)
        ],
    )


def jumps(indexes: Iterable[float]) -> list[float]:
    """Return the distance of each index from the one before it [stops]."""
    return [abs(math.log2(b / a)) for a, b in itertools.pairwise(indexes)]


@one_in_three("low, high", (0.10, 3.2), (0.22, 2.4), (0.40, 1.5))
def test_one_per_cent_of_gamma_moves_the_index_by_at_most_0_08_stop(shape: str, low: float, high: float) -> None:
    gammas = np.exp(np.arange(math.log(0.6), math.log(3.0), FINE))
    assert max(jumps(index_of(SHAPES[shape](low, high, g)) for g in gammas)) < 0.08


@one_in_three("low, gamma", (0.10, 1.5), (0.22, 1.0), (0.40, 0.8))
def test_a_hundredth_of_dmax_moves_the_index_by_at_most_0_04_stop(shape: str, low: float, gamma: float) -> None:
    # Across Dmin + 2.00, where S turns from that density to the touch.
    highs = low + np.arange(0.90, 3.0, FINE)
    assert max(jumps(index_of(SHAPES[shape](low, high, gamma)) for high in highs)) < 0.04


@one_in_three("span, gamma", (1.4, 0.8), (2.9, 0.9), (2.9, 1.6))
def test_a_hundredth_of_dmin_or_of_veil_moves_the_index_by_at_most_0_26_stop(
    shape: str, span: float, gamma: float
) -> None:
    # A veil lifts Dmin alone, a dense base the whole curve.
    lows = np.arange(0.05, 0.45, FINE)
    assert max(jumps(index_of(SHAPES[shape](low, 0.05 + span, gamma)) for low in lows)) < 0.26
    assert max(jumps(index_of(SHAPES[shape](low, low + span, gamma)) for low in lows)) < 0.26


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize(
    ("low", "high", "gamma"), [(0.08, 3.2, 0.8), (0.2, 2.6, 1.0), (0.4, 1.6, 0.9), (0.06, 3.4, 2.2)]
)
def test_the_rule_is_that_of_the_definitions(shape: str, low: float, high: float, gamma: float) -> None:
    # Expected values: calculated by `tests.bench.index_truth`, which shares no code with the package.
    curve = SHAPES[shape](low, high, gamma)
    truth, answer = truth_of(curve), answer_of(curve)
    assert index_of(curve) == pytest.approx(truth.index, rel=0.01)
    assert answer.main.basis == truth.basis
    assert answer.highlight_share == pytest.approx(truth.share, abs=0.01)
    for end, true in zip(answer.range(), (truth.low, truth.high), strict=True):
        assert end.value == pytest.approx(true, rel=0.01)


def asked(clear: float = 1.0, **places: float | tuple[float, float]) -> Requests:
    """Return requests of one row: mid-grey at 0 for all but those named; a pair is a span."""
    usual: dict[str, float | tuple[float, float]] = {
        "highlight": 0.0, "middle": 0.0, "cleared": 1.0, "shadow": -1.0, "thin": 2.0, "dense": -2.0,
    }  # fmt: skip
    spans = {}
    for name, place in (usual | places).items():
        low, high = place if isinstance(place, tuple) else (place, place)
        spans[name] = Span(np.array([low]), np.array([high]))
    return Requests(**spans, clearness=np.array([clear]))


@pytest.mark.parametrize(
    ("requests", "grey", "basis"),
    [
        (asked(highlight=0.2, middle=-0.1), 0.2, "highlight"),
        (asked(0.0, highlight=0.2, middle=-0.1), -0.1, "middle"),
        (asked(0.25, highlight=0.2, middle=-0.2), -0.1, "mixed"),
        (asked(highlight=1.5), 1.0, "cleared"),
        (asked(highlight=-1.5), -1.0, "shadow"),
        (asked(highlight=0.5, thin=0.3), 0.3, "grey"),
        (asked(highlight=-0.5, dense=-0.3), -0.3, "grey"),
        # Half a stop too little latitude halves the share of the highlight.
        (asked(highlight=0.4, middle=0.0, cleared=0.2, shadow=0.2 + STOP / 2), 0.2, "mixed"),
        # A stop too little, and the middle counts alone; the median is then between the two ends.
        (asked(highlight=0.9, middle=0.3, cleared=0.2, shadow=0.2 + STOP), 0.3, "middle"),
    ],
)
def test_each_part_of_the_rule_decides_in_its_turn(requests: Requests, grey: float, basis: str) -> None:
    found = decide(requests)
    assert found.grey.low[0] == found.grey.high[0] == pytest.approx(grey)
    assert found.basis == basis


def test_what_does_not_matter_may_be_unknown() -> None:
    # The texture's end lies anywhere to the dense side, where it cannot hold the index.
    found = decide(asked(shadow=(-math.inf, -0.5)))
    assert found.grey.shown
    assert found.basis == "highlight"
    # With no share of the middle in the mix, neither does the middle count.
    assert decide(asked(middle=(-math.inf, math.inf))).grey.shown
    assert not decide(asked(0.5, middle=(-math.inf, math.inf))).grey.shown


def test_what_is_not_known_comes_out_as_a_span_between_the_limits_of_mid_grey() -> None:
    found = decide(asked(0.0, middle=(-math.inf, 0.1), shadow=(-math.inf, 0.1), dense=-0.4)).grey
    assert (found.low[0], found.high[0]) == (-0.4, 0.1)


places = st.floats(-3.0, 3.0)


@given(
    st.lists(st.tuples(places, places), min_size=6, max_size=6),
    st.floats(0.0, 1.0),
    st.lists(st.floats(0.0, 1.0), min_size=6, max_size=6),
)
def test_whatever_lies_in_the_spans_comes_out_in_the_span(
    ends: list[tuple[float, float]], clear: float, shares: list[float]
) -> None:
    names = [f.name for f in fields(Requests) if f.name != "clearness"]
    spans = {name: (min(pair), max(pair)) for name, pair in zip(names, ends, strict=True)}
    # Mid-grey's thin limit lies at more exposure than its dense one, as on every film.
    spans["thin"] = spans["thin"][0] + 6.0, spans["thin"][1] + 6.0
    inside = {n: low + share * (high - low) for (n, (low, high)), share in zip(spans.items(), shares, strict=True)}
    whole, one = decide(asked(clear, **spans)).grey, decide(asked(clear, **inside)).grey
    assert whole.low[0] - 1e-9 <= one.low[0] <= whole.high[0] + 1e-9


def test_a_level_that_the_strip_does_not_show_lies_beyond_its_end() -> None:
    film = exact(np.array([-1.0, 0.0, 1.0]), np.array([2.0, 1.0, 0.5]))

    def at(low: float, high: float | None = None) -> tuple[float, float]:
        span = place_of(film, Span(np.array([low]), np.array([low if high is None else high])))
        return float(span.low[0]), float(span.high[0])

    assert at(1.5) == pytest.approx((-0.5, -0.5))
    assert at(2.5) == (-math.inf, -1.0)
    assert at(0.2) == (1.0, math.inf)
    assert at(1.5, math.inf) == pytest.approx((-math.inf, -0.5))


def test_spans_hold_each_other_row_by_row() -> None:
    one, other = Span(np.array([0.0, 5.0]), np.array([1.0, 6.0])), Span(np.array([-1.0, 5.5]), np.array([0.5, 7.0]))
    both = hull([one, other])
    assert both.low.tolist() == [-1.0, 5.0]
    assert both.high.tolist() == [1.0, 7.0]


def test_clearness_and_the_limits_of_grey_hold_for_a_scalar_an_array_and_the_ends() -> None:
    # From the definitions: 1 at Dmin 0.14, 0 at 0.30; net 0.40 or 30 %, 1.40 or 60 % of the range.
    assert clearness(np.array([0.0, 0.14, 0.22, 0.30, 1.0]), Choices()).tolist() == pytest.approx(
        [1.0, 1.0, 0.5, 0.0, 0.0]
    )
    assert float(clearness(np.array(0.26), Choices())) == pytest.approx(0.25)
    assert np.isnan(clearness(np.array([np.nan]), Choices())).all()
    thin, dense = grey_limits(np.array([1.0, 2.0, 3.0, np.inf]))
    assert thin.tolist() == pytest.approx([0.30, 0.40, 0.40, 0.40])
    assert dense.tolist() == pytest.approx([0.60, 1.20, 1.40, 1.40])


def test_marks_are_made_by_name() -> None:
    def named() -> Iterator[str]:
        yield from (f.name for f in fields(Marks))

    marks = Marks.of(lambda name: Span.known(np.array([float(len(name))])))
    assert [float(getattr(marks, name).low[0]) for name in named()] == [float(len(name)) for name in named()]
