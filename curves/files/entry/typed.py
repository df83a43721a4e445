"""One typed line: which readings or which command it is, or what must be asked about it. Pure text in, plain data out.

Numbers are taken in every way that makes sense of the whole line. If there is one, it is taken; if there are two, or
none, the line is refused in words. Whole numbers are asked about. Nothing is guessed.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from curves.sensitometry.core.units import LEAST_READING, MOST_READING

Command = Literal["back", "repeat", "skip", "go", "end", "list", "help", "quit"]
COMMANDS: dict[str, Command] = {
    "u": "back",
    "r": "repeat",
    "s": "skip",
    "g": "go",
    "e": "end",
    "l": "list",
    "?": "help",
    "q": "quit",
}
NOT_READ = "-"
"""What stands for a channel that was not read."""

_NUMBER = re.compile(r"[-+]?(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)")
_COMMAND = re.compile(r"\s*([a-zA-Z?])\s*([0-9]{0,6})\s*([a-z]*)\s*")
_LONGEST = 9
"""Characters of the longest number that is taken for a reading."""


@dataclass(frozen=True)
class Taken:
    """A line of readings, one number per channel; None for a channel that was not read [density]."""

    values: tuple[float | None, ...]


@dataclass(frozen=True)
class Asked:
    """A line of whole numbers, which is taken only once the person has said whether the instrument shows no point.

    Attributes:
        values: the readings if it shows none [density].
        otherwise: the readings if it does; None where the line makes no sense then.
    """

    values: tuple[float | None, ...]
    otherwise: tuple[float | None, ...] | None = None


@dataclass(frozen=True)
class Told:
    """A line that is a command, and the step and the channel it names, if any."""

    command: Command
    step: int | None = None
    channel: str = ""


@dataclass(frozen=True)
class Refused:
    """A line that cannot be taken, and why."""

    why: str


Line = Taken | Asked | Told | Refused


def understand(text: str, count: int, *, pointless: bool | None = None) -> Line:
    """Return what a typed line means.

    Args:
        text: the line.
        count: how many numbers a line of readings has.
        pointless: True once the person has said that the instrument shows no decimal point, False once they have
            said that it does, None before.
    """
    told = _COMMAND.fullmatch(text)
    if told is not None and (told[2] or not told[3]):
        return _command(told[1], told[2], told[3])
    if not text.strip():
        return Refused("Enter alone takes nothing and repeats nothing")
    ways = [way for way in (_by_point(text), _by_comma(text)) if way is not None and len(way) == count]
    if not ways:
        return Refused(_why_not(text, count))
    return _judge(ways, pointless)


def _command(letter: str, number: str, channel: str) -> Line:
    command = COMMANDS.get(letter.lower())
    if command is None:
        return Refused(f"'{letter}' is no command; ? lists them")
    if command == "go" and not number:
        return Refused("g needs a step, such as g 12")
    if number and command not in ("go", "repeat"):
        return Refused(f"'{letter}' takes no number; ? lists the commands")
    return Told(command, int(number) if number else None, channel)


def _by_point(text: str) -> list[str] | None:
    """Return the words of a line if commas and spaces part numbers and a point their decimals; None if that fails."""
    words = re.split(r"\s*[,;]\s*|\s+", text.strip())
    if not all(_is_word(w) for w in words):
        return None
    parting = {"," in gap or ";" in gap for gap in re.findall(r"[\s,;]+", text.strip())}
    if len(parting) > 1 and not all("." in w or w == NOT_READ for w in words):
        # "1,2 3": the comma here parts numbers and there does not.
        return None
    return words


def _by_comma(text: str) -> list[str] | None:
    """Return the words of a line if spaces or semicolons part numbers and a comma their decimals; None if not."""
    words = re.split(r"\s*;\s*|\s+", text.strip())
    if not any("," in w for w in words) or any("." in w for w in words) or not all(_is_word(w) for w in words):
        return None
    return None if any(w.endswith(",") for w in words) else [w.replace(",", ".") for w in words]


def _is_word(word: str) -> bool:
    return word == NOT_READ or (len(word) <= _LONGEST and _NUMBER.fullmatch(word) is not None)


def _judge(ways: Sequence[Sequence[str]], pointless: bool | None) -> Line:
    """Return readings where a line has one meaning, a question where it has two."""
    meanings = [_values(way, scaled=False) for way in ways]
    if len(ways) == 2 and meanings[0] != meanings[1]:
        first, second = (" ".join(NOT_READ if v is None else f"{v:.2f}" for v in values) for values in meanings)
        return Refused(f"it can be read as {first} or as {second}; write points for the decimals")
    words = ways[0]
    if all(w == NOT_READ for w in words):
        return Refused("no channel was read; s leaves the step out")
    bare = [w for w in words if w != NOT_READ and "." not in w and float(w) != 0]
    plain, scaled = _values(words, scaled=False), _values(words, scaled=True)
    if bare and pointless is True:
        return _in_range(scaled)
    if bare and pointless is None and not _out_of_range(scaled) and len(bare) == sum(_is_not_zero(w) for w in words):
        return Asked(scaled, None if _out_of_range(plain) else plain)
    return _in_range(plain)


def _is_not_zero(word: str) -> bool:
    return word != NOT_READ and float(word) != 0


def _values(words: Sequence[str], *, scaled: bool) -> tuple[float | None, ...]:
    """Return words as densities; whole numbers as hundredths if ``scaled``."""
    return tuple(
        None if w == NOT_READ else float(w) / 100 if scaled and "." not in w else float(w) + 0.0 for w in words
    )


def _out_of_range(values: Sequence[float | None]) -> float | None:
    return next((v for v in values if v is not None and not LEAST_READING <= v <= MOST_READING), None)


def _in_range(values: tuple[float | None, ...]) -> Line:
    odd = _out_of_range(values)
    if odd is None:
        return Taken(values)
    if odd < 0:
        return Refused(f"{odd:g} is below zero; zero the instrument on an empty gate")
    return Refused(f"{odd:g} is no density; its point may be missing")


def _why_not(text: str, count: int) -> str:
    words = re.split(r"[\s,;]+", text.strip())
    strange = next((w for w in words if not _is_word(w)), None)
    if strange is not None:
        return f"'{strange}' is not a number; ? lists the commands"
    if len(words) == count:
        return "commas and spaces are mixed; write points for the decimals"
    numbers = "one number" if count == 1 else f"{count} numbers"
    return f"{numbers} wanted, {len(words)} found ({NOT_READ} stands for one not read)"
