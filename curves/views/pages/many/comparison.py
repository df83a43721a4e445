"""The page of strips side by side: their curves laid over each other, and the differences of their numbers."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

from curves.sensitometry.comparison.differences import NumberDifference, StripComparison, Tolerances
from curves.sensitometry.comparison.pairs import Alignment, log_h_to_add
from curves.sensitometry.uncertainty.results import Analysis
from curves.views.page.axes import LOG_H_TITLE, STYLES
from curves.views.page.frame import assemble_page
from curves.views.page.svg import Figure, spread_axis
from curves.views.page.tables import esc, minus, minus_in
from curves.views.text.comparison import (
    HEADINGS,
    comparison_notes,
    difference_words,
    matters,
    number_name,
    remedy_words,
)
from curves.views.words.digits import value

_DASHES = ("", "9 4", "2 3", "9 3 2 3", "5 2")
_UNIT = 150.0
"""Length of one density and of one log H [px]."""

_ALIGNED = {
    "log-h": "as exposed",
    "speed": "speed points laid over each other",
    "grey": "mid-grey at each strip's own index laid over the first's",
}


def comparison_page(found: Sequence[StripComparison], tolerances: Tolerances, by: Alignment) -> str:
    """Return the page of comparisons; the same results give the same page, to the letter.

    Args:
        found: the pairs, as `compare_strips` gives them.
        tolerances: the differences that do not matter.
        by: what the curves are laid over each other by.

    Raises:
        StripError: a strip does not show the point by which curves are laid over each other.
    """
    strips = list({id(a): a for pair in found for a in (pair.first, pair.second)}.values())
    titles = [analysis.strip.title for analysis in strips]
    title = " against ".join(titles) if len(titles) == 2 else f"{len(titles)} strips compared"
    body = (
        f'<article id="comparison"><div class="sheet"><header><h1>{esc(title)}</h1></header>'
        f"<section><h2>Curves, {_ALIGNED[by]}</h2>{_overlay(strips, by)}</section>"
        f"{''.join(_pair(pair, tolerances) for pair in found)}</div></article>"
    )
    return assemble_page(title, body, [], styles=["pages/many/many.css"])


def _overlay(strips: Sequence[Analysis], by: Alignment) -> str:
    """Return the curves of all strips in one figure, with its key."""
    moved = [log_h_to_add(a, strips[0], by) for a in strips]
    ends = [x + add for a, add in zip(strips, moved, strict=True) for f in a.channels.values() for x in f.curve.grid]
    densities = [float(d) for a in strips for f in a.channels.values() for d in f.curve.grid_density]
    x = spread_axis(LOG_H_TITLE[strips[0].strip.log_h_unit], ends, 0.03, 0.1)
    y = spread_axis("density", [0.0, *densities], 0.03, 0.1)
    about = "Density against log H: " + "; ".join(a.strip.title for a in strips)
    figure = Figure(x, y, _UNIT * (x.high - x.low), _UNIT * (y.high - y.low), about)
    for analysis, add, dash in zip(strips, moved, itertools.cycle(_DASHES)):
        for channel, found in analysis.channels.items():
            curve, colour = found.curve, STYLES[channel].colour
            if found.estimated:
                continue
            grid = curve.grid + add
            figure.band(grid, curve.low, curve.high, colour)
            figure.line(grid, curve.grid_density, colour, dash=dash)
    keys = "".join(
        f'<li><svg viewBox="0 0 40 10" width="40" height="10" aria-hidden="true"><path d="M0 5H40"'
        f' stroke="currentColor" stroke-width="2" stroke-dasharray="{dash}"/></svg> {esc(a.strip.title)}</li>'
        for a, dash in zip(strips, itertools.cycle(_DASHES))
    )
    caption = (
        "One density is as long as one log H. Colours are the channels, dashes the strips; shading is the 95 % interval"
        " of each curve with all its errors, also those that the strips share."
    )
    drawn = f'<figure tabindex="0">{figure.drawing()}<figcaption>{caption}</figcaption></figure>'
    return f'{drawn}<ul class="strips">{keys}</ul>'


def _pair(found: StripComparison, tolerances: Tolerances) -> str:
    """Return the differences of two strips as a table under a heading for each verdict."""
    groups = []
    for verdict, heading in HEADINGS.items():
        some = [one for one in found.differences if one.verdict == verdict]
        if some:
            more = f" ({esc(matters(tolerances))})" if verdict == "alike" else ""
            rows = "".join(_row(one) for one in some)
            groups.append(f'<tbody><tr><th colspan="4" scope="rowgroup">{heading}{more}</th></tr>{rows}</tbody>')
    notes = "".join(f"<p>{esc(minus_in(note))}</p>" for note in comparison_notes(found))
    return (
        f"<section><h2>{esc(found.first.strip.title)} (1) and {esc(found.second.strip.title)} (2)</h2>"
        f'<div class="scroll"><table class="differences"><thead><tr><th scope="col">number</th><th scope="col">1</th>'
        f'<th scope="col">2</th><th scope="col">2 beside 1</th></tr></thead>{"".join(groups)}</table></div>{notes}'
        "</section>"
    )


def _row(one: NumberDifference) -> str:
    """Return one difference as a row of the table."""
    told = difference_words(one) + (f"; {remedy}" if (remedy := remedy_words(one)) else "")
    shown = (esc(minus(value(q))) for q in (one.first.shown, one.second.shown))
    return (
        f'<tr><th scope="row">{esc(number_name(one))}</th>'
        + "".join(f'<td class="number">{text}</td>' for text in shown)
        + f"<td>{esc(minus_in(told))}</td></tr>"
    )
