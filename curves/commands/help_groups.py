"""The help of a command in groups: exposure, readings, scene, output, each under a heading, in plain text."""

from __future__ import annotations

from typing import Any

from typer.core import TyperCommand

EXPOSURE, READINGS, SCENE, OUTPUT = "Exposure", "Readings", "Scene and meter", "Output"
"""Headings of the groups that several commands share."""


class GroupedCommand(TyperCommand):
    """A command whose help lists options under the headings of their groups, its own options first.

    Typer prints the groups of options (``rich_help_panel``) only in coloured help, which takes longer to start.
    """

    def format_options(self, ctx: Any, formatter: Any) -> None:
        """Write arguments, then options group by group; an option without a group belongs to "Options"."""
        groups: dict[str, list[tuple[str, str]]] = {"Arguments": [], "Options": []}
        for param in self.get_params(ctx):
            record = param.get_help_record(ctx)
            if record is not None:
                argument = param.param_type_name == "argument"
                heading = "Arguments" if argument else getattr(param, "rich_help_panel", None) or "Options"
                groups.setdefault(str(heading), []).append(record)
        # The way out comes last.
        for heading, records in sorted(groups.items(), key=lambda group: group[0] == OUTPUT):
            if records:
                with formatter.section(heading):
                    formatter.write_dl(records)
