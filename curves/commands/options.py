"""Options that several commands share: written once, given to a command by `with_options`."""

from __future__ import annotations

import functools
import inspect
from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields, replace
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
Folder = Annotated[Path, typer.Option("--into", metavar="FOLDER", help="Folder for the files; made if missing.")]
PageFolder = Annotated[Path, typer.Option("--into", metavar="FOLDER", help="Folder for the page; made if missing.")]
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


KIND, WEDGE = "kind of the film.", "steps x increment, such as 21x0.15@0.05"
INDEX, LUX, SECONDS = "index that the meter was set to.", "light on the wedge, in lux.", "exposure time, in seconds."
METERED, LOG_H = "step that the meter read.", "what listed log H counts from; relative if not given."
DENSITY = "kind of density that was read."
"""What the options that describe a strip give, for tables without a record and for new records alike."""

_KINDS = Literal["negative", "reversal"] | None
_ORIGINS = Literal["lux-seconds", "metered grey", "relative"] | None
_DENSITIES = Literal["status A", "status M", "visual", "scan"] | None


def _of_table(text: str, metavar: str | None = None) -> Any:
    """Return an option that describes a table without a record."""
    return typer.Option(metavar=metavar, help=f"For a bare table: {text}")


def _of_record(text: str, metavar: str | None = None) -> Any:
    """Return an option that answers a question about a new record."""
    return typer.Option(metavar=metavar, help=text[:1].upper() + text[1:])


@dataclass(frozen=True)
class RecordOptions:
    """The options that answer the questions about a new record, as a person types them."""

    kind: Annotated[_KINDS, _of_record(KIND)] = None
    wedge: Annotated[str | None, _of_record(f"{WEDGE}, or a wedge's table.", "NxD[@FIRST]")] = None
    lux: Annotated[str | None, _of_record(LUX)] = None
    seconds: Annotated[str | None, _of_record(SECONDS)] = None
    ei: Annotated[str | None, _of_record(INDEX)] = None
    metered_step: Annotated[str | None, _of_record(METERED)] = None
    log_h: Annotated[_ORIGINS, _of_record(LOG_H)] = None

    def answers(self) -> dict[str, str | None]:
        """Return the answers by question; None where an option was not given."""
        return {
            "kind": self.kind, "wedge": self.wedge, "exposure.lux": self.lux, "exposure.seconds": self.seconds,
            "exposure.ei": self.ei, "exposure.metered_step": self.metered_step, "exposure.log_h": self.log_h,
        }  # fmt: skip


