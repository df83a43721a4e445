"""Differences of two strips: what cancels, what a difference says, and what would tell."""

import math
from dataclasses import replace
from functools import cache

import pytest

from curves import Choices, analyse, compare, load_strip
from curves.errors import StripError
from curves.sensitometry.comparison.differences import (
    NumberDifference,
    StripComparison,
    Tolerances,
    compare_strips,
    verdict_on,
)
from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import LAYERS, STOP
from curves.sensitometry.strip.exposure import Contact
from curves.sensitometry.strip.wedge import Wedge
from curves.sensitometry.uncertainty.results import Analysis
from curves.views.many.comparison import difference_words
from tests.bench.comparing import count, error_of_all, of_all
from tests.bench.comparing import pair as pair_of
from tests.draws import FEW_DRAWS
from tests.sensitometry.filters.test_filter_shift import moved, strip
from tests.simulate import FOLDER, scenarios

CHOICES = Choices(draws=500, most_draws=500)


@cache
def read(seed: int, title: str = "") -> Analysis:
    """Return one reading of the demo film, exposed in the club's room."""
    one = strip(scenarios()["heron-reversal"].film, seed)
    return analyse(replace(one, title=title or f"reading {seed}"), CHOICES)


@cache
def pair() -> StripComparison:
    (found,) = compare_strips([read(1), read(2)])
    return found


def of(found: StripComparison, name: str, channel: str | None) -> NumberDifference:
    """Return the difference of one number."""
    return next(one for one in found.differences if one.first.key == (name, channel))


@pytest.mark.parametrize(
    ("low", "value", "high", "verdict"),
    [
        (0.1, 0.5, 0.9, "differs"),
        (-0.9, -0.5, -0.1, "differs"),
        (0.1, 0.2, 0.3, "slight"),
        (-0.1, 0.0, 0.1, "alike"),
        (-0.1, 0.2, 0.5, "open"),
        (0.0, 0.2, 0.5, "open"),
        (-0.3333, 0.0, 0.3333, "alike"),
    ],
)
def test_a_difference_is_there_where_its_interval_leaves_out_zero_and_matters_beyond_the_tolerance(
    low: float, value: float, high: float, verdict: str
) -> None:
    assert verdict_on(Quantity(value, low, high), 1.0 / 3.0) == verdict


@pytest.mark.parametrize(
    ("ends", "words"),
    [
        ((0.31, 0.4, 0.52), "0.40 stops slower (0.31 to 0.52)"),
        ((0.04, 0.44, 0.93), "0.44 stops slower (0.04 to 0.93)"),
        ((-0.93, -0.44, -0.04), "0.44 stops faster (0.04 to 0.93)"),
        ((-0.04, 0.44, 0.93), "0.44 stops slower (-0.04 to 0.93)"),
        ((0.0, 0.4, 0.9), "0.4 stops slower (0.0 to 0.9)"),
        ((0.09, 0.4, 0.9), "0.4 stops slower (0.1 to 0.9)"),
    ],
)
def test_an_end_that_tells_a_difference_never_reads_like_none(ends: tuple[float, float, float], words: str) -> None:
    low, value, high = ends
    one = replace(of(pair(), "T", "green"), difference=Quantity(value, low, high))
    assert difference_words(one) == words


@pytest.mark.parametrize(
    ("bound", "verdict"),
    [
        (Quantity.missing("off the strip", above=0.1), "differs"),
        (Quantity.missing("off the strip", above=-0.1), "not known"),
        (Quantity.missing("off the strip", below=-0.1), "differs"),
        (Quantity.missing("off the strip", below=0.1), "not known"),
        (Quantity.missing("off the strip"), "not known"),
        (Quantity(0.5), "not known"),
    ],
)
def test_a_bound_tells_a_difference_only_where_it_leaves_out_zero(bound: Quantity, verdict: str) -> None:
    assert verdict_on(bound, 0.3) == verdict


def test_what_two_strips_share_cancels_and_the_scatter_of_their_exposures_stays() -> None:
    t = of(pair(), "T", "green")
    assert t.first.shown.u is not None
    alone = t.first.shown.u / STOP
    # Two readings, and two exposures of 0.05 stop each; light, wedge and reader's zero are left out.
    assert 0.07 < (t.difference.u or 0.0) < 0.75 * alone
    assert "light and time" in pair().shared
    assert "reading scatter" not in pair().shared
    assert pair().again == pytest.approx(math.sqrt(2.0) * 0.05, rel=0.05)
    dmin = of(pair(), "dmin", "green")
    assert dmin.difference.value == pytest.approx((dmin.second.shown.value or 0.0) - (dmin.first.shown.value or 0.0))


