"""The sheet of an entry: what is typed next, what the table holds, and what taking back brings back."""

from __future__ import annotations

import itertools
import json
from collections.abc import Callable
from dataclasses import asdict

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curves.files.entry.sheet import Line, Plan, Sheet, StepRows
from curves.sensitometry.core.units import Channel

RGB: tuple[Channel, ...] = ("red", "green", "blue")
PLAN = Plan(RGB, (1.0, 2.0, 3.0, 4.0))
BY_CHANNEL = Plan(("red", "visual"), (1.0, 2.0), by="channel")


def line(step: int, *channels: Channel) -> Line:
    return Line(step, channels or RGB)


def densities(red: float, channels: tuple[Channel, ...] = RGB) -> dict[Channel, float]:
    """Return densities that differ by 0.1 from channel to channel."""
    return {c: round(red + 0.1 * n, 2) for n, c in enumerate(channels)}


def sheet(*red: float) -> Sheet:
    """Return a sheet on which as many steps are read."""
    filled = Sheet(PLAN)
    for step, density in enumerate(red, start=1):
        filled = filled.enter(line(step), densities(density))
    return filled


def test_steps_follow_one_another_from_the_end_that_is_read_first() -> None:
    assert sheet().next == line(1)
    assert sheet(0.1).next == line(2)
    assert sheet(0.1, 0.2, 0.3, 0.4).next is None
    assert Sheet(Plan(RGB, PLAN.positions, first_end="dark")).next == line(4)


def test_a_reading_by_channels_takes_the_strip_once_for_each() -> None:
    filled = Sheet(BY_CHANNEL).enter(line(1, "red"), {"red": 0.1}).enter(line(2, "red"), {"red": 0.2})
    assert filled.next == line(1, "visual")
    assert filled.table_text() == "step,red\n1,0.10\n2,0.20\n"
    filled = filled.enter(line(1, "visual"), {"visual": 0.3})
    assert filled.table_text() == "step,red,visual\n1,0.10,0.30\n2,0.20,\n"
    assert filled.lines_read == 3


def test_a_repeat_stands_beside_the_first_reading() -> None:
    filled = sheet(0.1, 0.4).repeat(line(1), densities(0.12))
    assert [step for step, _ in filled.table_rows()] == [1, 1, 2]
    assert (filled.next, filled.last, filled.lines_read) == (line(3), line(1), 2)
    assert filled.densities()["red"] == {1: 0.1, 2: 0.4}


def test_going_back_replaces_a_reading_and_then_goes_on_where_it_was() -> None:
    there = sheet(0.1, 0.4).go_to(line(1))
    assert there.next == line(1)
    filled = there.enter(line(1), densities(0.11))
    assert filled.densities()["red"] == {1: 0.11, 2: 0.4}
    assert filled.next == line(3)


def test_a_new_first_reading_drops_channels_it_has_not_and_keeps_repeats() -> None:
    filled = sheet(0.1).repeat(line(1), densities(0.12)).enter(line(1), {"red": 0.3})
    assert filled.rows[1] == ({"red": 0.3}, densities(0.12))


def test_a_step_left_out_is_not_asked_for_again_but_can_be_gone_to() -> None:
    filled = sheet().leave_out(line(1))
    assert filled.next == line(2)
    for step in (2, 3, 4):
        filled = filled.enter(line(step), densities(0.1))
    assert filled.next is None
    there = filled.go_to(line(1))
    assert there.next == line(1)
    assert there.enter(line(1), densities(0.1)).left_out == ()


def test_a_read_step_that_is_left_out_loses_its_readings_until_that_is_taken_back() -> None:
    filled = sheet(0.1, 0.2).repeat(line(2), densities(0.21))
    out = filled.leave_out(line(2))
    assert out.table_rows() == filled.table_rows()[:1]
    assert out.last == line(1)
    assert out.take_back() == filled


def test_a_line_left_open_is_asked_for_at_the_end() -> None:
    filled = sheet(0.1).go_to(line(3)).enter(line(3), densities(0.3))
    assert filled.next == line(4)
    assert filled.enter(line(4), densities(0.4)).next == line(2)


def test_ending_leaves_out_the_rest() -> None:
    ended = sheet(0.1).end()
    assert (ended.next, ended.lines_open, ended.lines_read) == (None, (), 1)


