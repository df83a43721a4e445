"""One line of input: the readings or the command that a person typed, or the readings that an instrument printed.

Numbers are taken in every way that makes sense of the whole line. If there is one, it is taken; if there are two, or
none, the line is refused in words. Whole numbers are asked about. Nothing is guessed.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from curves.errors import RecordError, StripError
from curves.files.base.cells import fraction_in, number_in
from curves.sensitometry.core.reader_units import DENSITOMETER, ReaderScale, exact_seconds, marked_seconds
from curves.sensitometry.core.units import LEAST_READING, MOST_READING, Channel

CommandName = Literal["undo", "repeat", "skip", "go", "end", "list"]
COMMANDS: dict[str, CommandName] = {
    "u": "undo", "r": "repeat", "s": "skip", "g": "go", "e": "end", "l": "list",
}  # fmt: skip
NOT_READ = "-"
"""What stands for a channel that was not read."""

NUMBERS = r"(?<![\w.,])[-+]?(?:[0-9]+[.,]?[0-9]*|[.,][0-9]+)(?!\w)"
"""The usual pattern of an instrument's line: every number that stands by itself."""

_NUMBER = re.compile(r"[-+]?(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)")
_COMMAND = re.compile(r"\s*([a-zA-Z?])\s*([0-9]{0,6})\s*([a-z]*)\s*")
_ALONE = "?bq"
"""Keys that every question takes before a line is read: explain, back, stop."""

_MOST_METERED = 4.5
"""Density above which no meter over a light table shows the film, but stray light: our own choice [density]."""

_LONGEST = 9
"""Characters of the longest number that is taken for a reading."""

Values = tuple[float | None, ...]
"""One reading for each channel of a line, in the instrument's unit; None for a channel that was not read."""


@dataclass(frozen=True)
class Reading:
    """A line of readings."""

    values: Values


@dataclass(frozen=True)
class WholeNumbers:
    """A line of whole numbers, which the person must say more about: does the instrument show a decimal point?

    Attributes:
        hundredths: the readings if it does not [density].
        units: the readings if it does; None where the line makes no sense then [density].
    """

    hundredths: Values
    units: Values | None = None


@dataclass(frozen=True)
class Command:
    """A command, and the step and the beginning of the channel that it names, if any."""

    name: CommandName
    step: int | None = None
    channel: str = ""


@dataclass(frozen=True)
class Refusal:
    """Why a line is not taken, as a clause."""

    why: str


Input = Reading | WholeNumbers | Command | Refusal


def parse_line(text: str, count: int, *, no_point: bool | None = None, scale: ReaderScale = DENSITOMETER) -> Input:
    """Return the meaning of a typed line.

    Args:
        text: the line.
        count: how many numbers a line of readings has.
        no_point: True if the instrument is known to show no decimal point, False if it is known to show one, None
            before the person was asked.
        scale: the scale of the readings; those of a meter have no hundredths to ask about.
    """
    command = _COMMAND.fullmatch(text)
    if command is not None and (command[2] or not command[3]):
        return _command(command[1], command[2], command[3])
    if not text.strip():
        return Refusal("Enter alone takes nothing and repeats nothing")
    if scale.unit == "seconds" and (times := _times(text)) is not None and len(times) == count:
        return _of_meter(times, scale)
    ways = [way for way in (_by_point(text), _by_comma(text)) if way is not None and len(way) == count]
    if not ways:
        return Refusal(_why_not(text, count))
    return _judge(ways, no_point, scale)


def line_text(values: Sequence[float | None], scale: ReaderScale = DENSITOMETER) -> str:
    """Return readings as a person would type them: "2.91 - 3.12", or "1/60 - 1/125" for marked times."""
    return " ".join(NOT_READ if v is None else reading_text(v, scale) for v in values)


def reading_text(value: float, scale: ReaderScale) -> str:
    """Return one reading as a person would type it."""
    return marked_seconds(exact_seconds(value)) if scale.unit == "seconds" else f"{value:.2f}"


def _times(text: str) -> Values | None:
    """Return the exposure times on a line, such as "1/60 1/125 2"; None if a word of it is not one."""
    words = [word.removesuffix("s") for word in re.split(r"[\s;]+", text.strip())]
    if not any("/" in word for word in words):
        return None
    fractions = [None if w == NOT_READ else fraction_in(w) or number_in(w, "either") for w in words]
    unread = any(f is None and w != NOT_READ for f, w in zip(fractions, words, strict=True))
    return None if unread else tuple(fractions)


def _of_meter(values: Values, scale: ReaderScale) -> Input:
    """Return the readings of a meter, or why the light of one makes no density."""
    for value in values:
        try:
            density = 0.0 if value is None else scale.density(value, "")
        except StripError as error:
            return Refusal(error.what)
        if not LEAST_READING <= density <= _MOST_METERED:
            hint = "; times under a second are typed 1/60" if scale.unit == "seconds" else ""
            return Refusal(f"{value:g} would be a density of {density:.2f}; compare it with the open gate{hint}")
    return Reading(values)


