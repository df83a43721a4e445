"""The page of stacks: the bare curves and the curves behind one stack, with a selector for the stack."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Literal

import numpy as np

from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import LAYERS
from curves.sensitometry.filters.behind import BareStrip
from curves.sensitometry.filters.cast import TONES, Cast
from curves.sensitometry.filters.prediction import Pack
from curves.sensitometry.filters.stacks import Stack, Stacks
from curves.sensitometry.uncertainty.results import Analysis
from curves.views.page import tables
from curves.views.page.frame import assemble_page
from curves.views.page.tables import esc, minus
from curves.views.pages.stack_figures import channels_of, stack_figures
from curves.views.placing.projected import screen_colour
from curves.views.text import filters
from curves.views.words import digits

_HUE_GREY = 0.6
"""Density of the grey in which a cast's hue is shown: our own choice [density]."""


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
        _section("Stacks worth looking at", _stacks_table(found)),
        _section("The curves behind the stack", _selector(found) + _plots(bare), "curves"),
        _section("Cast without filters, and what no filter mends", _casts_table(bare, pack, found)),
        _section("What the numbers rest on", _notes(filters.stack_notes(analysis, bare, found, spell))),
    ]
    body = (
        f'<article id="filters"><div class="sheet"><header><h1>{esc(title)}</h1>'
        f'<p class="facts">{esc(filters.stack_name(best))} · {found.counted:,} stacks looked at</p></header>'
        f"{''.join(sections)}</div></article>"
    )
    drawings: list[dict[str, object]] = [
        {"id": f"filters-{name}", "strip": "filters", **figure}
        for name, figure in stack_figures(analysis, bare, found).items()
    ]
    return assemble_page(
        title, body, drawings, plotly=plotly, scripts=["page/filters.js"], styles=["pages/filters.css"]
    )


def _section(title: str, content: str, name: str = "") -> str:
    named = f' class="{name}"' if name else ""
    return f"<section{named}><h2>{esc(title)}</h2>{content}</section>\n"


def _answer(found: Stacks) -> str:
    """Return a card for each stack, the best first; the others are hidden until the reader looks at them."""
    cards = []
    for number, one in sorted(enumerate(found.listed), key=lambda listed: listed[1] is not found.best):
        hidden = "" if one is found.best else " hidden"
        said = [filters.index_words(one)]
        if one is found.best and (as_good := filters.as_good_words(found)):
            said.append(as_good)
        best = " (best)" if one is found.best else " (looked at)"
        named = {
            "through": f"EI {digits.show(one.ei_through, digits=1)} before rounding",
            "hand-held": f"EI {digits.show(one.prediction.ei, digits=1)} before rounding",
        }
        facts = (named if one.prediction.ei.value is not None else {}) | {
            "cost": f"{digits.show(one.prediction.cost, 'stops', 1)}{filters.shutter_words(one)}",
            "meter's part": f"{filters.meters_part(one)}, which a meter gives by itself through the filters",
        }
        rows = "".join(f"<dt>{name}</dt><dd>{esc(minus(fact))}</dd>" for name, fact in facts.items())
        casts = "".join(f"<dt>{tone}</dt><dd>{_cast(one.prediction.casts[tone])}</dd>" for tone in TONES)
        cards.append(
            f'<div data-stack="{number}"{hidden}><p class="range"><b>{esc(filters.stack_name(one))}</b>{best}</p>'
            f"{''.join(f'<p>{esc(tables.minus_in(words))}</p>' for words in said)}<dl>{rows}{casts}</dl></div>"
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


def _plots(bare: BareStrip) -> str:
    key = "".join(f"{tables.swatch(c)} {c} " for c in channels_of(bare))
    counted = "above each curve's own Dmin, as the layers are compared" if bare.match == "net" else "as they are"
    return (
        f'<p class="facts">{key}</p><div class="stack-figures"><figure><div class="plot curve" id="filters-curve"'
        ' role="group"'
        ' aria-label="Density against log H, without filters and behind the stack"></div>'
        f"<figcaption>Densities {counted}. Thin: without filters. Thick: behind the stack, which moves each layer to"
        " more exposure by its density to that layer; what no filter mends is lines that are not parallel. Dotted:"
        ' shadow, grey and white at the index to set.<span class="scale-stated"></span></figcaption></figure>'
        '<figure><div class="plot small" id="filters-cast" role="group"'
        ' aria-label="Each layer less the mean of the three against log H, without filters and behind the stack"></div>'
        "<figcaption>The cast: each layer less the mean of the three, counted as above. Thin: without filters. Thick:"
        " behind the stack. Where the three thick lines meet, a tone is neutral.</figcaption></figure></div>"
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
        '<div class="wide" tabindex="0"><table><thead><tr><th scope="col">tone</th><th scope="col">without filters</th>'
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
        chosen = " checked" if one is found.best else ""
        radio = f'<input type="radio" name="stack-row" value="{number}" autocomplete="off" disabled{chosen}>'
        name = f'<th scope="row"><label>{radio} {esc(filters.stack_name(one))}{mark}</label></th>'
        rows.append(f"<tr>{name}{''.join(f'<td>{cell}</td>' for cell in cells)}</tr>")
    titles = "".join(f'<th scope="col">{name}</th>' for name in head)
    return (
        f"<p>{esc(filters.counted(found))}</p>"
        f'<div class="wide" tabindex="0"><table class="stacks"><thead><tr>{titles}</tr></thead>'
        f"<tbody>{''.join(rows)}</tbody></table></div>"
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
    return f"{_hue(cast)}{_quantity(cast.amount, 2)} {esc(words[1] if len(words) > 1 else words[0])}"


def _hue(cast: Cast) -> str:
    """Return a patch of grey with the cast, round it the same grey without, as HTML."""
    layers = np.array([cast.layers[layer].value or 0.0 for layer in LAYERS])
    neutral, tinged = (screen_colour(_HUE_GREY + away) for away in (np.zeros(3), layers))
    return f'<i class="hue" style="background:{tinged};border-color:{neutral}"></i> '


def _notes(notes: Sequence[str]) -> str:
    items = "".join(f"<li>{esc(note)}</li>" for note in notes)
    return f"<ul>{items}</ul>"