@dataclass(frozen=True)
class StripOptions:
    """The shared options: the description of a bare table, and the choices that an analysis rests on."""

    kind: Annotated[_KINDS, _of_table(KIND)] = None
    wedge: Annotated[str | None, _of_table(f"{WEDGE}.", "NxD[@FIRST]")] = None
    ei: Annotated[float | None, _of_table(INDEX)] = None
    metered_step: Annotated[int | None, _of_table(METERED)] = None
    lux: Annotated[float | None, _of_table(LUX)] = None
    seconds: Annotated[float | None, _of_table(SECONDS)] = None
    log_h: Annotated[_ORIGINS, _of_table(LOG_H)] = None
    density: Annotated[_DENSITIES, _of_table(DENSITY)] = None
    white: Annotated[
        float, typer.Option(help="Scene white above mid-grey, in log H. Common practice: 90 % against 18 %.")
    ] = 0.70
    shadow: Annotated[
        float, typer.Option(help="Textured shadow against mid-grey, in log H. Common practice: three stops below.")
    ] = -0.90
    meter_constant: Annotated[
        float | None,
        typer.Option(
            metavar="K", help="Constant K of the meter (ISO 2720); 12.5 and 14 are built, the middle is taken."
        ),
    ] = None
    metered_exposure: Annotated[float | None, typer.Option(hidden=True)] = None
    seed: Annotated[int, typer.Option(help="Seed of the simulated readings behind the intervals.")] = 0

    def choices(self) -> Choices:
        """Return the choices that an analysis rests on.

        Raises:
            RecordError: an option is out of range, or options contradict each other.
        """
        from curves.errors import RecordError
        from curves.sensitometry.core.choices import Choices
        from curves.sensitometry.strip.metering import LEAST_CONSTANT, MOST_CONSTANT, constant_of

        if not self.white > self.shadow:
            raise RecordError(
                f"white at {self.white:g} is not above shadow at {self.shadow:g}",
                where="--white, --shadow",
                needed="white > shadow",
            )
        if self.metered_exposure is not None:
            said = f"{constant_of(self.metered_exposure):.3g}" if self.metered_exposure > 0 else "12.5"
            raise RecordError(
                "the exposure k of a meter is not an option any more",
                where="--metered-exposure",
                needed="the constant K of the meter, K = k / 0.6516",
                hint=f"--meter-constant {said}",
            )
        if self.meter_constant is not None and not LEAST_CONSTANT <= self.meter_constant <= MOST_CONSTANT:
            raise RecordError(
                f"{self.meter_constant:g} is not the constant of a meter",
                where="--meter-constant",
                needed=f"K from {LEAST_CONSTANT:g} to {MOST_CONSTANT:g}; meters are built with 12.5 or 14",
            )
        return Choices(meter_constant=self.meter_constant, white=self.white, shadow=self.shadow, seed=self.seed)

    def analyses(self, paths: Sequence[Path], choices: Choices | None = None) -> list[Analysis]:
        """Load and analyse strips.

        Args:
            paths: records and tables.
            choices: the choices to rest on, in place of those of the shared options.
        """
        from curves.sensitometry.analysis.analyse import analyse

        return [analyse(strip, choices or self.choices()) for strip in self.loaded(paths)]

    def loaded(self, paths: Sequence[Path]) -> list[Strip]:
        """Load strips."""
        described = self._described(paths)
        return [described._loaded(path) for path in paths]

    def load(self, path: Path) -> Strip:
        """Load a strip: a record as it is, a table with the options given for it."""
        return self._described([path])._loaded(path)

    def _described(self, paths: Sequence[Path]) -> StripOptions:
        """Return the options with the metered step, asked of a person at a terminal where a table needs the step."""
        from curves.commands.terminal import ask_for_step

        bare = any(path.suffix.lower() != ".toml" for path in paths)
        if not bare or self.ei is None or self.wedge is None or self.metered_step is not None:
            return self
        return replace(self, metered_step=ask_for_step("Step of the wedge that the meter read, from 1 > "))

    def _loaded(self, path: Path) -> Strip:
        from curves.files.strips.bare import strip_from_table
        from curves.files.strips.record import load_strip

        if path.suffix.lower() == ".toml":
            return load_strip(path)
        return strip_from_table(
            path,
            kind=self.kind,
            wedge=self.wedge,
            ei=self.ei,
            metered_step=self.metered_step,
            lux=self.lux,
            seconds=self.seconds,
            log_h=self.log_h,
            density=self.density,
        )


def with_options(options: type[StripOptions | RecordOptions]) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """Return a decorator that gives a command the options of a class, which it takes as its argument ``wanted``."""

    def decorate(command: Callable[..., None]) -> Callable[..., None]:
        own = [p for p in inspect.signature(command).parameters.values() if p.name != "wanted"]
        hints = get_type_hints(command, include_extras=True) | get_type_hints(options, include_extras=True)
        shared = [inspect.Parameter(f.name, inspect.Parameter.KEYWORD_ONLY, default=f.default) for f in fields(options)]
        parameters = [p.replace(kind=inspect.Parameter.KEYWORD_ONLY, annotation=hints[p.name]) for p in (*own, *shared)]

        @functools.wraps(command)
        def run(**given: Any) -> None:
            wanted = options(**{f.name: given.pop(f.name) for f in fields(options)})
            command(**given, wanted=wanted)

        # typer reads the signature that a function carries.
        run.__dict__["__signature__"] = inspect.Signature(parameters)
        run.__annotations__ = {p.name: p.annotation for p in parameters}
        return run

    return decorate


with_strip_options = with_options(StripOptions)