def compile_pattern(text: str) -> re.Pattern[str]:
    """Return the pattern of an instrument's line that a person wrote.

    Raises:
        RecordError: the text is not a regular expression.
    """
    try:
        return re.compile(text)
    except re.error as error:
        raise RecordError(
            f"'{text}' is not a pattern: {error}",
            where="pattern",
            needed="a regular expression with a group for each number, such as 'R=(.*?) G=(.*?) B=(.*?);'",
            settings=("pattern",),
        ) from error


def find_numbers(line: str, pattern: re.Pattern[str], channels: Sequence[Channel]) -> str | None:
    """Return the numbers in an instrument's line as a person would type them; None if the pattern finds none.

    A pattern with groups named after channels gives each channel its own; with other groups, one number a group, in the
    order of the channels; without groups, everything that it matches.

    Args:
        line: the line as the instrument printed it.
        pattern: what finds the numbers.
        channels: what is read, in order.
    """
    if pattern.groups == 0:
        found = [m[0] for m in pattern.finditer(line)]
    else:
        match = pattern.search(line)
        if match is None:
            return None
        named = match.groupdict()
        found = [named[c] for c in channels] if set(channels) <= set(named) else list(match.groups())
    words = [word.strip() for word in found if word is not None and word.strip()]
    return "  ".join(words) if words else None


def _command(letter: str, number: str, channel: str) -> Input:
    name = COMMANDS.get(letter.lower())
    if letter.lower() in _ALONE:
        return Refusal(f"'{letter}' stands alone; ? lists the commands")
    if name is None:
        return Refusal(f"'{letter}' is not a command; ? lists the commands")
    if name == "go" and not number:
        return Refusal("g needs a step, such as g 12")
    if number and name not in ("go", "repeat"):
        return Refusal(f"'{letter}' takes no number; ? lists the commands")
    return Command(name, int(number) if number else None, channel)


def _by_point(text: str) -> list[str] | None:
    """Return the words of a line if commas and spaces separate numbers and points their decimals; None if not."""
    words = re.split(r"\s*[,;]\s*|\s+", text.strip())
    if not all(_is_word(w) for w in words):
        return None
    separators = {"," in gap or ";" in gap for gap in re.findall(r"[\s,;]+", text.strip())}
    if len(separators) > 1 and not all("." in w or w == NOT_READ for w in words):
        # "1,2 3": the comma separates numbers here, and a space does there.
        return None
    return words


def _by_comma(text: str) -> list[str] | None:
    """Return the words of a line if spaces or semicolons separate numbers and commas their decimals; None if not."""
    words = re.split(r"\s*;\s*|\s+", text.strip())
    if not any("," in w for w in words) or any("." in w for w in words) or not all(_is_word(w) for w in words):
        return None
    return None if any(w.endswith(",") for w in words) else [w.replace(",", ".") for w in words]


def _is_word(word: str) -> bool:
    return word == NOT_READ or (len(word) <= _LONGEST and _NUMBER.fullmatch(word) is not None)


def _judge(ways: Sequence[Sequence[str]], no_point: bool | None, scale: ReaderScale) -> Input:
    """Return the readings of a line that has one meaning, a question where it has two."""
    meanings = [_values(way, scaled=False) for way in ways]
    if len(ways) == 2 and meanings[0] != meanings[1]:
        first, second = (line_text(values) for values in meanings)
        return Refusal(f"the line can be read as {first} or as {second}; write points for the decimals")
    words = ways[0]
    if all(w == NOT_READ for w in words):
        return Refusal("the line has no reading; s leaves the step out")
    numbers = [w for w in words if w != NOT_READ and float(w) != 0]
    bare = [w for w in numbers if "." not in w]
    if scale.by_meter:
        return _of_meter(_values(words, scaled=False), scale)
    units, hundredths = _values(words, scaled=False), _values(words, scaled=True)
    if bare and no_point is True:
        return _in_range(hundredths)
    if bare and no_point is None and bare == numbers and not _out_of_range(hundredths):
        return WholeNumbers(hundredths, None if _out_of_range(units) else units)
    return _in_range(units)


def _values(words: Sequence[str], *, scaled: bool) -> Values:
    """Return words as densities; whole numbers as hundredths if ``scaled``."""
    return tuple(
        None if w == NOT_READ else float(w) / 100 if scaled and "." not in w else float(w) + 0.0 for w in words
    )


def _out_of_range(values: Values) -> float | None:
    return next((v for v in values if v is not None and not LEAST_READING <= v <= MOST_READING), None)


def _in_range(values: Values) -> Input:
    odd = _out_of_range(values)
    if odd is None:
        return Reading(values)
    if odd < 0:
        return Refusal(f"{odd:g} is below zero; zero the instrument on an empty gate")
    return Refusal(f"{odd:g} is not a density; its decimal point may be missing")


def _why_not(text: str, count: int) -> str:
    words = re.split(r"[\s,;]+", text.strip())
    strange = next((w for w in words if not _is_word(w)), None)
    if strange is not None:
        return f"'{strange}' is not a number; ? lists the commands"
    if len(words) == count:
        return "commas and spaces are mixed; write points for the decimals"
    there = "1 number" if len(words) == 1 else f"{len(words)} numbers"
    return f"the line has {there}; {count} expected ({NOT_READ} stands for a channel not read)"
