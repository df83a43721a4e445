"""The correction of pictures, in words and on a page: what it makes of every grey, and where colour ends."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from statistics import median

import numpy as np
from numpy.typing import NDArray

from curves.app.pictures.balance_job import BalancedPicture
from curves.sensitometry.balance.neutral import Balance, LayerEnds, Tone
from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import LAYERS, Channel, FloatArray, transmittance
from curves.sensitometry.scan.encoding import SRGB
from curves.views.page.axes import LOG_H_TITLE, STYLES
from curves.views.page.frame import assemble_page, png_uri
from curves.views.page.svg import Figure, spread_axis
from curves.views.page.tables import esc, minus
from curves.views.words.digits import value_and_interval
from curves.views.words.wrapping import listed, row, wrapped

_SHOWN = 0.005
"""Density below which nothing is said to be lost: half of the last digit that instruments show [density]."""

_ROOM = 7
"""Width of a number and the gap before it [characters]."""

_UNIT = 105.0
"""Length of one density and of one log H [px]."""


def balance_text(balance: Balance, notes: Sequence[str]) -> str:
    """Return a correction as text.

    Args:
        balance: the correction.
        notes: what must be known about it, each a sentence.
    """
    lines = [*wrapped(balance.analysis.strip.title), *wrapped(_target_words(balance)), ""]
    lines += wrapped(_answer(balance))
    lines += ["", *_table(balance), ""]
    lines += [line for sentence in _key_words(balance) for line in wrapped(sentence)]
    lines += ["", f"{_ends_title(balance)}:"]
    lines += [line for channel, ends in balance.ends.items() for line in row(channel, _ends_words(ends))]
    lines += listed("Remarks:", notes)
    return "\n".join(lines) + "\n"


def _target_words(balance: Balance) -> str:
    """Return the scale of greys that a correction brings a film to, as a clause."""
    target = balance.target
    of = f"{target.channel}'s own curve" if len(balance.maps) > 1 else "the film's own curve"
    scale = f"at the contrast of {of}" if target.gamma is None else f"at gamma {target.gamma:g}"
    if target.kind == "negative":
        return f"a negative made positive, greys {scale}; its densest known grey becomes white"
    return f"a positive, greys {scale}"


def _answer(balance: Balance) -> str:
    """Return the cast that the greys of a strip have before and after, in a sentence."""
    if len(balance.maps) == 1:
        return "The film has one channel, so there is no cast to take out: the correction changes its contrast alone."
    tone, channel = balance.worst
    left = abs(tone.cast[channel].value or 0.0)
    after = "less than 0.005" if left < _SHOWN else f"up to {left:.2f} ({tone.label}, {channel})"
    widths, sure = balance.half_widths, ""
    if widths:
        step, widest = max(widths.items(), key=lambda one: one[1])
        sure = f", known to ±{median(widths.values()):.2f} typically and ±{widest:.2f} at worst ({step}; 95 %)"
    return (
        f"The strip's greys are up to {balance.worst_before:.2f} density from neutral as they are, and {after} after"
        f" the correction{sure}."
    )


def _uncertain(tone: Tone) -> float | None:
    """Return the greatest distance of a grey from neutral after the correction [density]; None without draws."""
    ends = [abs(end) for q in tone.cast.values() for end in (q.low, q.high) if end is not None]
    return max(ends, default=None)


def _ends_words(ends: LayerEnds) -> str:
    """Return the ends at which a channel's colour is lost, in words."""
    parts = []
    if (thin := _amount(ends.thin)) is not None:
        parts.append(f"below net {thin} nothing is left to balance")
    if (dense := _amount(ends.dense)) is not None:
        parts.append(f"{'nor ' if parts else 'nothing is left to balance '}within {dense} of its densest")
    return ", ".join(parts) or "every density that the strip shows can be balanced"


