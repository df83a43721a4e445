"""A strip during its entry in the terminal: one line for each step, its readings and marks on a scale of density.

Read from top to bottom, the marks draw the curve, lying on its side.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from curves.files.entry.input import reading_text
from curves.files.entry.questions import Question
from curves.files.entry.sheet import PATCHES, Line, Plan, Sheet
from curves.sensitometry.core.reader_units import DENSITOMETER, READER_WORDS, ReaderScale, ReaderUnit
from curves.sensitometry.core.units import Channel
from curves.views.words.wrapping import WIDTH, wrapped

_FULL = 4.0
"""Density at the right edge of the scale [density]."""

_ROOM_OF_NAMES = 10
"""Columns that the names of choices take, for the longest and a space between [characters]."""

COMMANDS_TEXT = """\
2.91 3.05 3.12   a line of readings, separated by spaces or commas; decimal
                 points or commas; - stands for a channel that was not read
b                go back to the line before; Enter there keeps what it has
u                take back the last act
r, r 12          read the last step, or step 12, again, as a repeat
s                leave this step out
g 12             go to step 12; readings typed there replace the step's own
                 (by channel: g 12 red, r 12 red)
e                end here: leave out all steps not yet read
l                list the strip so far
?                this help
q                stop; the same command goes on from here"""

DOUBT_TEXT = """\
  The reading breaks the run against its neighbours. y keeps it as it stands;
  a new line replaces it; Enter alone, or b, asks for the step again."""

POINT_TEXT = """\
  Some instruments show hundredths of density without a decimal point: 291 is
  2.91. y if yours does; n if it shows a point and these are whole densities.
  The answer holds for the whole strip."""

NOTES_TEXT = """\
  Anything that a later reader should know: dust on a step, another lamp.
  Example: dust on step 9. Enter leaves the notes as they are; - removes them."""

ALL_READ_TEXT = """\
  Every line is read or left out. r 12 adds a repeat to step 12, g 12 replaces
  its reading, l lists the strip, u takes back what was done last, b goes back
  to the question before. Enter ends: the record is then complete."""


def explained_question(question: Question) -> str:
    """Return the explanation of a question about the record: its choices, and an example."""
    lines = wrapped(question.explains, indent=2)
    for choice, meaning in zip(question.choices, question.meanings, strict=True):
        lines += wrapped(f"{choice:<{_ROOM_OF_NAMES}}{meaning}", indent=4, hanging=4 + _ROOM_OF_NAMES)
    lines += wrapped(f"Example: {question.example}", indent=2, hanging=2)
    if question.key.startswith(("exposure", "wedge")):
        lines += wrapped("More, with drawings: curves manual exposing", indent=2)
    return "\n".join(lines)


_EXAMPLES: dict[ReaderUnit, tuple[str, ...]] = {
    "density": ("0.32", "0.48", "0.71", "0.42"), "stops": ("1.1", "1.6", "2.4", "1.4"),
    "ev": ("12.9", "12.4", "11.6", "12.6"), "seconds": ("1/500", "1/320", "1/200", "1/400"),
    "percent": ("48", "33", "19", "38"),
}  # fmt: skip
"""Readings of four channels of one patch in each unit; 14.0 or 1/1000 of the open gate."""


def explained_line(plan: Plan, line: Line, read_as: ReaderScale = DENSITOMETER) -> str:
    """Return the explanation of the question for one line of readings, and the commands."""
    which = f"{plan.column} {label(plan, line.step)}"
    example = " ".join(_EXAMPLES[read_as.unit][: len(line.channels)])
    asked = (
        f"The {READER_WORDS[read_as.unit]} of {which}, in this order: {', '.join(line.channels)}. Example: {example}"
    )
    return f"{sentence(asked)}\n{COMMANDS_TEXT}"


def explained_patch(name: str, channels: Sequence[Channel], read_as: ReaderScale = DENSITOMETER) -> str:
    """Return the explanation of the question for a patch beside the wedge."""
    example = " ".join(_EXAMPLES[read_as.unit][: len(channels)])
    return sentence(
        f"The {READER_WORDS[read_as.unit]} of {PATCHES[name]}, in this order: {', '.join(channels)}. It was exposed and"
        " processed beside the wedge, or is of the same film. Enter leaves it as it is, s leaves it out. Example:"
        f" {example}"
    )


def scale(plan: Plan) -> str:
    """Return the heading of the lines: the channels and the scale of density."""
    names = "".join(f"{c[:6]:>7}" for c in plan.channels)
    marks = [" "] * (_room(plan) + 1)
    for density in range(int(_FULL) + 1):
        marks[_place(float(density), plan)] = str(density)
    return f"{plan.column[:5]:>5}{names}  {''.join(marks)}".rstrip()


def step_line(
    plan: Plan, step: int, readings: Mapping[Channel, float], note: str = "", read_as: ReaderScale = DENSITOMETER
) -> str:
    """Return one step as a line: its readings, and a letter at each channel's density; + where two coincide.

    Args:
        plan: how the strip is read.
        step: number of the step.
        readings: of the step, in the instrument's unit.
        note: a word at the end of the line, such as "again".
        read_as: the scale of the readings.
    """
    cells = "".join(f"{reading_text(readings[c], read_as) if c in readings else '-':>7}" for c in plan.channels)
    marks = [" "] * (_room(plan) + 1)
    for channel, reading in readings.items():
        place = _place(read_as.density(reading, channel), plan)
        marks[place] = channel[0] if marks[place] == " " else "+"
    drawn = "".join(marks).rstrip()
    if note:
        drawn = f"{drawn:<{max(0, _room(plan) - len(note))}} {note}"
    return f"{label(plan, step):>5}{cells} |{drawn}"


def strip_lines(sheet: Sheet, read_as: ReaderScale = DENSITOMETER) -> list[str]:
    """Return the strip so far, in the order of reading; the marks stand at densities, whatever the readings are."""
    plan, steps = sheet.plan, sorted(sheet.rows, reverse=sheet.plan.first_end == "dark")
    rows = [(step, row, "again" if at else "") for step in steps for at, row in enumerate(sheet.rows[step])]
    lines = [scale(plan), *(step_line(plan, *row, read_as) for row in rows)]
    if not read_as.by_meter:
        return lines
    return [
        *wrapped(f"Readings are {READER_WORDS[read_as.unit]}; the marks stand at their densities.", indent=0),
        *lines,
    ]


def prompt(plan: Plan, line: Line, *, again: bool = False) -> str:
    """Return the prompt: the step, and the channel where channels are read one by one."""
    which = f" {line.channels[0]}" if plan.by == "channel" and len(plan.channels) > 1 else ""
    return f"{label(plan, line.step):>5}{which}{' again' if again else ''} > "


def label(plan: Plan, step: int) -> str:
    """Return the label of a step: its number, or for frames its stops or index."""
    if plan.column == "step":
        return str(step)
    position = plan.positions[step - 1]
    return f"{position:+.4g}" if plan.column == "stops" else f"{position:.4g}"


def sentence(text: str) -> str:
    """Return a sentence wrapped for the terminal, indented by two."""
    return "\n".join(wrapped(text, indent=2, hanging=2))


def _room(plan: Plan) -> int:
    return WIDTH - 5 - 7 * len(plan.channels) - 3


def _place(density: float, plan: Plan) -> int:
    """Return the column of a density on the scale; a density beyond the scale has the column of its edge."""
    return round(min(max(density / _FULL, 0.0), 1.0) * _room(plan))
