"""The help of a command in groups: exposure, readings, scene, output, each under a heading, in plain text."""

from __future__ import annotations

from typing import Any

from typer.core import TyperCommand

EXPOSURE, READINGS, SCENE, OUTPUT = "Exposure", "Readings", "Scene and meter", "Output"
LIGHT, NEXT, BRACKET = "Light", "After a strip", "Bracket"
"""Headings of the groups; the light and the bracket come after the exposure."""

_ARGUMENTS, _OWN = "Arguments", "Options"


class GroupedCommand(TyperCommand):
    """A command whose help lists options under the headings of their groups, its own options first.

    Typer prints the groups of options (``rich_help_panel``) only in coloured help, which takes longer to start.
    """

    def format_options(self, ctx: Any, formatter: Any) -> None:
        """Write arguments, then options group by group; an option without a group belongs to "Options"."""
        groups: dict[str, list[tuple[str, str]]] = {}
        for param in self.get_params(ctx):
            record = param.get_help_record(ctx)
            if record is not None:
                argument = param.param_type_name == "argument"
                heading = _ARGUMENTS if argument else getattr(param, "rich_help_panel", None) or _OWN
                groups.setdefault(heading, []).append(record)
        for heading in (_ARGUMENTS, _OWN, EXPOSURE, LIGHT, NEXT, BRACKET, READINGS, SCENE, OUTPUT):
            if heading in groups:
                with formatter.section(heading):
                    formatter.write_dl(groups[heading])
