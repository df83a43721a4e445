"""The page of stacks: the bare curves and the curves behind one stack, with a selector for the stack."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, Literal

import numpy as np

from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import LAYERS, Channel, FloatArray
from curves.sensitometry.filters.behind import EYE, BareStrip, visual_behind
from curves.sensitometry.filters.cast import TONES, Cast
from curves.sensitometry.filters.prediction import Pack
from curves.sensitometry.filters.stacks import Stack, Stacks
from curves.sensitometry.uncertainty.results import Analysis
from curves.views.page import tables
from curves.views.page.axes import FAINT, STYLES, Scene, base_layout, numbers, rounded
from curves.views.page.frame import assemble_page
from curves.views.page.tables import esc, minus
from curves.views.text import filters
from curves.views.words import digits

_POINTS = 121


def filters_page(
    analysis: Analysis,
    bare: BareStrip,
    pack: Pack,
    found: Stacks,
    *,
    plotly: Literal["inline", "beside"] = "inline",
    spell: Callable[[str], str] = str,
) -> str:
    """Return the page of a strip's stacks; the same results give the same page, to the letter.

    Args:
        analysis: results of the bare strip.
        bare: the bare strip as filters need it.
        pack: the ideal pack of the strip.
        found: the stacks for the strip.
        plotly: where the plotting library is kept, as for `report_page`.
        spell: returns the name of a setting for the reader; by default the parameter's own.
    """
    best = found.best
    title = f"{analysis.strip.title}: filters"
    sections = [
        _section("What to use", _answer(found), "stack-answer"),
        _section("The curves behind the stack", _selector(found) + _plot(bare), "curves"),
        _section("Cast without filters, and what no filter mends", _casts_table(bare, pack, found)),
        _section("Stacks worth looking at", _stacks_table(found)),
        _section("What the numbers rest on", _notes(filters.stack_notes(analysis, bare, found, spell))),
    ]
    body = (
        f'<article id="filters"><div class="sheet"><header><h1>{esc(title)}</h1>'
        f'<p class="facts">{esc(filters.stack_name(best))} · {found.counted:,} stacks looked at</p></header>'
        f"{''.join(sections)}</div></article>"
    )
    drawing: dict[str, object] = {"id": "filters-curve", "strip": "filters", **stacks_figure(analysis, bare, found)}
    return assemble_page(title, body, [drawing], plotly=plotly, more_script="filters.js")


def stacks_figure(analysis: Analysis, bare: BareStrip, found: Stacks) -> dict[str, Any]:
    """Return the figure: bare curves thin, the curves behind the best stack thick, and the curves of other stacks.

    Beside ``data`` and ``layout`` it holds ``moved``, the numbers of the traces that a stack moves, and ``stacks``, the
    contents of these traces for each stack.
    """
    channels = _channels(bare)
    ensembles = dict(zip(LAYERS, bare.layers, strict=True)) | {bare.eye.channel: bare.eye}
    data: list[dict[str, Any]] = []
    for channel in channels:
        curve = ensembles[channel]
        thin = {"color": STYLES[channel].colour, "width": 1, "dash": STYLES[channel].dash or "solid"}
        compared = curve.density[0] - _counted_from(bare, channel)
        data.append(_trace(channel, "without filters", curve.grid, compared, thin, opacity=0.55))
    stacks = [_moved(bare, one, channels) for one in found.listed]
    chosen = stacks[found.listed.index(found.best)]
    for channel, x, y in zip(channels, chosen["x"], chosen["y"], strict=True):
        thick = {"color": STYLES[channel].colour, "width": 3, "dash": STYLES[channel].dash or "solid"}
        data.append(
            {**_trace(channel, "behind the stack", np.array([]), np.array([]), thick, opacity=1.0), "x": x, "y": y}
        )
    net = bare.match == "net"
    layout = base_layout(
        analysis, Scene(None, None, {}), "density above its own Dmin" if net else "density", large=True
    )
    layout["xaxis"]["title"]["text"] += ", in front of the filters"
    drawn = [y for trace in data for y in trace["y"] if y is not None]
    layout["yaxis"] |= {"range": [rounded(min(0.0, *drawn) - 0.1), rounded(max(drawn) + 0.2)], "automargin": False}
    layout["yaxis"] |= {"scaleanchor": "x", "scaleratio": 1}
    layout["xaxis"] |= {"automargin": False, "constrain": "domain"}
    low, high = layout["xaxis"]["range"]
    longest = max(float(one.prediction.shifts[0].max()) for one in found.listed)
    layout["xaxis"]["range"] = [low, rounded(high + min(longest, 1.0))]
    layout |= {"shapes": chosen["shapes"], "annotations": chosen["annotations"]}
    return {
        "data": data,
        "layout": layout,
        "moved": list(range(len(channels), 2 * len(channels))),
        "stacks": stacks,
    }


def _counted_from(bare: BareStrip, channel: Channel) -> float:
    """Return the density from which a curve is drawn, as the layers are compared: its own Dmin, or 0 [density]."""
    if bare.match != "net":
        return 0.0
    return float((bare.eye_dmin if channel == "visual" else bare.dmin[LAYERS.index(channel)]).rows[0])


def _channels(bare: BareStrip) -> tuple[Channel, ...]:
    return (*LAYERS, "visual") if bare.eye.channel == "visual" else LAYERS


def _trace(
    channel: Channel, what: str, x: FloatArray, y: FloatArray, line: dict[str, Any], *, opacity: float
) -> dict[str, Any]:
    return {
        "type": "scatter",
        "mode": "lines",
        "meta": channel,
        "name": f"{channel}, {what}",
        "x": numbers(x),
        "y": numbers(y),
        "line": line,
        "opacity": opacity,
        "hovertemplate": f"<b>{channel}, {what}</b><br>log H %{{x:.2f}}<br>density %{{y:.2f}}<extra></extra>",
    }


def _moved(bare: BareStrip, one: Stack, channels: Sequence[Channel]) -> dict[str, Any]:
    """Return the part of the figure that depends on the stack: curves by channel, and the scene's tones."""
    shifts = one.prediction.shifts[0]
    curves = []
    for channel in channels:
        if channel != "visual":
            layer = bare.layers[LAYERS.index(channel)]
            curves.append((layer.grid + shifts[LAYERS.index(channel)], layer.density[0]))
            continue
        first = max(float(e.grid[0]) + f for e, f in zip(bare.layers, shifts, strict=True))
        last = min(float(e.grid[-1]) + f for e, f in zip(bare.layers, shifts, strict=True))
        first, last = max(first, float(bare.eye.grid[0] + shifts @ EYE)), min(last, float(bare.eye.grid[-1]) + 9.0)
        x = np.linspace(first, last, _POINTS) if last > first else np.array([])
        y = (
            visual_behind(bare, np.broadcast_to(shifts, (x.size, 3)), x)
            if bare.eye.kind == "reversal"
            else np.full_like(x, np.nan)
        )
        curves.append((x, y))
    grey = float(one.prediction.grey[0])
    tones = dict(zip(TONES, grey + bare.tones(), strict=True)) if np.isfinite(grey) else {}
    dotted = {"color": FAINT, "width": 1, "dash": "1px 3px"}
    return {
        "x": [numbers(x) for x, _ in curves],
        "y": [numbers(y - _counted_from(bare, c)) for c, (_, y) in zip(channels, curves, strict=True)],
        "shapes": [
            {"type": "line", "x0": rounded(x), "x1": rounded(x), "yref": "paper", "y0": 0, "y1": 1, "line": dotted,
             "layer": "below"} for x in tones.values()
        ],
        "annotations": [
            {"text": tone, "x": rounded(x), "yref": "paper", "y": 1, "yanchor": "top", "showarrow": False,
             "font": {"size": 11, "color": FAINT}, "bgcolor": "#ffffff", "borderpad": 1} for tone, x in tones.items()
        ],
    }  # fmt: skip


