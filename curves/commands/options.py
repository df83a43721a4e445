"""Options that several commands share, and how they load strips."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

if TYPE_CHECKING:
    from curves.sensitometry.choices import Choices
    from curves.sensitometry.findings import Analysis

KindName = Literal["negative", "reversal"]
DensityName = Literal["status A", "status M", "visual", "scan"]

Strips = Annotated[
    list[Path],
    typer.Argument(metavar="STRIP", help="Strip records (.toml), or tables of readings (.csv) with the options below."),
]
OneStrip = Annotated[
    Path, typer.Argument(metavar="STRIP", help="A strip record (.toml), or a table of readings (.csv).")
]
Kind = Annotated[KindName | None, typer.Option(help="For a bare table: what the film is.")]
WedgeText = Annotated[
    str | None,
    typer.Option("--wedge", metavar="NxD[@FIRST]", help="For a bare table: steps x increment, such as 21x0.15@0.05."),
]
EI = Annotated[float | None, typer.Option("--ei", help="For a bare table: the index the meter was set to.")]
Lux = Annotated[float | None, typer.Option(help="For a bare table: light on the wedge, in lux.")]
Seconds = Annotated[float | None, typer.Option(help="For a bare table: exposure time, in seconds.")]
Density = Annotated[DensityName | None, typer.Option(help="For a bare table: kind of density that was read.")]
White = Annotated[float, typer.Option(help="Scene white above mid-grey, in log H. Common practice: 90 % against 18 %.")]
Shadow = Annotated[
    float, typer.Option(help="Textured shadow against mid-grey, in log H. Common practice: three stops below.")
]
MeteredExposure = Annotated[
    float,
    typer.Option(help="k of H = k / EI, in lux-seconds: 10 by ISO 12232, 8.15 by the constants of ISO 2720."),
]
Seed = Annotated[int, typer.Option(help="Seed of the simulated readings behind the intervals.")]
Json = Annotated[bool, typer.Option("--json", help="Print JSON, and nothing else.")]


def choices(white: float, shadow: float, metered_exposure: float, seed: int) -> Choices:
    """Return the choices that an analysis rests on, refusing what makes no sense."""
    from curves.errors import RecordError
    from curves.sensitometry.choices import Choices

    if not white > shadow:
        raise RecordError(
            f"white at {white:g} is not above shadow at {shadow:g}", where="--white, --shadow", needed="white > shadow"
        )
    if not metered_exposure > 0:
        raise RecordError(f"{metered_exposure:g} is not an exposure", where="--metered-exposure", needed="above 0")
    return Choices(metered_exposure=metered_exposure, white=white, shadow=shadow, seed=seed)


def analyses(
    paths: list[Path],
    rests_on: Choices,
    *,
    kind: KindName | None,
    wedge: str | None,
    ei: float | None,
    lux: float | None,
    seconds: float | None,
    density: DensityName | None,
) -> list[Analysis]:
    """Load and analyse strips: records as they are, tables with the options given for them."""
    from curves.files.bare import strip_from_table
    from curves.files.record import load_strip
    from curves.sensitometry.analysis import analyse

    found = []
    for path in paths:
        if path.suffix.lower() == ".toml":
            strip = load_strip(path)
        else:
            strip = strip_from_table(path, kind=kind, wedge=wedge, ei=ei, lux=lux, seconds=seconds, density=density)
        found.append(analyse(strip, rests_on))
    return found
