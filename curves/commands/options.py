"""Options that several commands share: written once, given to a command by `with_strip_options`."""

from __future__ import annotations

import functools
import inspect
from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal, get_type_hints

import typer

if TYPE_CHECKING:
    from curves.sensitometry.core.choices import Choices
    from curves.sensitometry.strip.strip import Strip
    from curves.sensitometry.uncertainty.results import Analysis

Strips = Annotated[
    list[Path],
    typer.Argument(
        metavar="STRIP", help="Strip records (.toml), or tables that `import` reads, with the options below."
    ),
]
OneStrip = Annotated[
    Path, typer.Argument(metavar="STRIP", help="A strip record (.toml), or a table of readings (.csv).")
]
Folder = Annotated[Path, typer.Option("--into", metavar="FOLDER", help="Where the files go; made if need be.")]
PageFolder = Annotated[Path, typer.Option("--into", metavar="FOLDER", help="Where the page goes; made if need be.")]
Library = Annotated[
    Literal["inline", "beside"],
    typer.Option("--plotly", help="Keep the plotting library inside each page (5 MB) or once, beside the pages."),
]
Json = Annotated[bool, typer.Option("--json", help="Print JSON, and nothing else.")]


_OPTIONS = {"columns": "--column", "no_point=True": "--no-point", "no_point=False": "--point", "first_end": "--from"}
"""Options that do not bear the name of the setting that they give."""


def option_of(setting: str) -> str:
    """Return the option that gives a setting: "match=absolute" is given by "--match absolute"."""
    name, _, value = setting.partition("=")
    if setting in _OPTIONS:
        return _OPTIONS[setting]
    option = _OPTIONS.get(name, "--" + name.replace("_", "-"))
    return f'{option} "{value}"' if " " in value else f"{option} {value}".rstrip()


@dataclass(frozen=True)
class StripOptions:
    """The shared options: the description of a bare table, and the choices that an analysis rests on."""

    kind: Annotated[
        Literal["negative", "reversal"] | None, typer.Option(help="For a bare table: what the film is.")
    ] = None
    wedge: Annotated[
        str | None,
        typer.Option(metavar="NxD[@FIRST]", help="For a bare table: steps x increment, such as 21x0.15@0.05."),
    ] = None
    ei: Annotated[float | None, typer.Option(help="For a bare table: the index the meter was set to.")] = None
    lux: Annotated[float | None, typer.Option(help="For a bare table: light on the wedge, in lux.")] = None
    seconds: Annotated[float | None, typer.Option(help="For a bare table: exposure time, in seconds.")] = None
    density: Annotated[
        Literal["status A", "status M", "visual", "scan"] | None,
        typer.Option(help="For a bare table: kind of density that was read."),
    ] = None
    white: Annotated[
        float, typer.Option(help="Scene white above mid-grey, in log H. Common practice: 90 % against 18 %.")
    ] = 0.70
    shadow: Annotated[
        float, typer.Option(help="Textured shadow against mid-grey, in log H. Common practice: three stops below.")
    ] = -0.90
    metered_exposure: Annotated[
        float, typer.Option(help="k of H = k / EI, in lux-seconds: 10 by ISO 12232, 8.15 by the constants of ISO 2720.")
    ] = 10.0
    seed: Annotated[int, typer.Option(help="Seed of the simulated readings behind the intervals.")] = 0

    def choices(self) -> Choices:
        """Return the choices that an analysis rests on, refusing what makes no sense."""
        from curves.errors import RecordError
        from curves.sensitometry.core.choices import Choices

        if not self.white > self.shadow:
            raise RecordError(
                f"white at {self.white:g} is not above shadow at {self.shadow:g}",
                where="--white, --shadow",
                needed="white > shadow",
            )
        if not self.metered_exposure > 0:
            raise RecordError(
                f"{self.metered_exposure:g} is not an exposure", where="--metered-exposure", needed="above 0"
            )
        return Choices(metered_exposure=self.metered_exposure, white=self.white, shadow=self.shadow, seed=self.seed)

    def analyses(self, paths: Sequence[Path], choices: Choices | None = None) -> list[Analysis]:
        """Load and analyse strips.

        Args:
            paths: records and tables.
            choices: what to rest on, in place of what the shared options say.
        """
        from curves.sensitometry.analysis.analyse import analyse

        return [analyse(strip, choices or self.choices()) for strip in self.loaded(paths)]

    def loaded(self, paths: Sequence[Path]) -> list[Strip]:
        """Load strips."""
        return [self.load(path) for path in paths]

    def load(self, path: Path) -> Strip:
        """Load a strip: a record as it is, a table with the options given for it."""
        from curves.files.strips.bare import strip_from_table
        from curves.files.strips.record import load_strip

        if path.suffix.lower() == ".toml":
            return load_strip(path)
        return strip_from_table(
            path,
            kind=self.kind,
            wedge=self.wedge,
            ei=self.ei,
            lux=self.lux,
            seconds=self.seconds,
            density=self.density,
        )


def with_strip_options(command: Callable[..., None]) -> Callable[..., None]:
    """Give a command the options of `StripOptions`, which it takes as its one argument ``wanted``."""
    own = [p for p in inspect.signature(command).parameters.values() if p.name != "wanted"]
    hints = get_type_hints(command, include_extras=True) | get_type_hints(StripOptions, include_extras=True)
    shared = [
        inspect.Parameter(f.name, inspect.Parameter.KEYWORD_ONLY, default=f.default) for f in fields(StripOptions)
    ]
    parameters = [p.replace(kind=inspect.Parameter.KEYWORD_ONLY, annotation=hints[p.name]) for p in (*own, *shared)]

    @functools.wraps(command)
    def run(**given: Any) -> None:
        wanted = StripOptions(**{f.name: given.pop(f.name) for f in fields(StripOptions)})
        command(**given, wanted=wanted)

    # What typer reads: a function may carry a signature of its own.
    run.__dict__["__signature__"] = inspect.Signature(parameters)
    run.__annotations__ = {p.name: p.annotation for p in parameters}
    return run
