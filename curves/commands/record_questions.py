"""The questions of a record, asked at the terminal; used by the commands that make records."""

from __future__ import annotations

import datetime
import textwrap
from collections.abc import Callable, Mapping
from pathlib import Path

from curves.commands.options import option_of
from curves.commands.terminal import Terminal
from curves.errors import RecordError
from curves.files.base.record_edits import last_record, record_content
from curves.files.entry.questions import QUESTIONS, Answers, Draft, Question, answer, carry_over, open_questions


def first_answers(path: Path, terminal: Terminal | None) -> Answers:
    """Return the answers about a record before the first question.

    A record that is there is asked only what it lacks. A new strip may take over what the last record in the folder
    says; where nobody is there to ask, it does.
    """
    if path.exists():
        return Answers(record_content(path), ("all",))
    last = last_record(path.parent, but=path)
    if last is None:
        return Answers({}, ("all",) if terminal is None else ())
    draft = carry_over(record_content(last)) | {"title": path.stem, "date": _today()}
    return Answers(draft, ("all",) if terminal is None or _agrees(terminal, f"As {last.name}:", draft) else ())


def ask_record(
    path: Path, terminal: Terminal | None, first: Answers, keep: Callable[[Answers], None], way: str
) -> Draft:
    """Ask what a record does not state yet, and return what it states then.

    Args:
        path: the record.
        terminal: where to ask; None where nobody is there.
        first: the answers so far.
        keep: called after every answer, so that leaving loses none.
        way: how the answers could be given instead, for errors.

    Raises:
        RecordError: an answer is needed and nobody is there to give it.
        Interruption: the person leaves.
    """
    draft, asked = first.draft, first.asked
    while True:
        questions = open_questions(draft, every="all" not in asked)
        question = next((q for q in questions if q.key not in asked), None)
        if question is None:
            if "all" in asked or terminal is None or _agrees(terminal, "So:", draft):
                return draft
            asked = ()
        elif terminal is None:
            raise RecordError(
                f"the record does not state: {question.asks.partition(':')[0].lower()}",
                where=path.name,
                needed="an answer",
                hint=way,
            )
        else:
            draft = _ask(terminal, question, draft, path)
            asked = (*asked, question.key)
            keep(Answers(draft, asked))


def completed(
    command: str,
    record: Path,
    draft: Draft,
    given: Mapping[str, str | None],
    terminal: Terminal | None,
    fits: Callable[[Draft], bool] = lambda _: True,
) -> Draft:
    """Return a new record: the known part, the options, and a person's answers to the rest.

    Args:
        command: the command that makes it, for errors.
        record: the record to be.
        draft: what is known of it.
        given: answers that options give, by key of their question.
        terminal: where to ask; None where nobody is there.
        fits: whether a record that takes over what the last one states fits the readings, and may be offered.

    Raises:
        RecordError: an option is not an answer to its question, or an answer is needed and nobody is there.
        Interruption: the person leaves.
    """
    for question in QUESTIONS:
        text = given.get(question.key)
        if text is not None:
            draft = _given(draft, question, text, record.parent)
    if terminal is not None and open_questions(draft, every=False) and (last := last_record(record.parent, but=record)):
        offered = carry_over(record_content(last)) | draft
        if (
            not open_questions(offered, every=False)
            and fits(offered)
            and _agrees(terminal, f"With {last.name}:", offered)
        ):
            draft = offered
    way = f"give {_lacking(draft)}; see curves {command} --help, or leave --yes out to be asked"
    return ask_record(record, terminal, Answers(draft, ("all",)), lambda _: None, way)


def _lacking(draft: Draft) -> str:
    """Return the options that would complete a draft, each with an example; a light, where no exposure is known."""
    by_light = {"exposure": {"method": "contact"}} | draft
    options = [option_of(q.setting) for q in open_questions(by_light, every=False)]
    metered = (
        ", or a meter's --ei 80 --metered-step 11 for the light"
        if by_light["exposure"] != draft.get("exposure")
        else ""
    )
    return " ".join(options) + metered


def _given(draft: Draft, question: Question, text: str, folder: Path) -> Draft:
    """Return a draft with an answer that an option gave; a refusal names the option."""
    try:
        return answer(draft, question, text, folder)
    except RecordError as error:
        setting = question.key.rpartition(".")[2]
        if error.where not in ("", "the answer", setting):
            raise
        raise RecordError(
            error.what, where=setting, needed=error.needed, hint=error.hint, settings=(setting,)
        ) from error


def _ask(terminal: Terminal, question: Question, draft: Draft, path: Path) -> Draft:
    """Ask one question until its answer can be taken."""
    usual = question.answer_in(draft) or {"title": path.stem, "date": _today()}.get(question.key, question.usual)
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


def _agrees(terminal: Terminal, head: str, draft: Draft) -> bool:
    """Show a draft, and return whether the person agrees with it."""
    terminal.say("\n".join([head, *_summary(draft)]))
    return terminal.ask("Enter takes all of this, c changes it > ").strip().lower() != "c"


def _summary(draft: Draft) -> list[str]:
    """Return a draft as lines: the questions that it answers, and what its sections state beyond them."""
    questions = open_questions(draft, every=True)
    lines: list[tuple[str, str]] = []
    for question in questions:
        words = question.answer_in(draft)
        if words:
            lines.append((question.asks.partition(":")[0], f"{words} {question.unit}".rstrip()))
    for section in ("exposure", "reader"):
        known = {q.key for q in questions}
        content = draft.get(section)
        rest = content.items() if isinstance(content, dict) else ()
        lines += [(key, f"{value}") for key, value in rest if f"{section}.{key}" not in known]
    return [
        textwrap.fill(text, 79, initial_indent=f"  {name:<31} ", subsequent_indent=" " * 34) for name, text in lines
    ]


def _today() -> str:
    return datetime.date.today().isoformat()
