"""What a record needs, asked at the terminal; used by the commands that make records."""

from __future__ import annotations

import datetime
import textwrap
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from curves.commands.terminal import Terminal
from curves.errors import RecordError
from curves.files.base.record_edits import last_record, record_content
from curves.files.base.tables import read_table
from curves.files.entry.questions import QUESTIONS, Draft, Question, answer, carried, ladder, wanted
from curves.files.strips.record import read_setup
from curves.sensitometry.core.units import CHANNELS, LAYERS, Channel
from curves.sensitometry.strip.exposure import POSITIONS, Camera, Contact, Position


@dataclass(frozen=True)
class Asking:
    """What a record says so far, and what still has to be asked.

    Attributes:
        draft: the record so far.
        asked: keys of the questions already answered; "all" if only what is missing is to be asked.
    """

    draft: Draft
    asked: tuple[str, ...] = ()


def begin(path: Path, terminal: Terminal | None) -> Asking:
    """Return where the questions about a record begin.

    A record that is there is asked only what it lacks. A new strip may take over what the last one in the folder says;
    where nobody is there to ask, it does.
    """
    if path.exists():
        return Asking(record_content(path), ("all",))
    last = last_record(path.parent, but=path)
    if last is None:
        return Asking({}, ("all",) if terminal is None else ())
    draft = carried(record_content(last)) | {"title": path.stem, "date": _today()}
    return Asking(draft, ("all",) if terminal is None or agrees(terminal, f"As {last.name}:", draft) else ())


def ask_record(path: Path, terminal: Terminal | None, begun: Asking, keep: Callable[[Asking], None], way: str) -> Draft:
    """Ask what a record does not say yet, and return what it then says.

    Args:
        path: the record.
        terminal: where to ask; None where nobody is there.
        begun: what it says so far.
        keep: called with every answer, so that leaving loses none.
        way: how the answers could be given instead, for errors.

    Raises:
        RecordError: an answer is needed and nobody is there to give it.
        Interruption: the person leaves.
    """
    draft, asked = begun.draft, begun.asked
    while True:
        open_now = wanted(draft, every="all" not in asked)
        question = next((q for q in open_now if q.key not in asked), None)
        if question is None:
            if "all" not in asked and terminal is not None and not agrees(terminal, "So:", draft):
                asked = ()
                continue
            return draft
        if terminal is None:
            raise RecordError(
                f"the record does not say: {question.asks.partition(':')[0].lower()}",
                where=path.name,
                needed="an answer",
                hint=way,
            )
        draft = _ask(terminal, question, draft, path)
        asked = (*asked, question.key)
        keep(Asking(draft, asked))


def completed(
    command: str, record: Path, draft: Draft, given: Mapping[str, str | None], terminal: Terminal | None
) -> Draft:
    """Return what a new record says: what is known, what options say, and what a person answers of the rest.

    Args:
        command: the command that makes it, for errors.
        record: the record to be.
        draft: what is known of it.
        given: answers that options give, by key of their question.
        terminal: where to ask; None where nobody is there.

    Raises:
        RecordError: an option's answer makes no sense, or an answer is needed and nobody is there.
        Interruption: the person leaves.
    """
    for question in QUESTIONS:
        text = given.get(question.key)
        if text is not None:
            draft = _given(draft, question, text, record.parent)
    last = last_record(record.parent, but=record) if terminal is not None and wanted(draft, every=False) else None
    if last is not None and terminal is not None:
        offered = carried(record_content(last)) | draft
        if not wanted(offered, every=False) and agrees(terminal, f"With {last.name}:", offered):
            draft = offered
    way = f"give the option, see curves {command} --help, or leave --yes out"
    return ask_record(record, terminal, Asking(draft, ("all",)), lambda _: None, way)


def _given(draft: Draft, question: Question, text: str, folder: Path) -> Draft:
    """Return a record with an answer that an option gave; a refusal names the option."""
    try:
        return answer(draft, question, text, folder)
    except RecordError as error:
        setting = question.key.rpartition(".")[2]
        if error.where not in ("", "the answer", setting):
            raise
        raise RecordError(
            error.what, where=setting, needed=error.needed, hint=error.hint, settings=(setting,)
        ) from error


