"""``curves filters``: the stack to use for a strip, a filter measured on film, and a prediction checked on film."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import typer

from curves.commands.options import Folder, Json, Library, StripOptions, option_of, with_strip_options


@with_strip_options
def filters(
    wanted: StripOptions,
    strip: Annotated[
        Path | None, typer.Argument(metavar="[STRIP]", help="The strip exposed without filters.", show_default=False)
    ] = None,
    drawer: Annotated[
        Path | None, typer.Option("--drawer", metavar="FILE", help="The table of filters at hand (.csv).")
    ] = None,
    most: Annotated[int, typer.Option("--most", min=1, max=6, help="Most filters in a stack.")] = 3,
    match: Annotated[
        Literal["net", "absolute"],
        typer.Option("--match", help="Compare layers above their own Dmin, or as they are."),
    ] = "net",
    max_stops: Annotated[float, typer.Option("--max-stops", min=0.0, help="Most exposure a stack may cost.")] = 5.0,
    measured: Annotated[
        tuple[Path, Path] | None,
        typer.Option("--from", metavar="BARE FILTERED", help="Measure a filter from strips without and with it."),
    ] = None,
    pictures: Annotated[
        tuple[Path, Path] | None,
        typer.Option(
            "--from-pictures",
            metavar="BESIDE THROUGH",
            help="Measure a filter from two pictures of one light, beside it and through it, taken with one exposure.",
        ),
    ] = None,
    place: Annotated[
        str, typer.Option("--area", metavar="L,T,R,B", help="With --from-pictures: the place measured; the middle.")
    ] = "",
    encoding: Annotated[
        str, typer.Option(metavar="linear|srgb|gamma:N", help="With --from-pictures: encoding of the numbers.")
    ] = "",
    name: Annotated[str, typer.Option("--name", help="With --from...: name of the filter in the drawer.")] = "",
    meter_factor: Annotated[
        float | None,
        typer.Option("--meter-factor", help="With --from: factor between meter readings without and with the filter."),
    ] = None,
    verified: Annotated[
        tuple[Path, Path] | None,
        typer.Option("--verify", metavar="BARE ACTUAL", help="Compare a prediction with a strip through --stack."),
    ] = None,
    stack: Annotated[str, typer.Option("--stack", help='With --verify: "one filter + another".')] = "",
    folder: Folder = Path("outputs"),
    library: Library = "inline",
    as_json: Json = False,
) -> None:
    """Find the filters that bring the layers together, and their cost.

    Or measure a filter, or verify a stack on film.

    Example: curves filters wedge_data/heron-reversal.toml --drawer wedge_data/drawer.csv

    Example: curves filters --from bare.toml filtered.toml --name "magenta CC40" --drawer drawer.csv

    Example: curves filters --from-pictures open.dng filtered.dng --name "amber" --drawer drawer.csv

    Example: curves filters --verify bare.toml actual.toml --stack "magenta CC40 + cyan CC05" --drawer drawer.csv
    """
    from curves.errors import RecordError

    if sum(form is not None for form in (strip, measured, pictures, verified)) != 1:
        raise typer.BadParameter(
            "give one of: STRIP; --from BARE FILTERED; --from-pictures BESIDE THROUGH; --verify BARE ACTUAL"
        )
    if drawer is None:
        raise RecordError("the table of filters is not given", where="--drawer", needed="a table such as drawer.csv")
    if strip is not None:
        _find(wanted, strip, drawer, most, match, max_stops, folder, library, as_json=as_json)
    elif measured is not None:
        _measure(wanted, measured, drawer, name, meter_factor, as_json=as_json)
    elif pictures is not None:
        _photographed(pictures, drawer, name, place, encoding, as_json=as_json)
    elif verified is not None:
        _verify(wanted, verified, drawer, stack, match, as_json=as_json)


def _find(
    wanted: StripOptions,
    strip: Path,
    drawer: Path,
    most: int,
    match: Literal["net", "absolute"],
    max_stops: float,
    folder: Path,
    library: Literal["inline", "beside"],
    *,
    as_json: bool,
) -> None:
    """Print the stacks for a strip, and write their page."""
    from curves.files.filters.drawer import read_drawer
    from curves.files.filters.results import stacks_json
    from curves.files.results.report_files import write_files
    from curves.sensitometry.filters.behind import BareStrip
    from curves.sensitometry.filters.prediction import ideal_pack
    from curves.sensitometry.filters.stacks import find_stacks
    from curves.views.page.frame import PLOTLY_BESIDE, plotly_library
    from curves.views.pages.filters import filters_page
    from curves.views.text.filters import stacks_text

    filters_at_hand = read_drawer(drawer)
    analysis = wanted.analyses([strip])[0]
    bare = BareStrip.of(analysis, wanted.choices(), match)
    pack, found = ideal_pack(bare), find_stacks(bare, filters_at_hand, most=most, max_stops=max_stops)
    text = stacks_json(analysis, bare, pack, found)
    page = folder / f"{strip.stem}-filters.html"
    texts = {
        page: filters_page(analysis, bare, pack, found, plotly=library, spell=option_of),
        folder / f"{strip.stem}-filters.json": text,
    }
    if library == "beside":
        texts[folder / PLOTLY_BESIDE] = plotly_library()
    write_files(folder, texts)
    if as_json:
        print(text, end="")
    else:
        print(stacks_text(analysis, bare, pack, found, option_of), end="")
        print(f"\nThe curves behind each stack: {page}")


def _measure(
    wanted: StripOptions,
    strips: tuple[Path, Path],
    drawer: Path,
    name: str,
    meter_factor: float | None,
    *,
    as_json: bool,
) -> None:
    """Print a filter's density to each layer of the film, and write the filter into the drawer."""
    import math

    from curves.errors import RecordError
    from curves.files.filters.drawer_writing import check_filter_name, keep_filter
    from curves.files.filters.results import measured_filter_json
    from curves.sensitometry.core.units import LAYERS, STOP
    from curves.sensitometry.filters.densities import filter_of
    from curves.sensitometry.filters.from_strips import measure_filter
    from curves.views.text.filters import measured_filter_text

    check_filter_name(name)
    if meter_factor is not None and not meter_factor >= 1.0:
        raise RecordError(f"{meter_factor:g} is not a filter factor", where="--meter-factor", needed="1 or more")
    choices = wanted.choices()
    bare, filtered = wanted.analyses(strips)
    stops = None if meter_factor is None else math.log10(meter_factor) / STOP
    found = measure_filter(bare, filtered, choices, meter_stops=stops)
    one = filter_of(
        name,
        [found.layers[c].density.value or 0.0 for c in LAYERS],
        "film",
        visual=None if stops is None else stops * STOP,
        uncertainty=found.uncertainty,
    )
    replaced = keep_filter(drawer, one)
    text = measured_filter_text(one, found, str(drawer), replaced, option_of)
    print(measured_filter_json(one, found) if as_json else text, end="")


