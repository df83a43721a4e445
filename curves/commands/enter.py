"""``curves enter``: readings typed at the instrument, or taken from it, into a strip record."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

if TYPE_CHECKING:
    from curves.commands.terminal import Terminal
    from curves.files.entry.entry import Entry
    from curves.sensitometry.core.units import Channel


def enter(
    name: Annotated[Path, typer.Argument(metavar="NAME", help="The strip's record, with or without .toml.")],
    channels: Annotated[
        str | None, typer.Option(metavar="LIST", help="What is read, in the order typed, such as red,green,blue.")
    ] = None,
    first_end: Annotated[
        Literal["clear", "dark"] | None,
        typer.Option("--from", help="End of the wedge that is read first; clear if not given."),
    ] = None,
    by: Annotated[
        Literal["step", "channel"] | None,
        typer.Option(help="All channels of a step on one line, or the strip channel by channel; step if not given."),
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
    from dataclasses import replace

    from curves.commands.entry_session import Session
    from curves.commands.terminal import Interruption, controlling_terminal, standard_terminal
    from curves.errors import OutputError, RecordError
    from curves.files.base.record_edits import record_content, record_path
    from curves.files.entry.entry import ENDING, Entry, one_writer
    from curves.files.entry.input import NUMBERS, compile_pattern
    from curves.views.text.entry import strip_lines

    if name.suffix.lower() in (".csv", ENDING):
        raise RecordError(
            "a strip is named by its record", where=str(name), hint=f"run curves enter {name.with_suffix('')}"
        )
    record = record_path(name)
    numbers = compile_pattern(NUMBERS if pattern is None else pattern)
    if pattern is not None and not stream:
        raise RecordError("a pattern finds numbers in an instrument's lines", where="--pattern", needed="--stream too")
    terminal = controlling_terminal() if stream else standard_terminal()
    with one_writer(record.with_suffix(ENDING)):
        entry = Entry(record)
        try:
            _open(entry, terminal, channels, first_end, by)
            if no_point:
                entry.keep(replace(entry.sheet, no_point=True))
            print("\n".join(strip_lines(entry.sheet)), flush=True)
            there = record_content(record)
            session = Session(entry, terminal, (*there.get("patches", ()), *(("notes",) if "notes" in there else ())))
            if stream:
                if hasattr(sys.stdin, "reconfigure"):
                    sys.stdin.reconfigure(errors="replace")
                session.take_stream(sys.stdin, numbers)
            if terminal is not None:
                session.ask_all(terminal)
            elif entry.sheet.next is not None:
                raise Interruption
        except (Interruption, KeyboardInterrupt):
            print(_stop_text(entry, name))
            return
        try:
            entry.finish()
        except OutputError as error:
            raise OutputError(
                f"{error.what}; all readings are safe in {entry.table}, the rest in {entry.path}",
                where=error.where,
                hint="make room or mend the folder, then run the same command again",
            ) from error
    _show_end(entry)


def _open(
    entry: Entry,
    terminal: Terminal | None,
    channels: str | None,
    first_end: Literal["clear", "dark"] | None,
    by: Literal["step", "channel"] | None,
) -> None:
    """Go on with an entry, or settle its record and how the strip is read."""
    from curves.commands.record_questions import ask_record, first_answers
    from curves.files.entry.entry import steps_of, usual_channels
    from curves.files.entry.questions import Answers
    from curves.files.entry.sheet import Plan

    record = entry.record
    if entry.begun:
        before, copy, plan = len(entry.sheet.changes), entry.resume(), entry.sheet.plan
        if (changed := len(entry.sheet.changes) - before) > 0:
            print(f"The table was changed by another hand, in {changed} of its steps.")
            print("The entry goes on from it; u takes that back, step by step.")
        if (first_end, by, channels) != (None, None, None):
            how = f"from the {plan.first_end} end, by {plan.by}, {' '.join(plan.channels)}"
            print(f"The entry goes on as it began: {how}.")
    else:
        first = entry.answers or first_answers(record, terminal)
        hint = f"run curves enter {record.stem} once at a terminal, or write {record.name} by hand"
        entry.keep_answers(Answers(ask_record(record, terminal, first, entry.keep_answers, hint), ("all",)))
        entry.write_record()
        column, positions, there = steps_of(record)
        chosen = (there or usual_channels(record)) if channels is None else _channels(channels, there)
        plan = Plan(chosen, positions or _bracket(terminal), column, first_end or "clear", by or "step")
        copy = entry.begin(plan)
    if copy is not None:
        print(f"The table is taken over; as it was, it is kept in {copy}.")


def _bracket(terminal: Terminal | None) -> tuple[float, ...]:
    """Ask for the frames of a bracket [stops]."""
    from curves.errors import RecordError
    from curves.files.entry.questions import bracket_stops

    while terminal is not None:
        text = terminal.ask("Frames, in stops from the metered exposure: first, last, spacing (such as -3 3 1) > ")
        try:
            return bracket_stops(text)
        except RecordError as error:
            terminal.say(f"  {error}")
    raise RecordError("nobody is there to say which frames there are", needed="a table beside the record, or a person")


def _channels(option: str, there: tuple[Channel, ...]) -> tuple[Channel, ...]:
    """Return the channels that an option lists, then those that the table has beyond them.

    Raises:
        RecordError: the option is not a list of channels.
    """
    from curves.errors import RecordError
    from curves.sensitometry.core.units import CHANNELS

    names = [word.strip().lower() for word in option.split(",")]
    chosen = [c for name in names for c in CHANNELS if c == name]
    if len(chosen) != len(names) or len(set(chosen)) != len(chosen):
        raise RecordError(
            f"'{option}' is not a list of channels", where="--channels", needed="any of " + ", ".join(CHANNELS)
        )
    return (*chosen, *(c for c in there if c not in chosen))


def _stop_text(entry: Entry, name: Path) -> str:
    """Return the last words to a person who leaves."""
    if not entry.path.exists():
        return "Stopped. Nothing was entered yet."
    if not entry.begun:
        return f"Stopped. The same command goes on from here; the answers are in {entry.path}."
    sheet = entry.sheet
    safe = f"; all are safe in {entry.table}" if sheet.rows else ""
    return (
        f"Stopped with {sheet.lines_read} of {len(sheet.plan.lines)} lines read{safe}.\nGo on with: curves enter {name}"
    )


def _show_end(entry: Entry) -> None:
    from curves.app.file_check import check_file
    from curves.views.text.strip import checked_text

    print(f"Written: {entry.record} and {entry.table}")
    checked = check_file(entry.record)
    print(checked_text(str(entry.record), checked.error, checked.doubts))
    if checked.error is None:
        print(f"Now: curves report {entry.record}")
