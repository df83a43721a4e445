"""Differences of numbers are free of the errors that two strips share."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from curves import Analysis, Choices, Quantity, StripError, analyse, difference, difference_in_stops, load_strip
from curves.files.results.content import as_json
from curves.sensitometry.analysis.analyse import analyse_alone
from curves.sensitometry.uncertainty.intervals import summarise
from curves.sensitometry.uncertainty.sources import sources_of
from tests.simulate import FOLDER

QUICK = Choices(draws=1000, most_draws=1000)


@pytest.fixture(scope="module")
def bare() -> Analysis:
    return analyse(load_strip(FOLDER / "heron-reversal.toml"), QUICK)


@pytest.fixture(scope="module")
def filtered() -> Analysis:
    return analyse(load_strip(FOLDER / "heron-filtered.toml"), QUICK)


def t_of(analysis: Analysis) -> Quantity:
    return analysis.channels["green"].points["T"].log_h


def u_of(quantity: Quantity) -> float:
    assert quantity.u is not None
    return quantity.u


def test_the_difference_of_two_demo_strips_is_twice_as_sharp_as_unpaired(bare: Analysis, filtered: Analysis) -> None:
    # One wedge, one light, one reader: T of the green layer of heron-reversal and heron-filtered.
    # Regression: computed by this code with 4,000 draws, 0.025 paired and 0.061 unpaired [log10 H].
    one, other = t_of(bare), t_of(filtered)
    found = difference(one, other)
    assert u_of(found) == pytest.approx(0.025, abs=0.003)
    assert np.hypot(u_of(one), u_of(other)) == pytest.approx(0.061, abs=0.003)
    assert one.value is not None
    assert other.value is not None
    assert found.value == pytest.approx(one.value - other.value)


def test_the_interval_of_a_difference_is_that_of_a_nearly_normal_distribution(
    bare: Analysis, filtered: Analysis
) -> None:
    surer = Choices(draws=4000, most_draws=4000)
    one, other = (t_of(analyse_alone(a.strip, list(sources_of(a.strip)), surer)) for a in (bare, filtered))
    found = difference(one, other)
    # 1.96 standard uncertainties either way (tables of the normal distribution); ends of 4,000 draws scatter by 1.5 %.
    assert found.half_width == pytest.approx(1.96 * u_of(found), rel=0.04)


def test_indexes_are_compared_in_stops_and_lose_the_error_of_the_meter(bare: Analysis, filtered: Analysis) -> None:
    one, other = bare.working_ei.recommended, filtered.working_ei.recommended
    found = difference_in_stops(one, other)
    assert one.value is not None
    assert other.value is not None
    assert found.value == pytest.approx(np.log2(one.value / other.value))
    apart = np.hypot(u_of(one) / one.value, u_of(other) / other.value) / np.log(2.0)
    assert u_of(found) < 0.7 * apart


def test_a_number_less_itself_is_nothing_for_certain(bare: Analysis) -> None:
    for number in (t_of(bare), bare.working_ei.recommended, bare.channels["red"].measures["dmin"]):
        nothing = difference(number, number)
        assert (nothing.value, nothing.low, nothing.high, nothing.u) == (0.0, 0.0, 0.0, 0.0)


def test_strips_that_share_nothing_are_as_unsure_as_both_together(bare: Analysis) -> None:
    # Another wedge, another light, another film: wren-reversal; the meter is no part of T.
    one, other = bare.channels["visual"].points["T"].log_h, _wren().channels["visual"].points["T"].log_h
    assert u_of(difference(one, other)) == pytest.approx(np.hypot(u_of(one), u_of(other)), rel=0.06)


def _wren() -> Analysis:
    strip = load_strip(FOLDER / "wren-reversal.toml")
    return analyse(replace(strip, reader="another"), QUICK)


def test_an_analysis_of_more_draws_begins_with_those_of_one_of_fewer(bare: Analysis, filtered: Analysis) -> None:
    fewer = analyse(filtered.strip, replace(QUICK, draws=500, most_draws=500))
    assert u_of(difference(t_of(bare), t_of(fewer))) == pytest.approx(0.025, abs=0.003)
    few = analyse(filtered.strip, replace(QUICK, draws=100, most_draws=100))
    with pytest.raises(StripError, match="one number has 1000 draws, the other 100"):
        difference(t_of(bare), t_of(few))


def test_every_number_of_an_analysis_carries_its_rows(bare: Analysis) -> None:
    found = [q for c in bare.channels.values() for q in (*c.measures.values(), *(p.log_h for p in c.points.values()))]
    found += [bare.working_ei.recommended, *(c.ei for c in bare.working_ei.criteria.values())]
    found += [speed.value for speed in bare.speeds.values()]
    for q in found:
        if q.value is None:
            assert q.rows is None
            continue
        assert q.rows is not None
        assert q.rows.shape == (1001,)
        assert q.rows[0] == pytest.approx(q.value)


def test_rows_are_no_part_of_equality_of_repr_or_of_json(bare: Analysis) -> None:
    number = t_of(bare)
    without = replace(number, rows=None)
    assert number == without
    assert hash(number) == hash(without)
    assert repr(number) == repr(without)
    assert "rows" not in as_json([bare])


def test_a_draw_that_runs_off_one_strip_is_left_out_of_a_difference() -> None:
    rows = np.array([0.5, *np.linspace(0.0, 1.0, 21)])
    some = np.where(rows > 0.92, np.nan, rows)
    found = difference(summarise(rows), summarise(some, beyond=1.0))
    assert (found.value, found.low, found.high) == (0.0, 0.0, 0.0)
    mostly = np.where(rows > 0.5, np.nan, rows)
    assert difference(summarise(rows), summarise(mostly)).note is None
    most = np.where((rows > 0.2) & (rows != 0.5), np.nan, rows)
    assert difference(summarise(rows), summarise(most)).note == "no interval: too near the end of the strip"


def test_a_draw_without_a_value_and_without_an_end_is_left_out_of_an_interval() -> None:
    rows = np.array([0.5, *np.linspace(0.0, 1.0, 21), np.nan])
    assert replace(summarise(rows, beyond=rows), note=None) == summarise(rows[:-1])


def test_what_is_not_known_has_no_difference_and_what_carries_no_draws_is_refused(bare: Analysis) -> None:
    missing = difference(t_of(bare), Quantity.missing("the strip ends at density 0.85"))
    assert missing.value is None
    assert missing.why == "the second number is not known: the strip ends at density 0.85"
    assert (
        difference(Quantity.missing("off the strip"), t_of(bare)).why == "the first number is not known: off the strip"
    )
    with pytest.raises(StripError, match="a number carries no draws"):
        difference(t_of(bare), Quantity(0.3, 0.2, 0.4))


def test_without_draws_there_is_a_difference_without_an_interval(bare: Analysis, filtered: Analysis) -> None:
    none = Choices(draws=0, most_draws=0)
    found = difference(*(t_of(analyse(a.strip, none)) for a in (bare, filtered)))
    assert found.value is not None
    assert found.low is None
    assert found.note == "no interval: no draws were made"