def test_a_film_that_needs_a_stop_more_is_slower_by_a_stop_at_every_point_and_no_denser() -> None:
    film = moved(scenarios()["heron-reversal"].film, dict.fromkeys(LAYERS, STOP))
    (found,) = compare_strips([read(1), analyse(strip(film, 3), CHOICES)])
    for name, channel in (("T", "red"), ("T", "visual"), ("M", "green")):
        one = of(found, name, channel)
        assert (one.verdict, one.first.more) == ("differs", "slower")
        assert one.difference.low is not None
        assert one.difference.high is not None
        assert one.difference.low < 1.0 < one.difference.high
    ei = of(found, "ei", None)
    assert (ei.verdict, ei.first.more) == ("differs", "faster")
    assert ei.difference.value == pytest.approx(-1.0, abs=0.4)
    assert of(found, "dmin", "green").verdict in ("alike", "open")
    # Worst news first.
    ranks = [one.rank for one in found.differences]
    assert ranks == sorted(ranks)


def test_strips_exposed_by_different_lights_share_no_light() -> None:
    brighter = read(2).strip
    assert isinstance(brighter.exposure, Contact)
    other = analyse(replace(brighter, exposure=replace(brighter.exposure, lux=30.0)), CHOICES)
    (found,) = compare_strips([read(1), other])
    assert "light and time" not in found.shared
    assert found.again == 0.0
    assert (of(found, "T", "green").difference.u or 0.0) > (of(pair(), "T", "green").difference.u or 0.0)
    # Where the light differs, points do; what does not rest on the light keeps its interval.
    one, other_light = (of(p, "dmin", "green").difference.u for p in (pair(), found))
    assert other_light == pytest.approx(one, rel=0.05)


def test_strips_exposed_by_one_light_for_different_times_share_the_error_of_the_light() -> None:
    longer = read(2).strip
    assert isinstance(longer.exposure, Contact)
    assert longer.exposure.seconds is not None
    other = analyse(replace(longer, exposure=replace(longer.exposure, seconds=2.0 * longer.exposure.seconds)), CHOICES)
    (found,) = compare_strips([read(1), other])
    assert "light and time" in found.shared
    assert found.again == pytest.approx(math.sqrt(2.0) * 0.05, rel=0.05)


def test_a_number_known_on_one_strip_and_bounded_on_the_other_has_a_bound() -> None:
    short, whole = (analyse(load_strip(FOLDER / f"{name}.toml"), CHOICES) for name in ("heron-short", "heron-reversal"))
    (found,) = compare_strips([whole, short])
    t = of(found, "T", "green")
    assert t.first.shown.high is not None
    assert t.second.shown.bound is not None
    assert t.difference.value is None
    assert t.difference.bound is not None
    assert t.difference.bound[0] == ">"
    assert t.difference.bound[1] == pytest.approx((t.second.shown.bound[1] - t.first.shown.high) / STOP)


def test_readings_and_strips_that_would_tell_are_counted() -> None:
    some = [one for one in pair().differences if one.verdict == "open"]
    assert some
    for one in some:
        assert one.strips is None or 2 <= one.strips <= 50
        # What readings do, strips that are read as often do as well.
        assert one.readings is None or (one.strips is not None and one.strips <= one.readings)
    assert any(one.readings for one in some)
    assert all(one.readings is None and one.strips is None for one in pair().differences if one.verdict != "open")


def test_a_wider_tolerance_turns_what_cannot_be_told_into_alike() -> None:
    (found,) = compare_strips([read(1), read(2)], Tolerances(3.0, 1.0, 1.0))
    assert {one.verdict for one in found.differences} <= {"alike", "slight", "not known"}