def _section(title: str, content: str, name: str = "") -> str:
    named = f' class="{name}"' if name else ""
    return f"<section{named}><h2>{esc(title)}</h2>{content}</section>\n"


def _answer(found: Stacks) -> str:
    """Return one card for each stack, all hidden but that of the best."""
    cards = []
    for number, one in enumerate(found.listed):
        hidden = "" if one is found.best else " hidden"
        cost = minus(digits.show(one.prediction.cost, "stops", 1))
        said = filters.index_words(one)
        best = " (best)" if one is found.best else ""
        cards.append(
            f'<div data-stack="{number}"{hidden}><p class="range"><b>{esc(filters.stack_name(one))}</b>{best}</p>'
            f"<p>{esc(said)}</p><dl><dt>cost</dt><dd>{esc(cost)}</dd>"
            + "".join(f"<dt>{tone}</dt><dd>{_cast(one.prediction.casts[tone])}</dd>" for tone in TONES)
            + "</dl></div>"
        )
    return "".join(cards)


def _selector(found: Stacks) -> str:
    options = "".join(
        f'<option value="{n}"{" selected" if one is found.best else ""}>{esc(filters.stack_name(one))}'
        f"{' (best)' if one is found.best else ''}</option>"
        for n, one in enumerate(found.listed)
    )
    return (
        '<p><label for="stack">Stack shown</label> '
        f'<select id="stack" autocomplete="off" disabled>{options}</select></p>'
    )


