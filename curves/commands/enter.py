"""``curves enter``: readings typed at the instrument, or taken from it, into a strip record."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

if TYPE_CHECKING:
    from curves.commands.terminal import Terminal
    from curves.files.entry.ongoing import Ongoing
    from curves.sensitometry.core.units import Channel


def enter(
    name: Annotated[Path, typer.Argument(metavar="NAME", help="The strip's record, with or without .toml.")],
    channels: Annotated[
        str | None, typer.Option(metavar="LIST", help="What is read, in the order typed, such as red,green,blue.")
    ] = None,
    first_end: Annotated[
        Literal["clear", "dark"] | None,
        typer.Option("--from", help="End of the wedge that is read first; clear if not said."),
    ] = None,
    by: Annotated[
        Literal["step", "channel"] | None,
        typer.Option(help="All channels of a step on one line, or the strip channel by channel; by step if not said."),
    ] = None,
    stream: Annotated[
        bool, typer.Option("--stream", help="Take lines that an instrument prints, from a pipe.")
    ] = False,
    pattern: Annotated[
        str | None, typer.Option(help="With --stream: a regular expression that finds the numbers in a line.")
    ] = None,
    no_point: Annotated[
        bool, typer.Option("--no-point", help="The instrument shows hundredths without a decimal point.")
    ] = False,
) -> None:
    """Enter a strip step by step; each line is on the disk before the next.

    Stop at any time: the same command goes on from there. Type ? for help.

    Example: curves enter heron-0411

    Example: curves enter heron-0411 --stream --channels visual < /dev/ttyUSB0
    """
    from curves.commands.entry_session import Entering, first_lines, plan_in_words, stop_text
    from curves.commands.terminal import Interruption, controlling_terminal, standard_terminal
    from curves.errors import OutputError, RecordError
    from curves.files.base.record_edits import record_content, record_path
    from curves.files.entry.instrument import NUMBERS
    from curves.files.entry.instrument import pattern as pattern_of
    from curves.files.entry.journal import Journal
    from curves.files.entry.ongoing import ENDING, Ongoing

    if name.suffix.lower() in (".csv", ".entry"):
        raise RecordError(
            "a strip is named by its record", where=str(name), hint=f"run curves enter {name.with_suffix('')}"
        )
    record = record_path(name)
    wanted = pattern_of(NUMBERS if pattern is None else pattern)
    if pattern is not None and not stream:
        raise RecordError("a pattern finds numbers in an instrument's lines", where="--pattern", needed="--stream too")
    terminal = controlling_terminal() if stream else standard_terminal()
    with Journal(record.with_suffix(ENDING)) as journal:
        ongoing = Ongoing(record, journal)
        try:
            if ongoing.progress.plan is None:
                _settle(ongoing, terminal, channels, first_end or "clear", by or "step")
            elif (first_end, by, channels) != (None, None, None):
                print(f"The entry goes on as it began: {plan_in_words(ongoing.plan)}.")
            if no_point and ongoing.progress.pointless is not True:
                ongoing.add({"is": "no point", "value": True})
            print(first_lines(ongoing), flush=True)
            there = record_content(record)
            entering = Entering(
                ongoing, terminal, [*there.get("patches", {}), *(["notes"] if "notes" in there else [])]
            )
            if stream:
                if hasattr(sys.stdin, "reconfigure"):
                    sys.stdin.reconfigure(errors="replace")
                entering.take_stream(sys.stdin, wanted)
            if terminal is not None:
                entering.ask_all()
            elif ongoing.standing.next is not None:
                raise Interruption
        except (Interruption, KeyboardInterrupt):
            print(stop_text(ongoing, name))
            return
        try:
            ongoing.finish()
        except OutputError as error:
            raise OutputError(
                f"{error.what}; all readings are safe in {journal.path}",
                where=error.where,
                hint="make room or mend the folder, then run the same command again",
            ) from error
    _show_end(record, ongoing)


def _settle(
    ongoing: Ongoing, terminal: Terminal | None, channels: str | None, first_end: Literal["clear", "dark"], by: Any
) -> None:
    """Settle the record and the plan of the reading."""
    from curves.commands.record_questions import (
        Asking,
        ask_record,
        begin,
        bracket,
        channels_wanted,
        positions_there,
    )

    def keep(asking: Asking, settled: bool = False) -> None:
        ongoing.add({"is": "draft", "content": asking.draft, "asked": list(asking.asked), "settled": settled})

    record, before = ongoing.record, ongoing.progress
    if not before.settled:
        begun = begin(record, terminal) if before.draft is None else Asking(dict(before.draft), before.asked)
        hint = f"run curves enter {record.stem} once at a terminal, or write {record.name} by hand"
        draft = ask_record(record, terminal, begun, keep, hint)
        keep(Asking(draft, ("all",)), settled=True)
        before = ongoing.progress
    ongoing.settle_record(before.draft or {})
    column, positions, channels_there = positions_there(record)
    if not positions:
        positions = bracket(terminal)
    wanted: tuple[Channel, ...] = channels_wanted(record, channels, channels_there)
    copy = ongoing.settle_plan(positions, column, wanted, first_end, by)
    if copy is not None:
        print(f"The table is taken over; as it was, it is kept in {copy}.")


def _show_end(record: Path, ongoing: Ongoing) -> None:
    from curves.app.file_check import check_file
    from curves.views.text.strip import checked_text

    print(f"Written: {record} and {ongoing.table}")
    checked = check_file(record)
    print(checked_text(str(record), checked.error, checked.doubts))
    if checked.error is None:
        print(f"Now: curves report {record}")