def _amount(lost: Quantity) -> str | None:
    """Return a density at which colour ends, in words; None if it is too small to be read."""
    most = lost.known_ends[1]
    if most < _SHOWN:
        return None
    if (lost.value or 0.0) < _SHOWN:
        return f"{most:.2f} at most (95 %)"
    return value_and_interval(lost, 3)


def _ends_title(balance: Balance) -> str:
    """Return the heading of the ends at which a channel no longer tells exposures apart."""
    return "Where colour ends" if len(balance.maps) > 1 else "Where tones end"


def _key_words(balance: Balance) -> list[str]:
    """Return the meaning of the columns of the table, each a sentence."""
    several = len(balance.maps) > 1
    scatter = max(ends.scatter for ends in balance.ends.values())
    of_reader = (
        "what a scanner makes of every density it makes in the pictures too, and that cancels; stray light in part: it"
        " changes with the light in the frame."
        if balance.analysis.strip.density == "scan"
        else "in a picture whose densities are those of the strip's reader, and no scan has those."
    )
    cast = "cast: the furthest that this grey may lie from neutral afterwards (95 %), by the errors of the strip; "
    return [
        *([cast + of_reader] if several else []),
        "noise: how many times the correction makes grain and noise stronger; a number of the map, without error.",
        f"{'Colour ends' if several else 'Tones end'} where a reading, scattered by {scatter:.3f}, no longer tells the"
        f" {'layer' if several else 'film'}'s exposure to a stop.",
    ]


def _table(balance: Balance) -> list[str]:
    """Return every grey, a line each, under two lines that name the columns; one channel has no cast."""
    names: list[Channel] = list(balance.maps)
    each = "".join(f"{name:>{_ROOM}}" for name in names)
    group, several = max(_ROOM * len(names), len("  as it is")), len(names) > 1
    cast = f"{'cast':>{_ROOM}}" if several else ""
    head = f"{'':<10}{'  as it is':<{group}}{'becomes':>{_ROOM + 2}}{cast}  noise"
    under = f"{'':<10}{each:>{group}}{'':>{2 * _ROOM + 2}}{each}"
    return [*([head, under] if several else [head]), *(_row(tone, names, group) for tone in balance.tones)]


def _row(tone: Tone, names: Sequence[Channel], group: int) -> str:
    limit = _uncertain(tone)
    scanned = "".join(f"{tone.scanned[c]:{_ROOM}.2f}" for c in names)
    cast = "" if len(names) == 1 else f"{'-' if limit is None else f'{limit:.2f}':>{_ROOM}}"
    gains = "".join(f"{tone.gain[c]:{_ROOM}.1f}" for c in names)
    return f"{tone.label:<10}{scanned:>{group}}{tone.target + 0.0:{_ROOM + 2}.2f}{cast}{gains}"


def balance_page(balance: Balance, notes: Sequence[str], picture: BalancedPicture | None) -> str:
    """Return the page of a correction; the same results give the same page, to the letter.

    Args:
        balance: the correction.
        notes: what must be known about it, each a sentence.
        picture: the picture that was corrected; None if there is none.
    """
    title = f"Balance: {balance.analysis.strip.title}"
    sections = [
        ("How neutral?", f"<p>{esc(minus(_answer(balance)))}</p>{_swatches(balance)}"),
        ("The picture", "" if picture is None else _pictures(picture)),
        ("The curves", f'<div class="pairs">{_curves(balance)}</div>{_key(balance)}'),
        (_ends_title(balance), _ends(balance)),
        ("Remarks", f"<ul>{''.join(f'<li>{esc(minus(note))}</li>' for note in notes)}</ul>"),
        ("Every grey", _greys(balance)),
    ]
    body = (
        f'<article id="balance"><div class="sheet"><header><h1>{esc(title)}</h1>'
        f'<p class="facts">{esc(_target_words(balance))}</p></header>'
        + "".join(f"<section><h2>{name}</h2>{content}</section>" for name, content in sections if content)
        + "</div></article>"
    )
    return assemble_page(title, body, [], styles=["pictures/balance.css"])


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
        f'<tr><th scope="row">{channel}</th><td>{esc(_ends_words(ends))}</td></tr>'
        for channel, ends in balance.ends.items()
    )
    return f"<table>{rows}</table>"


