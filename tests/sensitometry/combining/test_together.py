"""Several strips of one film as one index: coverage over simulated films, contradictions, bounds, refusals."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from curves import Choices, Contact, Strip, StripError, analyse, load_strip
from curves.sensitometry.combining.together import _in_stops, _offsets, _paired, common_value, together
from curves.sensitometry.comparison.pairs import EXPOSED_AGAIN
from curves.sensitometry.core.quantity import NORMAL
from tests.bench.together import count, exposed
from tests.simulate import FOLDER

FEW = Choices(draws=250, most_draws=250)


@pytest.mark.parametrize(
    ("films", "held", "told"),
    # 38 of 40 are expected to be held, and 34 or fewer in less than one run of a hundred; two are expected to be told.
    [(7, 5, 2), pytest.param(40, 35, 5, marks=pytest.mark.slow)],
)
def test_the_common_index_holds_the_truth_and_nothing_is_told_for_nothing(films: int, held: int, told: int) -> None:
    """Count films of families that no constant was chosen by, three strips each; `tests.bench.together` has more."""
    found = count(films, 3)
    assert found["refused"] == 0
    assert found["held"] >= held
    assert found["told"] <= told
    assert found["width"] < found["alone"]


@pytest.mark.parametrize(
    ("films", "told", "named", "held"),
    # Nine of ten are asked to be told.
    [(6, 5, 4, 4), pytest.param(30, 25, 21, 26, marks=pytest.mark.slow)],
)
def test_a_strip_that_is_off_by_a_stop_is_told_and_named(films: int, told: int, named: int, held: int) -> None:
    found = count(films, 3, off=1.0)
    assert found["told"] >= told
    assert found["named"] >= named
    assert found["held"] >= held


@pytest.mark.parametrize(("films", "held"), [(6, 5), pytest.param(20, 17, marks=pytest.mark.slow)])
def test_a_negative_has_a_common_index_too(films: int, held: int) -> None:
    found = count(films, 2, kind="negative")
    assert found["held"] >= held
    assert found["refused"] == 0


def test_weights_fall_to_the_strip_that_is_surest() -> None:
    strips = exposed(3, 2).strips
    unsure = replace(strips[0], exposure=replace(strips[0].exposure, uncertainty_stops=0.6))
    found = together(unsure, strips[1], choices=FEW)
    weights = [share.weight or 0.0 for share in found.strips]
    assert sum(weights) == pytest.approx(1.0)
    assert weights[1] > 4.0 * weights[0]


def test_what_all_strips_share_is_named_and_not_averaged_away() -> None:
    found = together(*exposed(8, 5).strips, choices=FEW)
    assert "meter's constant" in [source.name for source in found.shared]
    alone = min((share.index.u or 0.0) / (share.index.value or 1.0) for share in found.strips)
    assert (found.recommended.u or 0.0) / (found.recommended.value or 1.0) < alone
    assert common_value(*(share.analysis for share in found.strips)) == found.recommended


def test_a_slip_that_the_errors_hide_in_the_indexes_shows_in_the_curves() -> None:
    # Found among simulated pairs of which one got a stop more than its record states.
    found = together(*exposed(3015, 2, off=1.0).strips, choices=FEW)
    apart = found.strips[0].apart
    assert apart.value is not None
    assert apart.u is not None
    assert abs(apart.value) < NORMAL * apart.u
    (offset,) = found.offsets
    assert offset.is_there
    assert offset.more.value == pytest.approx(1.0, abs=NORMAL * (offset.more.u or 0.0))
    assert found.agreement is not None
    assert found.agreement.contradicts


def test_curves_that_lie_where_the_records_put_them_show_no_offset() -> None:
    found = together(*exposed(3015, 2).strips, choices=FEW)
    assert not found.offsets[0].is_there
    assert found.agreement is not None
    assert not found.agreement.contradicts


def test_offsets_between_curves_carry_the_errors_by_which_the_indexes_differ() -> None:
    """The meter's constant is in the index of a contact strip alone, and in what a bracket's curve shows of it."""
    pair = [analyse(demo(name), FEW) for name in ("heron-reversal", "heron-frames")]
    rows = _paired([_in_stops(one.working_ei.recommended) for one in pair])
    offsets = _offsets(pair, rows.shape[1])
    between, shown = offsets.links[0] @ rows, offsets.rows[0]
    # What is left of both is how readings and fits scatter; with the constant counted wrong it would be more, not less.
    assert (between - shown)[1:].std() < 0.6 * between[1:].std()


def test_one_exposure_by_one_light_against_another_is_uncertain_by_what_shutters_scatter() -> None:
    strip = demo("heron-reversal")
    rng = np.random.default_rng(1)
    read = {c: np.round(v + 0.01 * rng.standard_normal(v.shape), 2) for c, v in strip.readings.items()}
    pair = [analyse(one, FEW) for one in (strip, replace(strip, title="again", readings=read))]
    one, other = _paired([_in_stops(each.working_ei.recommended) for each in pair])
    # Own arithmetic: two exposures, each off by itself, beside what the two strips do not share of readings and fits.
    expected = np.hypot((one - other)[1:].std(), np.sqrt(2.0) * EXPOSED_AGAIN)
    assert together(*pair).strips[0].apart.u == pytest.approx(expected, rel=0.05)


def demo(name: str) -> Strip:
    """Return a demo strip."""
    return load_strip(FOLDER / f"{name}.toml")


def test_a_strip_that_shows_only_a_bound_is_left_out_and_held_against_the_others() -> None:
    found = together(demo("heron-reversal"), demo("heron-frames"), demo("heron-short"), choices=FEW)
    short = found.strips[2]
    assert short.weight is None
    assert short.index.bound is not None
    assert short.fit == "agrees"
    assert len(found.taking_part) == 2


def test_a_bound_that_the_others_contradict_is_told() -> None:
    lost = demo("heron-short")
    # Eight times the light that was there: the bound on its index falls below the index of the others.
    lost = replace(lost, exposure=Contact(8.0 * 150.0, 0.02, 0.1, light="daylight 5500 K"))
    found = together(demo("heron-reversal"), demo("heron-frames"), lost, choices=FEW)
    assert found.strips[2].fit == "contradicts"


def test_one_index_beside_bounds_stays_as_it_is() -> None:
    full = analyse(demo("heron-reversal"), FEW)
    found = together(full, analyse(demo("heron-short"), FEW))
    assert found.agreement is None
    assert found.recommended == full.working_ei.recommended
    assert found.scatter.value is None


def test_no_strip_with_an_index_is_an_error_with_what_to_do() -> None:
    short = demo("heron-short")
    other = replace(short, title="again", readings={c: v + 0.01 for c, v in short.readings.items()})
    with pytest.raises(StripError, match="no strip shows an index") as caught:
        together(short, other, choices=FEW)
    assert "exposure" in str(caught.value)


@pytest.mark.parametrize(
    ("others", "words"),
    [
        (("heron-reversal",), "one strip has nothing to be combined with"),
        (("heron-reversal", "heron-reversal"), "its exposures and readings are those of another strip"),
        (("heron-reversal", "wren-reversal"), "film is Wren 25, but Heron 80"),
        (("heron-reversal", "heron-negative"), "kind is negative, but reversal"),
        (("heron-reversal", "heron-filtered"), "filter is pale blue 40 mired"),
    ],
)
def test_strips_that_are_not_of_one_film_are_refused(others: tuple[str, ...], words: str) -> None:
    with pytest.raises(StripError) as caught:
        together(*(demo(name) for name in others), choices=FEW)
    assert words in str(caught.value)


def test_analyses_under_different_choices_are_refused() -> None:
    strips = exposed(2, 2).strips
    with pytest.raises(StripError, match="different choices"):
        together(analyse(strips[0], FEW), analyse(strips[1], replace(FEW, seed=1)))


def test_without_draws_nothing_is_combined() -> None:
    with pytest.raises(StripError, match="without draws"):
        together(*exposed(2, 2).strips, choices=Choices(draws=0, most_draws=0))
