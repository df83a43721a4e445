"""The page of a correction: curves and greys before and after, the picture, and every tone with its numbers."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import numpy as np

from curves.app.pictures.balance_job import BalancedPicture
from curves.sensitometry.balance.neutral import Balance, Tone
from curves.sensitometry.core.units import Channel, FloatArray
from curves.views.balance.swatches import pictures, swatches
from curves.views.balance.text import answer, ends_title, ends_words, key_words, target_words, uncertain
from curves.views.page.axes import LOG_H_TITLE, STYLES
from curves.views.page.frame import assemble_page
from curves.views.page.svg import Figure, spread_axis
from curves.views.page.tables import esc, minus

_UNIT = 105.0
"""Length of one density and of one log H [px]."""


def balance_page(balance: Balance, notes: Sequence[str], picture: BalancedPicture | None) -> str:
    """Return the page of a correction; the same results give the same page, to the letter.

    Args:
        balance: the correction.
        notes: what must be known about it, each a sentence.
        picture: the picture that was corrected; None if there is none.
    """
    title = f"Balance: {balance.analysis.strip.title}"
    sections = [
        ("How neutral?", f"<p>{esc(minus(answer(balance)))}</p>{swatches(balance)}"),
        ("The picture", "" if picture is None else pictures(picture)),
        ("The curves", f'<div class="pairs">{_curves(balance)}</div>{_key(balance)}'),
        (ends_title(balance), _ends(balance)),
        ("Remarks", f"<ul>{''.join(f'<li>{esc(minus(note))}</li>' for note in notes)}</ul>"),
        ("Every grey", _table(balance)),
    ]
    body = (
        f'<article id="balance"><div class="sheet"><header><h1>{esc(title)}</h1>'
        f'<p class="facts">{esc(target_words(balance))}</p></header>'
        + "".join(f"<section><h2>{name}</h2>{content}</section>" for name, content in sections if content)
        + "</div></article>"
    )
    return assemble_page(title, body, [], styles=["balance/balance.css"])


def _curves(balance: Balance) -> str:
    """Return the channels' curves before and after, each in a figure."""
    return _figure(balance, "as it is", lambda tone: tone.scanned) + _figure(
        balance, "balanced", lambda tone: tone.balanced
    )


def _figure(balance: Balance, name: str, densities: Callable[[Tone], Mapping[Channel, float]]) -> str:
    log_h = np.array([tone.log_h for tone in balance.tones])
    every = [d for tone in balance.tones for side in (tone.scanned, tone.balanced) for d in side.values()]
    x = spread_axis(LOG_H_TITLE[balance.analysis.strip.log_h_unit], log_h.tolist(), 0.03, 0.1)
    y = spread_axis("density", [0.0, *every], 0.03, 0.1)
    about = f"Density against log H, {name}: {', '.join(balance.maps)}"
    figure = Figure(x, y, _UNIT * (x.high - x.low), _UNIT * (y.high - y.low), about)
    for channel in balance.maps:
        figure.line(log_h, _of(balance, densities, channel), STYLES[channel].colour, dash=STYLES[channel].dash)
    return f'<figure tabindex="0"><figcaption>{name}</figcaption>{figure.drawing()}</figure>'


def _of(balance: Balance, densities: Callable[[Tone], Mapping[Channel, float]], channel: Channel) -> FloatArray:
    return np.array([densities(tone)[channel] for tone in balance.tones])


def _key(balance: Balance) -> str:
    """Return the channels with their lines."""
    return "<p class=\"lines\">" + " ".join(
        f'<span><svg viewBox="0 0 40 10" width="40" height="10" aria-hidden="true"><path d="M0 5H40" stroke-width="2"'
        f' stroke="{STYLES[c].colour}" stroke-dasharray="{STYLES[c].dash.replace("px", "")}"/></svg> {c}</span>'
        for c in balance.maps
    ) + "</p>"  # fmt: skip


def _ends(balance: Balance) -> str:
    rows = "".join(
        f'<tr><th scope="row">{channel}</th><td>{esc(ends_words(ends))}</td></tr>'
        for channel, ends in balance.ends.items()
    )
    return f"<table>{rows}</table>"


def _table(balance: Balance) -> str:
    """Return every grey with its densities, its cast and the noise, a row each."""
    names, scope = list(balance.maps), '<th scope="col">'
    several = len(names) > 1
    cast = f"{scope}cast</th>" if several else ""
    heads = "".join(f"{scope}{name}</th>" for name in names)
    gains = "".join(f"{scope}noise, {name}</th>" for name in names)
    rows = []
    for tone in balance.tones:
        limit = uncertain(tone)
        numbers = [
            f"{tone.log_h:.2f}",
            *(f"{tone.scanned[c]:.2f}" for c in names),
            f"{tone.target + 0.0:.2f}",
            *([] if not several else ["" if limit is None else f"{limit:.2f}"]),
            *(f"{tone.gain[c]:.1f}" for c in names),
        ]
        cells = "".join(f'<td class="number">{minus(text)}</td>' for text in numbers)
        rows.append(f'<tr><th scope="row">{esc(tone.label)}</th>{cells}</tr>')
    key = "".join(f"<p>{esc(minus(sentence))}</p>" for sentence in key_words(balance))
    return (
        f'<div class="scroll" tabindex="0"><table class="tones"><thead><tr>{scope}grey</th>{scope}log H</th>{heads}'
        f"{scope}becomes</th>{cast}{gains}</tr></thead><tbody>{''.join(rows)}</tbody></table></div>{key}"
    )
