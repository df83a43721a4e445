"""What a list of acts comes to."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curves.files.base.tables import read_table
from curves.files.entry.entry import Act, Plan, Slot, acts_of_rows, standing, table_text
from curves.sensitometry.core.units import Channel

RGB: tuple[Channel, ...] = ("red", "green", "blue")
PLAN = Plan(RGB, (1.0, 2.0, 3.0, 4.0))


def read(step: int, *values: float, what: str = "read", plan: Plan = PLAN) -> Act:
    assert what in ("read", "repeat")
    return Act("read" if what == "read" else "repeat", Slot(step, plan.channels), values)


def test_steps_follow_one_another_from_the_end_that_is_read_first() -> None:
    assert standing(PLAN, []).next == Slot(1, RGB)
    assert standing(PLAN, [read(1, 0.1, 0.2, 0.3)]).next == Slot(2, RGB)
    dark = Plan(RGB, (1.0, 2.0, 3.0, 4.0), first_end="dark")
    assert standing(dark, []).next == Slot(4, RGB)


def test_a_reading_by_channels_takes_the_strip_once_for_each() -> None:
    plan = Plan(("red", "visual"), (1.0, 2.0), by="channel")
    acts = [Act("read", Slot(1, ("red",)), (0.1,)), Act("read", Slot(2, ("red",)), (0.2,))]
    found = standing(plan, acts)
    assert found.next == Slot(1, ("visual",))
    assert table_text(plan, found.rows) == "step,red\n1,0.10\n2,0.20\n"
    found = standing(plan, [*acts, Act("read", Slot(1, ("visual",)), (0.3,))])
    assert table_text(plan, found.rows) == "step,red,visual\n1,0.10,0.30\n2,0.20,\n"


def test_a_repeat_stands_beside_the_first_reading() -> None:
    acts = [read(1, 0.1, 0.2, 0.3), read(2, 0.4, 0.5, 0.6), read(1, 0.12, 0.22, 0.32, what="repeat")]
    found = standing(PLAN, acts)
    assert [step for step, _ in found.rows] == [1, 1, 2]
    assert found.next == Slot(3, RGB)
    assert found.done == 2


def test_going_back_replaces_a_reading_and_then_goes_on_where_it_was() -> None:
    acts = [read(1, 0.1, 0.2, 0.3), read(2, 0.4, 0.5, 0.6), Act("go", Slot(1, RGB)), read(1, 0.11, 0.21, 0.31)]
    found = standing(PLAN, acts)
    assert found.read["red"] == {1: 0.11, 2: 0.4}
    assert found.next == Slot(3, RGB)


def test_a_step_left_out_is_not_asked_for_again_but_can_be_gone_to() -> None:
    acts = [Act("skip", Slot(1, RGB)), *[read(n, 0.1, 0.2, 0.3) for n in (2, 3, 4)]]
    assert standing(PLAN, acts).next is None
    assert standing(PLAN, [*acts, Act("go", Slot(1, RGB))]).next == Slot(1, RGB)


def test_ending_leaves_out_the_rest() -> None:
    found = standing(PLAN, [read(1, 0.1, 0.2, 0.3), Act("end", Slot(2, RGB))])
    assert (found.next, found.left, found.done) == (None, 0, 1)


def test_a_questioned_reading_that_was_kept_is_read_but_not_trusted() -> None:
    found = standing(PLAN, [Act("read", Slot(1, RGB), (0.1, 0.2, 0.3), kept=True)])
    assert found.read["red"] == {1: 0.1}
    assert found.trusted["red"] == {}


def test_readings_are_written_with_the_digits_they_were_typed_with() -> None:
    found = standing(PLAN, [read(1, 0.1, 0.125, 2.0)])
    assert table_text(PLAN, found.rows) == "step,red,green,blue\n1,0.10,0.125,2.00\n"


ACTS = st.lists(
    st.one_of(
        st.builds(
            Act,
            st.sampled_from(["read", "repeat"]),
            st.builds(Slot, st.integers(1, 4), st.just(RGB)),
            st.tuples(*[st.one_of(st.none(), st.integers(0, 400).map(lambda n: n / 100))] * 3).filter(any),
        ),
        st.builds(Act, st.sampled_from(["skip", "go", "end"]), st.builds(Slot, st.integers(1, 4), st.just(RGB))),
    ),
    max_size=20,
)


@given(ACTS)
def test_whatever_was_done_the_counts_agree_and_the_table_holds_every_reading(acts: list[Act]) -> None:
    found = standing(PLAN, acts)
    assert found.done + found.left <= PLAN.steps
    assert (found.next is None) <= (found.left == 0)
    repeats = [a for a in acts if a.what == "repeat"]
    assert len(found.rows) == len({s for by in found.read.values() for s in by}) + len(repeats)


@pytest.mark.parametrize("by", ["step", "channel"])
def test_a_table_goes_into_an_entry_and_comes_out_the_same(tmp_path: Path, by: str) -> None:
    text = "step,red,green,blue\n1,0.10,0.20,0.30\n1,0.12,,0.31\n2,0.40,0.50,\n4,0.70,0.80,0.90\n"
    path = tmp_path / "strip.csv"
    path.write_text(text, encoding="utf-8")
    table = read_table(path, ("step", *RGB))
    plan = Plan(RGB, (1.0, 2.0, 3.0, 4.0), by="step" if by == "step" else "channel")
    acts = acts_of_rows(plan, table.numbers("step"), {c: table.numbers(c) for c in RGB})
    written = table_text(plan, standing(plan, acts).rows)
    if by == "step":
        assert written == text
    for channel in RGB:
        path.write_text(written, encoding="utf-8")
        again = read_table(path, ("step", *RGB))
        before = [v for v in table.numbers(channel) if v == v]
        assert [v for v in again.numbers(channel) if v == v] == before
