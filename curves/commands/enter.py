"""``curves enter``: readings typed at the instrument, or taken from it, into a strip record."""

from __future__ import annotations

import shlex
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

if TYPE_CHECKING:
    import re

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
    sheet: Annotated[
        bool, typer.Option("--sheet", help="Write a blank sheet (A4) to print and fill in by hand, and ask nothing.")
    ] = False,
) -> None:
    """Enter a strip step by step. Each line is on the disk before the next.

    At every question ? explains it, b goes back, q stops; the same command
    goes on from there.

    Example: curves enter heron-0411

    Example: curves enter heron-0411 --sheet

    Example: curves enter heron-0411 --stream --channels visual < /dev/ttyUSB0
    """
    from curves.commands.terminal import controlling_terminal, standard_terminal
    from curves.errors import OutputError, RecordError
    from curves.files.base.record_edits import record_path
    from curves.files.entry.entry import ENDING, Entry, one_writer
    from curves.files.entry.input import NUMBERS, compile_pattern

    if name.suffix.lower() in (".csv", ENDING):
        raise RecordError(
            "a strip is named by its record", where=str(name), hint=f"run curves enter {name.with_suffix('')}"
        )
    record = record_path(name)
    numbers = compile_pattern(NUMBERS if pattern is None else pattern)
    if pattern is not None and not stream:
        raise RecordError("a pattern finds numbers in an instrument's lines", where="--pattern", needed="--stream too")
    if sheet:
        _write_sheet(record, None if channels is None else _channels(channels, ()), first_end)
        return
    if stream and sys.stdin is None:
        raise RecordError("standard input is closed", where="--stream", needed="the lines of an instrument there")
    terminal = controlling_terminal() if stream else standard_terminal()
    with one_writer(record.with_suffix(ENDING)):
        how = _Reading(channels, first_end, by, no_point, numbers if stream else None)
        entry = _entered(Entry(record), terminal, how, name)
        if entry is None:
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


def _write_sheet(
    record: Path, channels: tuple[Channel, ...] | None, first_end: Literal["clear", "dark"] | None
) -> None:
    """Write the blank sheet of a strip beside its record."""
    from curves.app.blank_sheet import blank_sheet
    from curves.files.base.writing import write_atomically
    from curves.views.pages.reading_sheet import reading_sheet

    page = record.with_name(f"{record.stem}-sheet.html")
    write_atomically(page, reading_sheet(blank_sheet(record, channels, first_end), str(record.with_suffix(""))))
    print(f"Written: {page}; print it from a browser, at full size (100 %) on A4.")
    print(f"Then: curves enter {shlex.quote(str(record.with_suffix('')))}")


@dataclass(frozen=True)
class _Reading:
    """The options that say how a strip is read; None, or False, where an option is not given.

    Attributes:
        channels: a list of channels, as typed.
        first_end, by: as in `Plan`.
        no_point: True if the instrument shows no decimal point.
        numbers: the pattern of an instrument's lines; None if a person types.
    """

    channels: str | None
    first_end: Literal["clear", "dark"] | None
    by: Literal["step", "channel"] | None
    no_point: bool
    numbers: re.Pattern[str] | None


def _entered(entry: Entry, terminal: Terminal | None, how: _Reading, name: Path) -> Entry | None:
    """Return the entry with every line read or left out; None if the person left, who is told how to go on."""
    from curves.commands.terminal import KEYS, Interruption, StepBack

    if terminal is not None:
        terminal.say(KEYS)
    while True:
        try:
            _open(entry, terminal, how)
            _read_lines(entry, terminal, how)
            return entry
        except StepBack:
            entry = entry.reopened()
        except (Interruption, KeyboardInterrupt):
            print(_stop_text(entry, name))
            return None


