"""Strips side by side, in words and on a page: how they differ, worst first, and their curves laid over each other."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence

from curves.sensitometry.comparison.differences import NumberDifference, StripComparison, Tolerances, Verdict
from curves.sensitometry.comparison.numbers import OPPOSITES, Scale
from curves.sensitometry.comparison.pairs import Alignment, log_h_to_add
from curves.sensitometry.measures.table import SPEEDS
from curves.sensitometry.uncertainty.results import Analysis
from curves.views.page.axes import LOG_H_TITLE, STYLES
from curves.views.page.frame import assemble_page
from curves.views.page.svg import Figure, spread_axis
from curves.views.page.tables import esc, minus, minus_in
from curves.views.words.digits import decimals, number, value
from curves.views.words.wrapping import wrapped

HEADINGS: dict[Verdict, str] = {
    "differs": "These differ",
    "open": "It cannot be told yet whether these differ",
    "slight": "These differ by less than matters",
    "alike": "These do not differ by as much as matters",
    "not known": "These are not known on both strips",
}
UNITS: dict[Scale, str] = {"stops": "stops", "density": "density", "gradient": "gradient"}
_NAME = 21
"""Least width of the column of names [characters]."""

_LEADING = {"ei", *(rule.key for rule in SPEEDS), "dmin", "dmax", "gamma", "T", "speed"}
"""Numbers shown in full where it cannot be told whether they differ; the others are named."""

_THIRD = 1.0 / 3.0

_DASHES = ("", "9 4", "2 3", "9 3 2 3", "5 2")

_UNIT = 150.0
"""Length of one density and of one log H [px]."""

_ALIGNED = {
    "log-h": "as exposed",
    "speed": "speed points laid over each other",
    "grey": "mid-grey at each strip's own index laid over the first's",
}


def comparison_text(found: StripComparison, tolerances: Tolerances, *, full: bool = False) -> str:
    """Return a comparison as text: the numbers that differ, or may, and what stands behind their intervals.

    Args:
        found: the comparison.
        tolerances: the differences that do not matter.
        full: True to show every difference with its interval.
    """
    lines = [*wrapped(f"1: {found.first.strip.title}"), *wrapped(f"2: {found.second.strip.title}")]
    for verdict, heading in HEADINGS.items():
        some = [one for one in found.differences if one.verdict == verdict]
        shown = [one for one in some if full or _in_full(one)]
        named = [one for one in some if one not in shown]
        if not some:
            continue
        lines += ["", *wrapped(heading + (f" ({_matters(tolerances)}):" if verdict == "alike" else ":"))]
        width = max([_NAME, *(len(_number_name(one)) for one in shown)])
        lines += [line for one in shown for line in _difference(one, width)]
        if named:
            lines += wrapped(f"{'also ' if shown else ''}{_by_name(named)}", indent=2)
    return "\n".join([*lines, "", *(line for note in _comparison_notes(found) for line in wrapped(note))]) + "\n"


def _in_full(one: NumberDifference) -> bool:
    """Return True if a difference is shown with its interval: it is there, or a leading number cannot be told yet."""
    return one.verdict in ("differs", "slight") or (one.verdict == "open" and one.first.key[0] in _LEADING)


def _matters(tolerances: Tolerances) -> str:
    """Return the differences that do not matter, in words."""
    stops = "a third of a stop" if abs(tolerances.stops - _THIRD) < 1e-9 else f"{tolerances.stops:g} stops"
    return f"{stops}, {tolerances.density:g} density, {tolerances.gradient:g} gradient"


def _number_name(one: NumberDifference) -> str:
    """Return the name of a number with its channel."""
    channel = one.first.key[1]
    return one.first.label if channel is None else f"{one.first.label}, {channel}"


def difference_words(one: NumberDifference) -> str:
    """Return a difference in words: "1.1 stops slower (0.7 to 1.4)", "over 0.3 stops faster", "not known"."""
    found, unit = one.difference, UNITS[one.first.scale] + " "
    if one.first.scale == "gradient":
        unit = ""
    if found.value is None:
        if one.verdict == "not known" or found.bound is None:
            return "not known"
        side, end = found.bound
        word = one.first.more if side == ">" else OPPOSITES[one.first.more]
        return f"over {abs(end):.2g} {unit}{word}"
    word = one.first.more if found.value >= 0 else OPPOSITES[one.first.more]
    unit = "" if one.first.scale == "density" else unit
    size = found if found.value >= 0 else -found
    if size.low is None or size.high is None:
        return f"{value(size)} {unit}{word}"
    # An end that tells whether there is a difference never reads like none.
    places = decimals(size)
    places = next((n for n in range(places, places + 3) if round(size.low, n) != 0.0), places)
    shown, low, high = (number(x, places) for x in (abs(found.value), size.low, size.high))
    return f"{shown} {unit}{word} ({low} to {high})"


def _remedy_words(one: NumberDifference) -> str:
    """Return the readings or strips that would tell whether a number differs; an empty text where that is told."""
    if one.verdict != "open":
        return ""
    ways = []
    if one.readings is not None:
        ways.append(f"{one.readings} readings of everything")
    if one.strips is not None:
        ways.append(f"{one.strips} strips of each")
    if not ways:
        return "more readings or strips alone would not tell"
    return f"{' or '.join(ways)} would tell"


def _comparison_notes(found: StripComparison) -> Iterable[str]:
    """Yield the errors that an interval of a comparison holds and those that cancel, each a sentence or two."""
    for strip in (found.first.strip, found.second.strip):
        if strip.match is not None:
            yield f"Densities of {strip.title} are a scan's, {strip.match.sentence}."
    if found.shared:
        yield f"Shared by both strips, so that it cancels: {'; '.join(found.shared)}."
    if found.again > 0.0:
        yield (
            f"One light exposed both: one exposure against the other is taken to be sure to {found.again:.2f} stops"
            " (standard uncertainty, assumed)."
        )
    yield (
        "Not in the intervals: how much a process differs from one strip to the next. Two strips of one process, from"
        " two runs, show it."
    )


def _difference(one: NumberDifference, width: int) -> list[str]:
    """Return the lines of one difference, its name in a column of a width [characters]."""
    first, second = one.first.shown, one.second.shown
    # Of two densities or gradients both have the same decimals; of two indexes each has its own figures.
    places = None if one.first.key[1] is None else min(decimals(first), decimals(second))
    both = f"{value(first, places)} → {value(second, places)}"
    told = difference_words(one) + (f"; {remedy}" if (remedy := _remedy_words(one)) else "")
    return wrapped(f"{_number_name(one):<{width}} {both:<14} {told}", indent=2, hanging=width + 18)


def _by_name(some: Iterable[NumberDifference]) -> str:
    """Return the names of numbers, each once with its channels."""
    channels: dict[str, list[str]] = {}
    for one in some:
        channels.setdefault(one.first.label, []).extend([one.first.key[1]] if one.first.key[1] else [])
    return "; ".join(f"{label} ({', '.join(of)})" if of else label for label, of in channels.items())


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
    return assemble_page(title, body, [], styles=["many/many.css"])


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
            more = f" ({esc(_matters(tolerances))})" if verdict == "alike" else ""
            rows = "".join(_row(one) for one in some)
            groups.append(f'<tbody><tr><th colspan="4" scope="rowgroup">{heading}{more}</th></tr>{rows}</tbody>')
    notes = "".join(f"<p>{esc(minus_in(note))}</p>" for note in _comparison_notes(found))
    return (
        f"<section><h2>{esc(found.first.strip.title)} (1) and {esc(found.second.strip.title)} (2)</h2>"
        f'<div class="scroll"><table class="differences"><thead><tr><th scope="col">number</th><th scope="col">1</th>'
        f'<th scope="col">2</th><th scope="col">2 beside 1</th></tr></thead>{"".join(groups)}</table></div>{notes}'
        "</section>"
    )


def _row(one: NumberDifference) -> str:
    """Return one difference as a row of the table."""
    told = difference_words(one) + (f"; {remedy}" if (remedy := _remedy_words(one)) else "")
    shown = (esc(minus(value(q))) for q in (one.first.shown, one.second.shown))
    return (
        f'<tr><th scope="row">{esc(_number_name(one))}</th>'
        + "".join(f'<td class="number">{text}</td>' for text in shown)
        + f"<td>{esc(minus_in(told))}</td></tr>"
    )
