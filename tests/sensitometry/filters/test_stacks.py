import math
import time

import numpy as np
import pytest

from curves.errors import RecordError
from curves.sensitometry.core.units import nominal_speed
from curves.sensitometry.filters.densities import CC_COLOURS, Filter, cc_densities, filter_of
from curves.sensitometry.filters.prediction import predict
from curves.sensitometry.filters.stacks import (
    ADDING,
    SHOWN,
    STOP_WORTH,
    FilterRows,
    best_stacks,
    enumerate_stacks,
    find_stacks,
    predict_stack,
    rank_stacks,
    stack_densities,
)
from tests.sensitometry.filters.test_filters import bare


def drawer(count: int = 8, seed: int = 3) -> list[Filter]:
    rng = np.random.default_rng(seed)
    return [filter_of(f"filter {n}", np.round(0.4 * rng.random(3), 2).tolist(), "film") for n in range(count)]


def test_thirty_filters_make_31930_stacks_of_up_to_four() -> None:
    members = enumerate_stacks([1] * 30, 4)
    # 30 + 435 + 4060 + 27405, and the stack of none.
    assert [len(group) for group in members] == [1, 30, 435, 4060, 27405]
    assert len({tuple(m) for m in members[3].tolist()}) == 4060


def test_all_stacks_of_thirty_filters_are_ranked_for_less_than_a_thousand_predictions_cost() -> None:
    # Both on this machine, under whatever load; one by one it would be 31,931.
    strip, filters = bare(), drawer(30)
    shifts = stack_densities(np.array([f.densities for f in filters]), enumerate_stacks([1] * 30, 4))
    predict(strip, strip.none)
    started = time.process_time()
    predict(strip, np.broadcast_to(shifts[-1], strip.none.shape))
    one = time.process_time() - started
    cast, cost = rank_stacks(strip, shifts)
    assert time.process_time() - started < 1000.0 * one
    assert cast.size == cost.size == 31931


def test_each_filter_is_used_as_often_as_it_is_there() -> None:
    found = [tuple(m) for group in enumerate_stacks([2, 1, 0], 3) for m in group.tolist()]
    assert found == [(), (0,), (1,), (0, 0), (0, 1), (0, 0, 1)]


@pytest.mark.parametrize(
    ("counts", "most", "sizes"), [([2, 2], 2, [1, 2, 3]), ([1, 1, 1], 2, [1, 3, 3]), ([2, 1], 5, [1, 2, 2, 1])]
)
def test_no_stack_is_larger_than_asked_for_or_than_the_drawer(counts: list[int], most: int, sizes: list[int]) -> None:
    assert [len(group) for group in enumerate_stacks(counts, most)] == sizes


def test_too_many_stacks_are_refused_in_words() -> None:
    with pytest.raises(RecordError) as caught:
        enumerate_stacks([1] * 80, 5)
    assert str(caught.value) == (
        "the drawer allows 25,706,996 stacks of up to 5 filters; needed: at most 1,000,000.\n"
        "Try: look at smaller stacks (most=4)."
    )
    assert sum(math.comb(80, size) for size in range(1, 6)) == 25_706_996


def test_ranking_agrees_with_the_full_prediction() -> None:
    strip, filters = bare(), drawer()
    members = enumerate_stacks([1] * 8, 2)
    shifts = stack_densities(np.array([f.densities for f in filters]), members)
    cast, cost = rank_stacks(strip, shifts)
    for number in range(0, len(shifts), 5):
        whole = predict(strip, np.broadcast_to(shifts[number], (strip.rows, 3)))
        assert whole.cost.value == pytest.approx(cost[number], abs=1e-3)
        assert whole.cast_left.value == pytest.approx(cast[number], abs=1e-3)


def test_nothing_is_listed_that_another_beats_in_both() -> None:
    strip, filters = bare(), drawer()
    found = find_stacks(strip, filters, most=3)
    cast, cost = rank_stacks(
        strip, stack_densities(np.array([f.densities for f in filters]), enumerate_stacks([1] * 8, 3))
    )
    listed = [(s.prediction.cast_left.value or 0.0, s.prediction.cost.value or 0.0) for s in found.listed]
    for one_cast, one_cost in listed:
        assert not ((cast < one_cast - 2e-3) & (cost < one_cost - 2e-3)).any()
    assert listed == sorted(listed)
    assert [c for _, c in listed] == sorted((c for _, c in listed), reverse=True)
    assert found.listed[-1].names == ()
    assert found.counted == len(cast) - 1
    worth = [c + STOP_WORTH * k for c, k in listed]
    assert found.best is found.listed[worth.index(min(worth))]