def _plot(bare: BareStrip) -> str:
    key = "".join(f"{tables.swatch(c)} {c} " for c in _channels(bare))
    counted = "above each curve's own Dmin, as the layers are compared" if bare.match == "net" else "as they are"
    return (
        f'<p class="facts">{key}</p><figure><div class="plot curve" id="filters-curve" role="img"'
        ' aria-label="Density against log H, without filters and behind the stack"></div>'
        f"<figcaption>Densities {counted}. Thin: without filters. Thick: behind the stack, which moves each layer to"
        " more exposure by its density to that layer; what no filter mends is lines that are not parallel. Dotted:"
        ' shadow, grey and white at the index to set.<span class="scale-stated"></span></figcaption></figure>'
    )


def _casts_table(bare: BareStrip, pack: Pack, found: Stacks) -> str:
    rows = "".join(
        f'<tr><th scope="row">{tone}</th><td>{_cast(found.bare.prediction.casts[tone])}</td>'
        f"<td>{_cast(pack.left.casts[tone]) if pack.left else 'not known'}</td></tr>"
        for tone in TONES
    )
    words = filters.pack_sentence(pack)
    compared = "above each layer's own Dmin" if bare.match == "net" else "as they are"
    return (
        f"<p>Layers are compared {compared}.</p>"
        '<div class="wide"><table><thead><tr><th scope="col">tone</th><th scope="col">without filters</th>'
        f'<th scope="col">behind the ideal pack: crossover</th></tr></thead><tbody>{rows}</tbody></table></div>'
        f"<p>{esc(words)}</p>"
    )


def _stacks_table(found: Stacks) -> str:
    head = ("stack", *TONES, "cost in stops", "hand-held", "through", "on the strip", "next leaves")
    rows = []
    for number, one in enumerate(found.listed):
        following = found.listed[number + 1] if number + 1 < len(found.listed) else None
        cells = [
            *(_cast(one.prediction.casts[tone]) for tone in TONES),
            _quantity(one.prediction.cost, 1),
            "none" if one.nominal is None else f"{one.nominal:g}",
            "none" if one.nominal_through is None else f"{one.nominal_through:g}",
            "yes" if not one.prediction.uncovered else f"no: {esc(', '.join(one.prediction.uncovered))}",
            _following(following),
        ]
        mark = " (best)" if one is found.best else ""
        name = f'<th scope="row">{esc(filters.stack_name(one))}{mark}</th>'
        rows.append(f"<tr>{name}{''.join(f'<td>{cell}</td>' for cell in cells)}</tr>")
    titles = "".join(f'<th scope="col">{name}</th>' for name in head)
    return (
        f"<p>{esc(filters.counted(found))}</p>"
        f'<div class="wide"><table><thead><tr>{titles}</tr></thead><tbody>{"".join(rows)}</tbody></table></div>'
    )


def _following(one: Stack | None) -> str:
    if one is None or one.worse_than_before is None:
        return ""
    return f"{_quantity(one.worse_than_before, 3)} more cast, {'' if one.told_apart else 'not '}told apart"


def _quantity(q: Quantity, most: int) -> str:
    ends = minus(digits.interval(q, most))
    text = esc(minus(digits.value(q, most)))
    return f'{text} <span class="interval">{esc(ends)}</span>' if ends else text


def _cast(cast: Cast) -> str:
    if cast.amount.value is None:
        return esc(cast.words)
    words = cast.words.split(" ", 1)
    return f"{_quantity(cast.amount, 2)} {esc(words[1] if len(words) > 1 else words[0])}"


def _notes(notes: Sequence[str]) -> str:
    items = "".join(f"<li>{esc(note)}</li>" for note in notes)
    return f"<ul>{items}</ul>"