def test_a_questioned_reading_that_was_kept_is_read_but_not_trusted() -> None:
    filled = sheet(0.1).enter(line(2), densities(0.2), doubtful=True)
    assert filled.densities()["red"] == {1: 0.1, 2: 0.2}
    assert filled.densities(trusted=True)["red"] == {1: 0.1}
    assert filled.enter(line(2), densities(0.3)).densities(trusted=True)["red"] == {1: 0.1, 2: 0.3}


def test_readings_are_written_with_the_digits_they_were_typed_with() -> None:
    filled = Sheet(PLAN).enter(line(1), {"red": 0.1, "green": 0.125, "blue": 2.0})
    assert filled.table_text() == "step,red,green,blue\n1,0.10,0.125,2.00\n"


def test_what_is_taken_back_is_named() -> None:
    done = sheet(0.1).repeat(line(1), {"red": 0.1, "blue": 0.3}).go_to(line(4)).leave_out(line(4)).end()
    done = done.add_patch("fully_exposed", {}).add_notes("dust")
    assert [change.what for change in done.changes] == [
        "step 1, 0.10 0.20 0.30", "a repeat of step 1, 0.10 - 0.30", "going to step 4", "leaving out step 4", "ending",
        "the patch fully exposed", "the notes",
    ]  # fmt: skip


def test_a_table_read_before_is_taken_over_row_by_row() -> None:
    rows: dict[int, StepRows] = {1: (densities(0.1), densities(0.12)), 3: ({"red": 0.3},)}
    filled = sheet().matched(rows)
    assert filled.rows == rows
    assert (filled.next, filled.last, filled.lines_read) == (line(2), line(3), 2)
    assert [change.what for change in filled.changes] == ["step 1, 0.10 0.20 0.30", "step 3, 0.30 - -"]
    by_channel = Sheet(Plan(("red", "green"), (1.0, 2.0, 3.0), by="channel")).matched({1: ({"red": 0.1},)})
    assert by_channel.next == line(2, "red")


def test_a_row_that_another_hand_changed_or_removed_can_be_taken_back() -> None:
    filled = sheet(0.1, 0.2, 0.3)
    other: dict[int, StepRows] = {1: (densities(0.15),), 3: filled.rows[3]}
    found = filled.matched(other)
    assert (found.rows, found.next) == (other, line(4))
    assert [change.what for change in found.changes[3:]] == ["step 1, 0.15 0.25 0.35", "step 2"]
    assert found.take_back().take_back() == filled
    assert found.enter(line(4), densities(0.4)).next == line(2)


STEP = st.integers(1, 4)
ACTS: st.SearchStrategy[Callable[[Sheet], Sheet]] = st.one_of(
    st.builds(lambda n, d: lambda s: s.enter(line(n), densities(d / 100)), STEP, st.integers(0, 400)),
    st.builds(lambda n, d: lambda s: s.repeat(line(n), densities(d)) if n in s.rows else s.end(), STEP, st.just(0.5)),
    st.builds(lambda n: lambda s: s.leave_out(line(n)), STEP),
    st.builds(lambda n: lambda s: s.go_to(line(n)), STEP),
    st.just(Sheet.end),
    st.just(lambda s: s.add_patch("base", densities(0.2))),
)


@given(st.lists(ACTS, max_size=12))
def test_whatever_was_done_is_taken_back_one_by_one_and_goes_through_json(acts: list[Callable[[Sheet], Sheet]]) -> None:
    sheets = [Sheet(PLAN)]
    for act in acts:
        sheets.append(act(sheets[-1]))
    for before, after in itertools.pairwise(sheets):
        assert after.take_back() == before
        assert after.lines_read + len(after.lines_open) <= len(PLAN.lines)
        assert Sheet.from_content(json.loads(json.dumps(asdict(after)))) == after
        # A table that lacks the change has it taken back; one that has it leaves the sheet as it is.
        assert after.matched(after.rows) == after
        assert after.matched(before.rows) == (after if after.rows == before.rows else before)


@pytest.mark.parametrize("content", [{}, {"plan": 3, "rows": {}, "changes": []}, {"plan": {}, "rows": {"x": []}}])
def test_what_is_not_a_sheet_is_not_taken_for_one(content: dict[str, object]) -> None:
    with pytest.raises((KeyError, TypeError, ValueError)):
        Sheet.from_content(content)
