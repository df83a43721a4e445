"""Options that several commands share: written once, given to a command by `with_options`."""

from __future__ import annotations

import functools
import inspect
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal, get_type_hints

import typer

from curves.commands.help_groups import EXPOSURE, OUTPUT, READINGS, SCENE

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
Folder = Annotated[
    Path,
    typer.Option("--into", metavar="FOLDER", help="Folder for the files; made if missing.", rich_help_panel=OUTPUT),
]
PageFolder = Annotated[
    Path, typer.Option("--into", metavar="FOLDER", help="Folder for the page; made if missing.", rich_help_panel=OUTPUT)
]
Library = Annotated[
    Literal["inline", "beside"],
    typer.Option(
        "--plotly",
        help="Keep the plotting library inside each page (5 MB) or once, beside the pages.",
        rich_help_panel=OUTPUT,
    ),
]
Card = Annotated[
    bool,
    typer.Option(
        "--card",
        help="Write an A6 card beside each page: what to set, what goes first, the bracket to shoot.",
        rich_help_panel=OUTPUT,
    ),
]
Json = Annotated[bool, typer.Option("--json", help="Print JSON, and nothing else.", rich_help_panel=OUTPUT)]
Full = Annotated[bool, typer.Option("--full", help="Print all of it, not only one screen.", rich_help_panel=OUTPUT)]


def seconds(text: str) -> float:
    """Return the time that a person types in seconds: "0.02" or "1/50" [s]."""
    top, _, below = text.replace(",", ".").partition("/")
    try:
        time = float(top) / (float(below) if "/" in text else 1.0)
    except (ValueError, ZeroDivisionError):
        time = math.nan
    if not 0.0 < time < math.inf:
        raise typer.BadParameter(f"'{text}' is not a time in seconds; write 0.02 or 1/50")
    return time


_OPTIONS = {"columns": "--column", "no_point=True": "--no-point", "no_point=False": "--point", "first_end": "--from",
            "wanted": "--for", "number": "--for"}  # fmt: skip
"""Options that do not bear the name of the setting that they give."""


def option_of(setting: str) -> str:
    """Return the option that gives a setting: "match=absolute" is given by "--match absolute"."""
    name, _, value = setting.partition("=")
    if setting in _OPTIONS:
        return _OPTIONS[setting]
    option = _OPTIONS.get(name, "--" + name.replace("_", "-"))
    return f'{option} "{value}"' if " " in value else f"{option} {value}".rstrip()


KIND, WEDGE = "kind of the film.", "steps x increment, such as 21x0.15@0.05, or a wedge's table."
INDEX, LUX, SECONDS = "index that the meter was set to.", "light on the wedge, in lux.", "exposure time, in seconds."
METERED, LOG_H = (
    "step that the meter read.",
    "what listed log H counts from; relative if not given. With a wedge alone, relative: its light was not measured.",
)
DENSITY = "kind of density that was read."
UNIT = "what the meter shows: densities, stops below the open light, EV, times at one aperture, or per cent."
OPEN_GATE = "reading of the light with no film in it, such as 14.2 or 1/1000."
"""What the options that describe a strip give, for tables without a record and for new records alike."""

_MOST_STOPS = 15.0
"""The furthest that a scene tone may lie from mid-grey [stops]."""

_LIKELY_STOPS = 1.5
"""A scene tone in log H beyond this was likely meant in stops [log10]."""

_KINDS = Literal["negative", "reversal"] | None
_ORIGINS = Literal["lux-seconds", "metered grey", "relative"] | None
Units = Literal["density", "stops", "ev", "seconds", "percent"] | None
_DENSITIES = Literal["status A", "status M", "visual", "scan"] | None


def _of_table(text: str, group: str, metavar: str | None = None, **others: Any) -> Any:
    """Return an option that describes a table without a record."""
    return typer.Option(metavar=metavar, help=f"For a bare table: {text}", rich_help_panel=group, **others)


def _of_record(text: str, group: str, metavar: str | None = None) -> Any:
    """Return an option that answers a question about a new record."""
    return typer.Option(metavar=metavar, help=text[:1].upper() + text[1:], rich_help_panel=group)


def _of_scene(text: str, **others: Any) -> Any:
    """Return an option that says what the index is for: a scene and a meter."""
    return typer.Option(help=text, rich_help_panel=SCENE, **others)


@dataclass(frozen=True)
class RecordOptions:
    """The options that answer the questions about a new record, as a person types them."""

    kind: Annotated[_KINDS, _of_record(KIND, READINGS)] = None
    wedge: Annotated[str | None, _of_record(WEDGE, EXPOSURE, "NxD[@FIRST]")] = None
    lux: Annotated[str | None, _of_record(LUX, EXPOSURE)] = None
    seconds: Annotated[str | None, _of_record(SECONDS, EXPOSURE)] = None
    ei: Annotated[str | None, _of_record(INDEX, EXPOSURE)] = None
    metered_step: Annotated[str | None, _of_record(METERED, EXPOSURE)] = None

    def answers(self) -> dict[str, str | None]:
        """Return the answers by question; None where an option was not given."""
        return {
            "kind": self.kind, "wedge": self.wedge, "exposure.lux": self.lux, "exposure.seconds": self.seconds,
            "exposure.ei": self.ei, "exposure.metered_step": self.metered_step,
        }  # fmt: skip