def test_a_dozen_is_kept_with_both_ends_and_the_best() -> None:
    cost = np.arange(40.0)[::-1] / 10
    cast = 0.01 + 0.2 * (np.arange(40.0) / 40) ** 2
    kept = best_stacks(cast, cost, SHOWN)
    assert kept.size == SHOWN
    assert {0, 39, int((cast + STOP_WORTH * cost).argmin())} <= set(kept.tolist())


def test_dear_stacks_are_left_out_and_counted() -> None:
    found = find_stacks(bare(), drawer(), most=3, max_stops=0.8)
    assert found.too_dear > 0
    assert max(s.prediction.cost.value or 0.0 for s in found.listed) <= 0.8 + 1e-3
    assert [s.names for s in find_stacks(bare(), drawer(), max_stops=0.0).listed] == [()]


def test_the_two_meters_differ_by_the_factor_of_the_stack() -> None:
    grey = filter_of("half", (0.3, 0.3, 0.3), "film", visual=0.30, uncertainty=0.001)
    strip = bare()
    one = predict_stack(strip, FilterRows.of([grey], strip.rows, 0), (0,))
    assert one.prediction.ei.value is not None
    assert one.ei_through.value == pytest.approx(one.prediction.ei.value * 10**0.30)
    # A neutral filter cancels for a meter that looks through it: the bare index, a whole stop between the two.
    assert one.ei_through.value == pytest.approx(strip.metering.index_at_zero * 10 ** -float(strip.grey[0]), rel=2e-3)
    assert one.factor.value == pytest.approx(10**0.30)


def test_the_more_is_known_of_a_filter_the_narrower_is_its_cast() -> None:
    widths = []
    strip = bare()
    for uncertainty in (0.0, 0.02, 0.08):
        one = filter_of("x", (0.2, 0.1, 0.0), "film", uncertainty=uncertainty)
        cast = predict_stack(strip, FilterRows.of([one], strip.rows, 0), (0,)).prediction.casts["grey"]
        widths.append(cast.layers["red"].half_width or 0.0)
    assert widths == sorted(widths)
    assert widths[2] > 2 * widths[0]


def test_the_same_filter_has_the_same_error_in_every_stack() -> None:
    filters = drawer(3)
    drawn = FilterRows.of(filters, 50, 0)
    triple, pair, single = (drawn.stack(members)[0] for members in ((0, 1, 2), (0, 1), (2,)))
    assert triple - pair == pytest.approx(single)
    assert pair[0] == pytest.approx(filters[0].densities + filters[1].densities)


def test_adding_densities_is_itself_unsure() -> None:
    exact = [filter_of(name, (0.1, 0.2, 0.3), "film", uncertainty=0.0) for name in ("one", "other")]
    drawn = FilterRows.of(exact, 4001, 0)
    assert drawn.stack((0,))[0].std() == pytest.approx(drawn.stack((0,))[0][0].std())
    assert drawn.stack((0, 1))[0].std(axis=0) == pytest.approx([np.hypot(*ADDING)] * 3, rel=0.05)


def test_stacks_that_differ_by_less_than_their_uncertainty_are_not_told_apart() -> None:
    near = [filter_of(f"{c} CC{v:02.0f}", cc_densities(v, c).tolist(), "nominal") for c in CC_COLOURS for v in (5, 20)]
    found = find_stacks(bare(), near, most=2)
    told = {one.told_apart for one in found.listed[1:]}
    assert told == {True, False}
    for one in found.listed[1:]:
        assert one.worse_than_before is not None
        assert one.worse_than_before.low is not None
        assert one.told_apart == (one.worse_than_before.low > 0.0)


@pytest.mark.parametrize("name", ["heron-reversal", "heron-negative"])
def test_the_index_for_either_meter_is_rounded_to_the_dial(name: str) -> None:
    strip = bare(name=name)
    one = predict_stack(strip, FilterRows.of([filter_of("amber", (0.0, 0.1, 0.3), "film")], strip.rows, 0), (0,))
    for index, dial in ((one.prediction.ei, one.nominal), (one.ei_through, one.nominal_through)):
        assert index.value is not None
        assert dial == nominal_speed(index.value)


def test_a_stack_that_moves_the_scene_off_the_strip_has_no_index_for_either_meter() -> None:
    strip = bare()
    dense = filter_of("black", (0.0, 4.0, 4.0), "film")
    one = predict_stack(strip, FilterRows.of([dense], strip.rows, 0), (0,))
    assert (one.prediction.ei.value, one.ei_through.value) == (None, None)
    assert (one.nominal, one.nominal_through) == (None, None)