def _greys(balance: Balance) -> str:
    """Return every grey with its densities, its cast and the noise, a row each."""
    names, scope = list(balance.maps), '<th scope="col">'
    several = len(names) > 1
    cast = f"{scope}cast</th>" if several else ""
    heads = "".join(f"{scope}{name}</th>" for name in names)
    gains = "".join(f"{scope}noise, {name}</th>" for name in names)
    rows = []
    for tone in balance.tones:
        limit = _uncertain(tone)
        numbers = [
            f"{tone.log_h:.2f}",
            *(f"{tone.scanned[c]:.2f}" for c in names),
            f"{tone.target + 0.0:.2f}",
            *([] if not several else ["" if limit is None else f"{limit:.2f}"]),
            *(f"{tone.gain[c]:.1f}" for c in names),
        ]
        cells = "".join(f'<td class="number">{minus(text)}</td>' for text in numbers)
        rows.append(f'<tr><th scope="row">{esc(tone.label)}</th>{cells}</tr>')
    key = "".join(f"<p>{esc(minus(sentence))}</p>" for sentence in _key_words(balance))
    return (
        f'<div class="scroll" tabindex="0"><table class="tones"><thead><tr>{scope}grey</th>{scope}log H</th>{heads}'
        f"{scope}becomes</th>{cast}{gains}</tr></thead><tbody>{''.join(rows)}</tbody></table></div>{key}"
    )


def _swatches(balance: Balance) -> str:
    """Return the greys of the strip as two rows of patches, HTML: as they are, and balanced."""
    ways: tuple[tuple[str, Callable[[Tone], Mapping[Channel, float]]], ...] = (
        ("as it is", lambda tone: tone.scanned),
        ("balanced", lambda tone: tone.balanced),
    )
    rows = []
    for name, densities in ways:
        cells = "".join(
            f'<td style="background:{_colour(densities(tone))}" title="{esc(f"{tone.label}, {name}")}"></td>'
            for tone in balance.tones
        )
        rows.append(f'<tr><th scope="row">{name}</th>{cells}</tr>')
    return (
        f'<table class="greys">{"".join(rows)}</table><p class="note">From the least exposed step on the left to the'
        " most exposed; light through the film, an open gate being white. Colours are those that the scanner's own red,"
        " green and blue make on this screen.</p>"
    )


def _pictures(picture: BalancedPicture) -> str:
    """Return a picture before and after, side by side, HTML."""
    pairs = ((picture.before, picture.source.name, "as it is"), (picture.after, picture.path.name, "balanced"))
    return (
        '<div class="pairs">'
        + "".join(
            f'<figure><img src="{png_uri(_eight_bits(light))}" alt="{esc(f"{name}, {way}")}"><figcaption>'
            f"{esc(name)}, {way}</figcaption></figure>"
            for light, name, way in pairs
        )
        + "</div>"
    )


def _colour(densities: Mapping[Channel, float]) -> str:
    """Return the colour of a density on a screen, as CSS has it."""
    light = np.array([transmittance(densities.get(c, next(iter(densities.values())))) for c in LAYERS])
    red, green, blue = (int(v) for v in _eight_bits(light))
    return f"#{red:02x}{green:02x}{blue:02x}"


def _eight_bits(light: FloatArray) -> NDArray[np.uint8]:
    """Return light as a screen's numbers, grey without an axis for its only sample."""
    numbers = np.rint(255.0 * SRGB.numbers(light)).astype(np.uint8)
    return numbers[..., 0] if numbers.ndim == 3 and numbers.shape[2] == 1 else numbers
