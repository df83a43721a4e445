"""``curves compare``: do strips really differ?"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import typer

from curves.commands.options import Json, PageFolder, StripOptions, Strips, with_strip_options


@with_strip_options
def compare(
    strips: Strips,
    wanted: StripOptions,
    all_pairs: Annotated[
        bool, typer.Option("--all-pairs", help="Compare all pairs; else each strip with the first.")
    ] = False,
    tolerance_stops: Annotated[
        float | None, typer.Option(help="Difference of exposures that does not matter, in stops: a third.")
    ] = None,
    tolerance_density: Annotated[
        float | None, typer.Option(help="Difference of densities that does not matter: 0.05.")
    ] = None,
    tolerance_gradient: Annotated[
        float | None, typer.Option(help="Difference of gradients that does not matter: 0.05.")
    ] = None,
    align: Annotated[
        Literal["log-h", "speed", "grey"],
        typer.Option(help="Lay the curves over each other by log H, by their speed points, or by mid-grey."),
    ] = "log-h",
    full: Annotated[bool, typer.Option("--full", help="Print every difference with its interval.")] = False,
    folder: PageFolder = Path("outputs"),
    as_json: Json = False,
) -> None:
    """Compare strips number by number. Errors that strips share leave no trace in their differences.

    The page shows their curves laid over each other.

    Example: curves compare wedge_data/heron-reversal.toml wedge_data/heron-filtered.toml

    Example: curves compare monday.toml tuesday.toml friday.toml --all-pairs --align speed
    """
    from curves.commands.many_strips import ManyStrips
    from curves.files.results.comparison import comparisons_json
    from curves.files.results.report_files import write_files
    from curves.sensitometry.comparison.differences import Tolerances, compare_strips
    from curves.views.many.comparison import comparison_page, comparison_text

    given = {"stops": tolerance_stops, "density": tolerance_density, "gradient": tolerance_gradient}
    tolerances = Tolerances(**{scale: size for scale, size in given.items() if size is not None})
    many = ManyStrips(strips, wanted)
    analyses = [analysis for _, analysis in many.analyses()]
    if len(analyses) < 2 <= len(many.strips):
        # Too few are left of those that were named: why, stands with each of the others.
        many.end()
    found = compare_strips(analyses, tolerances, "all" if all_pairs else "first")
    name = "-against-".join(strip.path.stem for strip in many.strips[:2])
    name += "-and-more" if len(many.strips) > 2 else ""
    page, text = folder / f"{name}.html", comparisons_json(found)
    write_files(folder, {page: comparison_page(found, tolerances, align), folder / f"{name}.json": text})
    if as_json:
        print(text, end="")
    else:
        print("\n".join(comparison_text(one, tolerances, full=full) for one in found), end="")
        print(f"\nTheir curves: {page}")
    many.end()
