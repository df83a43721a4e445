"""No bound contradicts another number of the same answer: properties over simulated strips, long and short."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator

import numpy as np
from hypothesis import assume, given
from hypothesis import strategies as st

from curves.errors import StripError
from curves.sensitometry.analysis.analyse import analyse
from curves.sensitometry.core.choices import Choices
from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import FloatArray
from curves.sensitometry.strip.exposure import GivenExposure
from curves.sensitometry.strip.strip import Patches, Strip
from curves.sensitometry.uncertainty.results import Analysis
from tests.bench.index_truth import LEAST, MOST
from tests.sensitometry.analysis.ten_films import Curve, logistic, mixture

QUICK = Choices(draws=60, most_draws=60)
ROUNDING = 1e-6


def contradicts(one: Quantity, other: Quantity) -> bool:
    """Return True if the first number is said to exceed the second: values beyond their intervals, bounds at all."""
    if one.value is not None and other.value is not None:
        low, high = one.value if one.low is None else one.low, other.value if other.high is None else other.high
        return low > high + ROUNDING
    least = one.value if one.value is not None else one.bound[1] if one.bound and one.bound[0] == ">" else -math.inf
    most = (
        other.value
        if other.value is not None
        else other.bound[1]
        if other.bound and other.bound[0] == "<"
        else math.inf
    )
    return least > most * (1.0 + ROUNDING) if most > 0.0 else least > most + ROUNDING


def in_order(found: Analysis) -> Iterator[tuple[str, Quantity, Quantity]]:
    """Yield pairs of numbers of which the first cannot exceed the second, each with its name."""
    (visual,) = found.channels.values()
    ei, points, measures = found.working_ei, visual.points, visual.measures
    yield "S, M", points["S"].log_h, points["M"].log_h
    yield "M, T", points["M"].log_h, points["T"].log_h
    yield "Dmin, Dmax", measures["dmin"], measures["dmax"]
    yield "Dmax reached, Dmax", measures["dmax_reached"], measures["dmax"]
    yield "veil, Dmin", measures["veil"], measures["dmin"]
    for name, point in points.items():
        if point.density is not None:
            yield f"Dmin, density of {name}", measures["dmin"], Quantity(point.density)
            yield f"density of {name}, Dmax", Quantity(point.density), measures["dmax"]
    asked = {name: criterion.ei for name, criterion in ei.criteria.items()}
    low, high = ei.range
    yield "cleared, highlight", asked["cleared"], asked["highlight"]
    yield "cleared, low end", asked["cleared"], low
    yield "high end, shadow", high, asked["shadow"]
    if ei.shortfall is None:
        yield "low end, index", low, ei.recommended
        yield "index, high end", ei.recommended, high
    else:
        yield "high end, index", high, ei.recommended
        yield "index, low end", ei.recommended, low
    yield "middle, ISO 2240", asked["middle"], found.speeds["iso_2240"].value
    yield "ISO 2240, middle", found.speeds["iso_2240"].value, asked["middle"]
    # A point at more exposure is a lower index.
    yield "10 / H of T, middle", index(points["T"].log_h), asked["middle"]
    yield "middle, 10 / H of S", asked["middle"], index(points["S"].log_h)
    landed = list(ei.placements.values())
    for one, other in itertools.pairwise(landed):
        yield "densities of tones", one.density, other.density


def index(log_h: Quantity) -> Quantity:
    """Return 10 / H of a point: an index whose bound lies on the other side."""
    if log_h.value is not None:
        return Quantity(10.0 / 10.0**log_h.value)
    if log_h.bound is None:
        return Quantity.missing("")
    limit = 10.0 / 10.0 ** log_h.bound[1]
    return Quantity.missing("", below=limit) if log_h.bound[0] == ">" else Quantity.missing("", above=limit)


def curve_of(kind: str, low: float, high: float, gamma: float) -> Curve:
    """Return one of three kinds of film whose middle lies at log H -0.7."""
    if kind == "two emulsions":
        return mixture((0.55, logistic(low, high, -0.95, 4.0 * gamma)), (0.45, logistic(low, high, -0.4, 4.0 * gamma)))
    return logistic(low, high, -0.7, 2.8 * gamma, 0.5 if kind == "soft shoulder" else 1.0)


@given(
    kind=st.sampled_from(["logistic", "soft shoulder", "two emulsions"]),
    low=st.floats(0.05, 0.5),
    span=st.floats(0.7, 3.2),
    gamma=st.floats(0.5, 2.5),
    first=st.floats(-3.2, -0.9),
    steps=st.integers(8, 26),
    read=st.sets(st.sampled_from(["base", "unexposed", "fully_exposed"])),
    noise=st.sampled_from([0.003, 0.01, 0.03]),
    seed=st.integers(0, 999),
)
def test_no_number_of_an_answer_contradicts_another(
    kind: str, low: float, span: float, gamma: float, first: float, steps: int, read: set[str], noise: float, seed: int
) -> None:
    rng = np.random.default_rng(seed)
    curve = curve_of(kind, low, low + span, gamma)
    log_h = np.asarray(first + 0.15 * np.arange(steps), dtype=np.float64)

    def read_as(density: FloatArray) -> FloatArray:
        return np.asarray(np.round(density + noise * rng.standard_normal(density.shape), 2), dtype=np.float64)

    density = read_as(curve(log_h))
    assume(density.max() - density.min() > 0.4)
    unexposed, fully_exposed = read_as(curve(np.array([LEAST, MOST]))).tolist()
    strip = Strip(
        "simulated",
        "reversal",
        "visual",
        GivenExposure("lux-seconds", uncertainty_stops=0.1, seconds=0.02),
        log_h,
        {"visual": density},
        patches=Patches(
            base={"visual": round(0.8 * low, 2)} if "base" in read else {},
            unexposed={"visual": unexposed} if "unexposed" in read else {},
            fully_exposed={"visual": fully_exposed} if "fully_exposed" in read else {},
        ),
        repeatability=noise,
    )
    try:
        found = analyse(strip, QUICK)
    except StripError:
        return
    for name, one, other in in_order(found):
        assert not contradicts(one, other), (name, one, other, read)
