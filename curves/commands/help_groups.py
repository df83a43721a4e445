"""The help and the usage errors of every command: groups under headings, in plain text and a photographer's words."""

from __future__ import annotations

import re
from typing import Any

import typer
from typer.core import TyperCommand

EXPOSURE, READINGS, SCENE, OUTPUT = "Exposure", "Readings", "Scene and meter", "Output"
LIGHT, NEXT, BRACKET = "Light", "After a strip", "Bracket"
"""Headings of the groups; the light and the bracket come after the exposure."""

_ARGUMENTS, _OWN = "Arguments", "Options"

_VALUES = (
    (r"<(?:float|list\[float\])(?: range)?>", "NUMBER"),
    (r"<int(?: range)?>", "N"),
    (r"<(?:str|list\[str\])>", "TEXT"),
    (r"<(?:path|list\[Path\])>", "FILE"),
)
_RANGES = ((r"([\d.]+)<=x<=([\d.]+)", r"\1 to \2"), (r"x>=([\d.]+)", r"\1 or more"), (r"x<=([\d.]+)", r"\1 or less"))
_FAULTS = (
    (r"^Input should be a valid number.*", "it is not a number; write it with a point, such as 12.5"),
    (r"^Input should be a valid integer.*", "it is not a whole number"),
    (r"^Input should be greater than or equal to (\S+)", r"it is less than \1"),
    (r"^Input should be less than or equal to (\S+)", r"it is more than \1"),
    (r"^Value error, ", ""),
)
"""What typer's own words become: of a value's type in the help, of its limits, and of a value that is refused."""


def _reworded(text: str, words: tuple[tuple[str, str], ...]) -> str:
    """Return a text of typer's with its programmers' words replaced."""
    for pattern, plain in words:
        text = re.sub(pattern, plain, text)
    return text


class GroupedCommand(TyperCommand):
    """A command whose help lists options under the headings of their groups, its own options first.

    Typer prints the groups of options (``rich_help_panel``) only in coloured help, which takes longer to start.
    """

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Read the words of a command line; a value that is refused is refused in plain words."""
        try:
            return super().parse_args(ctx, args)
        except typer.BadParameter as refusal:
            refusal.message = _reworded(refusal.message, _FAULTS)
            raise

    def format_options(self, ctx: Any, formatter: Any) -> None:
        """Write arguments, then options group by group; an option without a group belongs to "Options"."""
        groups: dict[str, list[tuple[str, str]]] = {}
        for param in self.get_params(ctx):
            record = param.get_help_record(ctx)
            if record is not None:
                argument = param.param_type_name == "argument"
                heading = _ARGUMENTS if argument else getattr(param, "rich_help_panel", None) or _OWN
                name = record[0].partition(" <")[0] if argument else _reworded(record[0], _VALUES)
                groups.setdefault(heading, []).append((name, _reworded(record[1], _RANGES)))
        for heading in (_ARGUMENTS, _OWN, EXPOSURE, LIGHT, NEXT, BRACKET, READINGS, SCENE, OUTPUT):
            if heading in groups:
                with formatter.section(heading):
                    formatter.write_dl(groups[heading])