@dataclass(frozen=True)
class StripOptions:
    """The shared options: the description of a bare table, and the choices that an analysis rests on."""

    kind: Annotated[_KINDS, _of_table(KIND, READINGS)] = None
    density: Annotated[_DENSITIES, _of_table(DENSITY, READINGS)] = None
    unit: Annotated[Units, _of_table(UNIT, READINGS)] = None
    open_gate: Annotated[str | None, _of_table(OPEN_GATE, READINGS, "READING")] = None
    wedge: Annotated[str | None, _of_table(WEDGE, EXPOSURE, "NxD[@FIRST]")] = None
    ei: Annotated[float | None, _of_table(INDEX, EXPOSURE)] = None
    metered_step: Annotated[int | None, _of_table(METERED, EXPOSURE)] = None
    lux: Annotated[float | None, _of_table(LUX, EXPOSURE)] = None
    seconds: Annotated[float | None, _of_table(SECONDS, EXPOSURE, "TIME", parser=seconds)] = None
    log_h: Annotated[_ORIGINS, _of_table(LOG_H, EXPOSURE)] = None
    white_stops: Annotated[
        float | None,
        _of_scene("Scene white above mid-grey, in stops. Common practice: 2.3, 90 % against 18 %."),
    ] = None
    shadow_stops: Annotated[
        float | None,
        _of_scene("Textured shadow against mid-grey, in stops. Common practice: -3, three below."),
    ] = None
    meter_constant: Annotated[
        float | None,
        _of_scene("Constant K of the meter (ISO 2720); 12.5 and 14 are built, the middle is taken.", metavar="K"),
    ] = None
    metered_exposure: Annotated[float | None, typer.Option(hidden=True)] = None
    white: Annotated[float | None, typer.Option(hidden=True)] = None
    shadow: Annotated[float | None, typer.Option(hidden=True)] = None
    seed: Annotated[
        int, typer.Option(help="Seed of the simulated readings behind the intervals.", rich_help_panel=OUTPUT)
    ] = 0

    draws: Annotated[
        int | None,
        typer.Option(
            metavar="N", help="Simulated readings behind the intervals, 1000; 0 for none.", rich_help_panel=OUTPUT
        ),
    ] = None

    def choices(self) -> Choices:
        """Return the choices that an analysis rests on.

        Raises:
            RecordError: an option is out of range, or options contradict each other.
        """
        from curves.errors import RecordError
        from curves.sensitometry.core.choices import Choices
        from curves.sensitometry.strip.metering import LEAST_CONSTANT, MOST_CONSTANT, constant_of

        self._refuse_log_h()
        white, shadow = self._tones()
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
        found = Choices(meter_constant=self.meter_constant, white=white, shadow=shadow, seed=self.seed)
        return found if self.draws is None else replace(found, draws=self.draws, most_draws=self.draws)

    def _tones(self) -> tuple[float, float]:
        """Return scene white and textured shadow as the choices have them: given, or common practice [log10]."""
        from curves.errors import RecordError
        from curves.sensitometry.core.choices import Choices
        from curves.sensitometry.core.units import STOP

        for option, tone in (("--white-stops", self.white_stops), ("--shadow-stops", self.shadow_stops)):
            if tone is not None and not abs(tone) <= _MOST_STOPS:
                raise RecordError(
                    f"no scene tone lies {tone:g} stops from mid-grey",
                    where=option,
                    needed=f"at most {_MOST_STOPS:g} stops above or below",
                )
        white = Choices.white if self.white_stops is None else self.white_stops * STOP
        shadow = Choices.shadow if self.shadow_stops is None else self.shadow_stops * STOP
        if not white > shadow:
            raise RecordError(
                f"white at {white / STOP:.1f} stops is not above shadow at {shadow / STOP:.1f}",
                where="--white-stops, --shadow-stops",
                needed="white > shadow",
            )
        return white, shadow

    def _refuse_log_h(self) -> None:
        """Refuse scene tones in log H, and say what they are in stops."""
        from curves.errors import RecordError
        from curves.sensitometry.core.units import STOP

        for name, log_h in (("white", self.white), ("shadow", self.shadow)):
            if log_h is None:
                continue
            hint = f"--{name}-stops {log_h / STOP:.1f}"
            if abs(log_h) > _LIKELY_STOPS:
                hint += f", or --{name}-stops {log_h:g} if stops were meant"
            raise RecordError(
                f"tones of the scene are given in stops now; {log_h:g} of log H is {log_h / STOP:.1f} stops",
                where=f"--{name}",
                hint=hint,
            )

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
        complete = self.completed(paths)
        return [complete.load(path) for path in paths]

    def index_analyses(self, path: Path, choices: Choices) -> list[Analysis]:
        """Load and analyse what an index rests on: a strip, or the frames of a bracket, stack by stack."""
        from curves.files.strips.record import load_by_stack
        from curves.sensitometry.analysis.analyse import analyse_for_index

        is_record = path.suffix.lower() == ".toml"
        strips = load_by_stack(path) if is_record else [self.completed([path]).load(path)]
        return [analyse_for_index(strip, choices) for strip in strips]

    def completed(self, paths: Sequence[Path]) -> StripOptions:
        """Return the options with the metered step, asked of a person at a terminal where a table needs the step."""
        from curves.commands.terminal import ask_for_step

        bare = any(path.suffix.lower() != ".toml" for path in paths)
        if not bare or self.ei is None or self.wedge is None or self.metered_step is not None:
            return self
        return replace(self, metered_step=ask_for_step("Step of the wedge that the meter read, from 1 > "))

    def load(self, path: Path) -> Strip:
        """Load a strip: a record as it is, a table with the options given for it.

        Raises:
            CurvesError: there is no such file, it is not a strip's, or it cannot be understood.
        """
        from curves.app.strip_files import strips_among
        from curves.files.strips.bare import strip_from_table
        from curves.files.strips.record import load_strip

        if path.suffix.lower() == ".toml":
            return load_strip(path)
        strips_among([path])
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
            unit=self.unit,
            open_gate=self.open_gate,
        )


def with_options(options: type[Any]) -> Callable[[Callable[..., None]], Callable[..., None]]:
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