def test_all_pairs_are_judged_together_with_wider_intervals() -> None:
    three = [read(1), read(2), read(3)]
    first, every = compare_strips(three), compare_strips(three, pairs="all")
    assert [(p.first.strip.title, p.second.strip.title) for p in every] == [
        ("reading 1", "reading 2"), ("reading 1", "reading 3"), ("reading 2", "reading 3"),
    ]  # fmt: skip
    assert len(first) == 2
    # Bonferroni: 1 - 0.05 / 2 and 1 - 0.05 / 3 of a normal distribution, over 1.96 (tables of the normal distribution).
    for found, wider in ((first[0], 2.241 / 1.960), (every[0], 2.394 / 1.960)):
        one, alone = (of(p, "dmin", "green").difference.half_width or 0.0 for p in (found, pair()))
        assert one / alone == pytest.approx(wider, rel=1e-3)


def test_strips_of_different_kinds_are_refused() -> None:
    negative = analyse(load_strip(FOLDER / "heron-negative.toml"), CHOICES)
    with pytest.raises(StripError, match="kind is negative, but reversal on reading 1"):
        compare_strips([read(1), negative])
    with pytest.raises(StripError, match="nothing to be compared with"):
        compare_strips([read(1)])
    with pytest.raises(StripError, match="under different choices"):
        compare_strips([read(1), analyse(read(2).strip, Choices(draws=250))])
    with pytest.raises(StripError, match="stops"):
        Tolerances(stops=0.0)


def test_the_frame_holds_every_difference() -> None:
    frame = compare(read(1), read(2))
    assert len(frame) == len(pair().differences)
    t = frame[(frame["number"] == "T") & (frame["channel"] == "green")].iloc[0]
    assert t["difference"] == pytest.approx((t["value_2"] - t["value_1"]) / STOP)
    assert t["low"] < t["difference"] < t["high"]
    assert t["unit"] == "stops"


def test_smoothing_is_shared_by_strips_of_one_named_film_on_one_ladder_alone() -> None:
    shared, widths = {}, {}
    for name, films in {"one": ("Heron 80", "Heron 80"), "two": ("Heron 80", "Wren 25"), "none": ("", "")}.items():
        strips = [
            replace(strip(scenarios()["heron-reversal"].film, seed), film=film) for seed, film in enumerate(films)
        ]
        (found,) = compare_strips([analyse(one, FEW_DRAWS) for one in strips])
        shared[name] = "smoothing" in found.shared
        low, high = of(found, "S", "visual").difference.known_ends
        widths[name] = high - low
    assert shared == {"one": True, "two": False, "none": False}
    # Readings and the exposure again are left of the difference's error: smoothing is a good part of that of S.
    assert widths["one"] < 0.9 * widths["two"]
    one = analyse(replace(strips[0], film="Heron 80"), FEW_DRAWS)
    for increment, alike in {0.149: True, 0.14: False}.items():
        other = replace(strips[1], film="Heron 80", wedge=Wedge.nominal(21, increment))
        (found,) = compare_strips([one, analyse(other, FEW_DRAWS)])
        assert ("smoothing" in found.shared, "wedge, step by step" in found.shared) == (alike, False)


@pytest.mark.slow
@pytest.mark.parametrize("shared", [True, False])
def test_a_difference_that_is_not_there_is_found_about_once_in_twenty(shared: bool) -> None:
    pairs = [pair_of(seed, shared=shared) for seed in range(5000, 5300)]
    found = count(pairs)
    told, of = of_all(found)
    # 4 to 6 %, and twice the standard error of 300 pairs.
    assert abs(told / of - 0.05) < 0.01 + 2.0 * error_of_all(pairs)
    for name in ("T", "ei", "gamma", "dmin", "dmax", "iso_2240"):
        assert found[name][0] <= 0.05 * found[name][1] + 2.5 * math.sqrt(0.05 * 0.95 * found[name][1]), name


@pytest.mark.slow
def test_a_difference_of_half_a_stop_is_found() -> None:
    pairs = [pair_of(seed, shared=True, stops=0.5) for seed in range(9000, 9100)]
    found = count(pairs)
    assert found["T"][0] > 0.95 * found["T"][1]
    assert found["iso_2240"][0] > 0.95 * found["iso_2240"][1]
    # Where its index is made by ISO 2240's mean or by the shadows of both strips it is known nearly as well; where by
    # the end of the highlights' detail, two errors of reading of 0.012 there are 0.3 stop.
    assert found["ei"][0] > 0.60 * found["ei"][1]
    sure = count(p for p in pairs if {a.working_ei.basis for a in (p.first, p.second)} in ({"middle"}, {"shadow"}))
    assert sure["ei"][1] > 30
    assert sure["ei"][0] > 0.85 * sure["ei"][1]