def _photographed(
    pictures: tuple[Path, Path], drawer: Path, name: str, place: str, encoding: str, *, as_json: bool
) -> None:
    """Print the density of a filter to a camera, and write the filter into the drawer."""
    from curves.app.pictures.scan_encoding import without_wedge
    from curves.files.filters.drawer_writing import check_filter_name, keep_filter
    from curves.files.filters.from_pictures import filter_of_pictures
    from curves.files.filters.results import photographed_filter_json
    from curves.files.scans.places import rectangle
    from curves.files.scans.scan import Scan
    from curves.sensitometry.scan.encoding import LINEAR, parse_encoding
    from curves.views.text.filters import photographed_filter_text

    check_filter_name(name)
    with Scan(pictures[0], LINEAR) as beside:
        choice = without_wedge(beside, parse_encoding(encoding) if encoding else None, wedge=False)
        corners = rectangle(place, beside.facts, "area") if place else None
        found = filter_of_pictures(beside, pictures[1], name, corners)
    replaced = keep_filter(drawer, found.one)
    text = photographed_filter_text(found.one, found.scatter, str(drawer), replaced, choice.sentence)
    print(photographed_filter_json(found.one, found.scatter) if as_json else text, end="")


def _verify(
    wanted: StripOptions,
    strips: tuple[Path, Path],
    drawer: Path,
    stack: str,
    match: Literal["net", "absolute"],
    *,
    as_json: bool,
) -> None:
    """Print a prediction compared with the measurement on film."""
    from curves.files.filters.drawer import read_drawer, stack_of
    from curves.files.filters.results import prediction_check_json
    from curves.sensitometry.filters.prediction_check import check_stack
    from curves.views.text.filters import prediction_check_text

    at_hand, choices = read_drawer(drawer), wanted.choices()
    members = stack_of(stack, at_hand)
    bare, actual = wanted.analyses(strips)
    found = check_stack(bare, actual, at_hand, members, choices, match)
    print(prediction_check_json(found) if as_json else prediction_check_text(found), end="")