def positions_there(record: Path) -> tuple[Position, tuple[float, ...], tuple[Channel, ...]]:
    """Return what a strip's steps are listed by, their positions if they are known, and the channels already read.

    A wedge has its steps. A bracket has those of its table; without a table there are none yet.
    """
    setup = read_setup(record)
    table = record.parent / (setup.readings or f"{record.stem}.csv")
    there: tuple[Channel, ...] = ()
    column: Position = setup.exposure.positions[0]
    positions: tuple[float, ...] = ()
    if table.exists():
        read = read_table(table, (*POSITIONS, *CHANNELS))
        there = tuple(c for c in CHANNELS if c in read.header)
        column = next((p for p in setup.exposure.positions if p in read.header), column)
        if column not in read.header:
            raise RecordError(
                "no column says which step a row is", where=table.name, needed=" or ".join(setup.exposure.positions)
            )
        positions = tuple(dict.fromkeys(read.numbers(column)))
    if isinstance(setup.exposure, Contact | Camera):
        assert setup.wedge is not None
        positions = tuple(float(n) for n in range(1, setup.wedge.steps + 1))
    return column, positions, there


def bracket(terminal: Terminal | None) -> tuple[float, ...]:
    """Ask for the frames of a bracket."""
    while terminal is not None:
        text = terminal.ask("Frames, in stops from the metered exposure: first, last, spacing (such as -3 3 1) > ")
        try:
            return ladder(text)
        except RecordError as error:
            terminal.say(f"  {error}")
    raise RecordError("nobody is there to say which frames there are", needed="a table beside the record, or a person")


def channels_wanted(record: Path, option: str | None, there: tuple[Channel, ...]) -> tuple[Channel, ...]:
    """Return the channels to be typed, in order: as asked for, with those that the table already has.

    Nothing asked for and nothing there, they are those of the last strip in the folder if its density was of the same
    kind, else the usual ones.

    Raises:
        RecordError: the option names no channels.
    """
    if option is None:
        return there or _last_channels(record) or (("visual",) if read_setup(record).density == "visual" else LAYERS)
    names = [word.strip().lower() for word in option.split(",")]
    chosen = [c for name in names for c in CHANNELS if c == name]
    if len(chosen) != len(names) or len(set(chosen)) != len(chosen):
        raise RecordError(
            f"'{option}' is no list of channels", where="--channels", needed="any of " + ", ".join(CHANNELS)
        )
    return (*chosen, *(c for c in there if c not in chosen))


def _last_channels(record: Path) -> tuple[Channel, ...]:
    """Return what was read of the last strip in the folder, if it was the same kind of density; empty if unknown."""
    last = last_record(record.parent, but=record)
    try:
        if last is None or read_setup(last).density != read_setup(record).density:
            return ()
        return positions_there(last)[2]
    except RecordError:
        # The other strip's own troubles are not this one's.
        return ()


def _ask(terminal: Terminal, question: Question, draft: Draft, path: Path) -> Draft:
    """Ask one question until the answer makes sense."""
    usual = question.in_words(draft) or {"title": path.stem, "date": _today()}.get(question.key, question.usual)
    choices = f" ({', '.join(question.choices)})" if question.choices else ""
    unit = f" [{question.unit}]" if question.unit else ""
    offered = f", Enter for {usual}" if usual else ", Enter for none" if question.may_be_empty else ""
    while True:
        text = terminal.ask(f"{question.asks}{unit}{choices}{offered} > ").strip() or usual or ""
        if not text and not question.may_be_empty:
            terminal.say("  An answer is needed here.")
            continue
        try:
            return answer(draft, question, text, path.parent)
        except RecordError as error:
            terminal.say(f"  {error}".replace("\n", "\n  "))


def agrees(terminal: Terminal, head: str, draft: Draft) -> bool:
    """Show what a record would say, and return whether the person agrees."""
    terminal.say("\n".join([head, *_summary(draft)]))
    return terminal.ask("Enter takes all of this, c changes it > ").strip().lower() != "c"


def _summary(draft: Draft) -> list[str]:
    lines: list[tuple[str, str]] = []
    for question in wanted(draft, every=True):
        words = question.in_words(draft)
        if words:
            unit = f" {question.unit}" if question.unit else ""
            lines.append((question.asks.partition(":")[0], f"{words}{unit}"))
    lines += [(k, f"{v}") for section in ("exposure", "reader") for k, v in _rest(draft, section).items()]
    return [
        textwrap.fill(text, 79, initial_indent=f"  {name:<31} ", subsequent_indent=" " * 34) for name, text in lines
    ]


def _rest(draft: Draft, section: str) -> dict[str, Any]:
    """Return what a section says beyond the questions."""
    known = {q.key.rpartition(".")[2] for q in wanted(draft, every=True) if q.key.startswith(section + ".")}
    content = draft.get(section, {})
    return {k: v for k, v in content.items() if k not in known} if isinstance(content, dict) else {}


def _today() -> str:
    return datetime.date.today().isoformat()
