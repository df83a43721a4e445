"""The questions of a record, asked at the terminal; used by the commands that make records."""

from __future__ import annotations

import datetime
import textwrap
from collections.abc import Callable, Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Any

from curves.commands.options import option_of
from curves.commands.terminal import StepBack, Terminal
from curves.errors import RecordError
from curves.files.base.record_edits import last_record, record_content
from curves.files.entry.drafts import NONE, OWN, answer, carry_over
from curves.files.entry.questions import QUESTIONS, Answers, Draft, Question, all_keys, open_questions
from curves.views.text.entry import explained_question, sentence

_REVIEW = "\n".join(
    [
        sentence("These answers go into the record as they stand."),
        sentence(
            "Enter takes them. c asks every question again, with these answers as suggestions; what no question"
            " asks for stays, and can be changed in the record with an editor. b goes back to the question before."
        ),
    ]
)


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
    agreed = terminal is None or _agrees_first(terminal, f"As {last.name}:", draft)
    return Answers(draft, ("all",) if agreed else ())


def ask_record(
    path: Path,
    terminal: Terminal | None,
    first: Answers,
    keep: Callable[[Answers], None],
    way: str,
    offered: Mapping[str, Any] = MappingProxyType({}),
) -> Draft:
    """Ask what a record does not state yet, and return what it states then.

    Args:
        path: the record.
        terminal: where to ask; None where nobody is there.
        first: the answers so far.
        keep: called after every answer, so that leaving loses none.
        way: how the answers could be given instead, for errors.
        offered: a draft whose answers are the suggestions where the answers so far have none.

    Raises:
        RecordError: an answer is needed and nobody is there to give it.
        Interruption: the person leaves.
    """
    draft, asked = first.draft, first.asked
    met, suggested = set(asked), _typed(offered)
    while True:
        suggested |= _typed(draft)
        still_open = open_questions(draft, every="all" not in asked)
        questions = [q for q in QUESTIONS if q in still_open or (q.key in met and q.applies(draft))]
        if terminal is None:
            questions = [q for q in questions if not q.may_be_empty]
        question = next((q for q in questions if q.key not in asked), None)
        if question is None and ("all" in asked or terminal is None):
            return draft
        if terminal is None:
            assert question is not None
            raise RecordError(
                f"the record does not state: {question.asks.partition(':')[0].lower()}",
                where=path.name,
                needed="an answer",
                hint=way,
            )
        try:
            if question is None:
                if _agrees(terminal, "So:", draft):
                    return draft
                asked = ()
                continue
            draft = _ask(terminal, question, draft, suggested.get(question.key), path)
            asked = (*asked, question.key)
        except StepBack:
            earlier = _before(asked, draft)
            if earlier == asked:
                terminal.say("  This is the first question.")
                continue
            asked = earlier
        met |= set(asked)
        keep(Answers(draft, asked))


def _before(asked: tuple[str, ...], draft: Draft) -> tuple[str, ...]:
    """Return the keys of the questions answered, without the last.

    Before the first question stands the review of all answers, if the draft has them all.
    """
    if asked and asked[-1] != "all":
        return asked[:-1]
    return asked if asked or open_questions(draft, every=False) else all_keys(draft)


def _typed(draft: Mapping[str, Any]) -> dict[str, str]:
    """Return the answers of a draft by key, as a person would type them."""
    return {q.key: text for q in QUESTIONS if (text := q.answer_in(draft)) is not None}


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
    offered: Draft = {}
    if terminal is not None and open_questions(draft, every=False) and (last := last_record(record.parent, but=record)):
        offered = carry_over(record_content(last)) | draft
        if (
            not open_questions(offered, every=False)
            and fits(offered)
            and _agrees_first(terminal, f"With {last.name}:", offered)
        ):
            draft = offered
    way = f"give {_lacking(draft)}; see curves {command} --help, or leave --yes out to be asked"
    return ask_record(record, terminal, Answers(draft, ("all",)), lambda _: None, way, offered)


def _lacking(draft: Draft) -> str:
    """Return the options that would complete a draft, each with an example; a light, where no exposure is known."""
    by_light = {"exposure": {"method": "contact"}} | draft
    still_open = open_questions(by_light, every=False)
    light = ("exposure.lux", "exposure.seconds") if "exposure" not in draft else ()
    options = [option_of(q.setting) for q in QUESTIONS if q in still_open or q.key in light]
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


def _ask(terminal: Terminal, question: Question, draft: Draft, suggested: str | None, path: Path) -> Draft:
    """Ask one question until its answer can be taken."""
    there = question.answer_in(draft)
    usual = there or suggested or {"title": path.stem, "date": _today()}.get(question.key, question.usual)
    choices = f" ({', '.join(question.choices)})" if question.choices else ""
    unit = f" [{question.unit}]" if question.unit else ""
    offered = f", Enter for {usual}" if usual else ", Enter for none" if question.may_be_empty else ""
    if there and question.may_be_empty:
        offered += f", {NONE} for none"
    while True:
        prompt = f"{question.asks}{unit}{choices}{offered} > "
        text = terminal.ask_question(prompt, explained_question(question)).strip()
        if not text and not usual and not question.may_be_empty:
            terminal.say("  An answer is needed here; ? explains the question.")
            continue
        try:
            changed = answer(draft, question, text or usual or "", path.parent)
        except RecordError as error:
            terminal.say(f"  {error}".replace("\n", "\n  "))
            continue
        # What was only confirmed keeps the digits that the suggestion did not show.
        return draft if not text and there and question.answer_in(changed) == there else changed


def _agrees(terminal: Terminal, head: str, draft: Draft) -> bool:
    """Show a draft, and return True if the person takes it, False if the person wants to change it."""
    terminal.say("\n".join([head, *_summary(draft)]))
    while True:
        reply = terminal.ask_question("Enter takes all of this, c changes it > ", _REVIEW).strip().lower()
        if reply in ("", "c"):
            return not reply
        terminal.say("  Not taken: Enter or c is expected.")


def _agrees_first(terminal: Terminal, head: str, draft: Draft) -> bool:
    """Show a draft as the first question: return True if the person takes it, False to change it."""
    while True:
        try:
            return _agrees(terminal, head, draft)
        except StepBack:
            terminal.say("  This is the first question.")


def _summary(draft: Draft) -> list[str]:
    """Return a draft as lines: the questions that it answers, and what its sections state beyond them."""
    questions = open_questions(draft, every=True)
    lines: list[tuple[str, str]] = []
    for question in questions:
        words = question.answer_in(draft)
        if words:
            lines.append((question.asks.partition(":")[0], f"{words} {question.unit}".rstrip()))
    known = {*(q.key for q in QUESTIONS), *(f"wedge.{key}" for key in ("steps", "increment", "first", "table"))}
    for section, content in draft.items():
        for key, value in content.items() if isinstance(content, Mapping) else (("", content),):
            path = f"{section}.{key}" if key else section
            if path not in known and section not in OWN:
                lines.append((path.replace("_", " ").replace(".", ", "), _in_words(value)))
    return [
        textwrap.fill(text, 79, initial_indent=f"  {name:<31} ", subsequent_indent=" " * 34) for name, text in lines
    ]


def _in_words(value: object) -> str:
    """Return a value of a record that no question asks for: a number, a text, a list, or sections with names."""
    if isinstance(value, Mapping):
        return ", ".join(f"{key} {_in_words(inner)}" for key, inner in value.items())
    return "; ".join(_in_words(inner) for inner in value) if isinstance(value, list) else str(value)


def _today() -> str:
    return datetime.date.today().isoformat()