def _read_lines(entry: Entry, terminal: Terminal | None, how: _Reading) -> None:
    """Read every line that is still open, from the instrument, then from the person.

    Raises:
        Interruption: the person leaves, or nobody is there for the lines that the instrument left open.
        StepBack: the person goes back to the questions about the record.
    """
    from dataclasses import replace

    from curves.commands.entry_session import Session
    from curves.commands.terminal import Interruption
    from curves.files.base.record_edits import record_content
    from curves.views.text.entry import strip_lines

    if how.no_point:
        entry.keep(replace(entry.sheet, no_point=True))
    print("\n".join(strip_lines(entry.sheet, entry.setup.scale)), flush=True)
    there = record_content(entry.record)
    session = Session(entry, terminal, (*there.get("patches", ()), *(("notes",) if "notes" in there else ())))
    if how.numbers is not None:
        if hasattr(sys.stdin, "reconfigure"):
            sys.stdin.reconfigure(errors="replace")
        session.take_stream(sys.stdin, how.numbers)
    if terminal is not None:
        session.ask_all(terminal)
    elif entry.sheet.next is not None:
        raise Interruption


def _open(entry: Entry, terminal: Terminal | None, how: _Reading) -> None:
    """Go on with an entry, or settle its record and how the strip is read."""
    from curves.files.entry.entry import steps_of, usual_channels
    from curves.files.entry.sheet import Plan

    if entry.begun:
        before, copy, plan = len(entry.sheet.changes), entry.resume(), entry.sheet.plan
        if (changed := len(entry.sheet.changes) - before) > 0:
            print(f"The table was changed by another hand, in {changed} of its steps.")
            print("The entry goes on from it; u takes that back, step by step.")
        if (how.first_end, how.by, how.channels) != (None, None, None):
            how_begun = f"from the {plan.first_end} end, by {plan.by}, {' '.join(plan.channels)}"
            print(f"The entry goes on as it began: {how_begun}.")
    else:
        _settle_record(entry, terminal)
        column, positions, there = steps_of(entry.record)
        chosen = (there or usual_channels(entry.record)) if how.channels is None else _channels(how.channels, there)
        plan = Plan(chosen, positions or _bracket(terminal), column, how.first_end or "clear", how.by or "step")
        copy = entry.begin(plan)
    if copy is not None:
        print(f"The table is taken over; as it was, it is kept in {copy}.")


def _settle_record(entry: Entry, terminal: Terminal | None) -> None:
    """Ask what the record lacks, and write it."""
    from curves.commands.record_questions import ask_record, first_answers
    from curves.files.entry.questions import Answers, all_keys

    record = entry.record
    first = entry.answers or first_answers(record, terminal)
    hint = f"run curves enter {record.stem} once at a terminal, or write {record.name} by hand"
    draft = ask_record(record, terminal, first, entry.keep_answers, hint)
    reviewed = "all" not in first.asked
    # After a kill before the record is written, the person reviews the answers once more.
    entry.keep_answers(Answers(draft, all_keys(draft) if reviewed else ("all",)))
    entry.write_record(whole=reviewed)
    if reviewed:
        entry.keep_answers(Answers(draft, ("all",)))


def _bracket(terminal: Terminal | None) -> tuple[float, ...]:
    """Ask for the frames of a bracket [stops]."""
    from curves.errors import RecordError
    from curves.files.entry.drafts import BRACKET, bracket_stops
    from curves.views.text.entry import sentence

    asked = "Frames: first, last and spacing in stops, such as -3 3 1 > "
    while terminal is not None:
        text = terminal.ask_question(asked, sentence(BRACKET))
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
    sheet = entry.sheet if entry.begun else None
    if sheet is None:
        stands = f"; the answers are safe in {entry.path}"
    else:
        safe = f"; all are safe in {entry.table}" if sheet.rows else ""
        stands = f" with {sheet.lines_read} of {len(sheet.plan.lines)} lines read{safe}"
    return f"Stopped{stands}.\nGo on with: curves enter {shlex.quote(str(name))}"


def _show_end(entry: Entry) -> None:
    from curves.app.file_check import check_file
    from curves.views.text.strip import checked_text

    print(f"Written: {entry.record} and {entry.table}")
    checked = check_file(entry.record)
    print(checked_text(str(entry.record), checked.error, checked.doubts))
    if checked.error is None:
        print(f"Now: curves report {shlex.quote(str(entry.record))}")
