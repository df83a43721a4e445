"""A correction for scans in the terminal: how neutral greys become, tone by tone, and what it costs."""

from __future__ import annotations

from collections.abc import Sequence
from statistics import median

from curves.sensitometry.balance.neutral import Balance, LayerEnds, Tone
from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import Channel
from curves.views.words.digits import value_and_interval
from curves.views.words.wrapping import listed, row, wrapped

SHOWN = 0.005
"""Density below which nothing is said to be lost: half of the last digit that instruments show [density]."""


def balance_text(balance: Balance, notes: Sequence[str]) -> str:
    """Return a correction as text.

    Args:
        balance: the correction.
        notes: what must be known about it, each a sentence.
    """
    lines = [*wrapped(balance.analysis.strip.title), *wrapped(target_words(balance)), ""]
    lines += wrapped(answer(balance))
    lines += ["", *_table(balance), ""]
    lines += [line for sentence in key_words(balance) for line in wrapped(sentence)]
    lines += ["", f"{ends_title(balance)}:"]
    lines += [line for channel, ends in balance.ends.items() for line in row(channel, ends_words(ends))]
    lines += listed("Remarks:", notes)
    return "\n".join(lines) + "\n"


def target_words(balance: Balance) -> str:
    """Return the scale of greys that a correction brings a film to, as a clause."""
    target = balance.target
    of = f"{target.channel}'s own curve" if len(balance.maps) > 1 else "the film's own curve"
    scale = f"at the contrast of {of}" if target.gamma is None else f"at gamma {target.gamma:g}"
    if target.kind == "negative":
        return f"a negative made positive, greys {scale}; its densest known grey becomes white"
    return f"a positive, greys {scale}"


def answer(balance: Balance) -> str:
    """Return the cast that the greys of a strip have before and after, in a sentence."""
    if len(balance.maps) == 1:
        return "The film has one channel, so there is no cast to take out: the correction changes its contrast alone."
    tone, channel = balance.worst
    left = abs(tone.cast[channel].value or 0.0)
    after = "less than 0.005" if left < SHOWN else f"up to {left:.2f} ({tone.label}, {channel})"
    widths, sure = balance.half_widths, ""
    if widths:
        step, widest = max(widths.items(), key=lambda one: one[1])
        sure = f", known to ±{median(widths.values()):.2f} typically and ±{widest:.2f} at worst ({step}; 95 %)"
    return (
        f"The strip's greys are up to {balance.worst_before:.2f} density from neutral as they are, and {after} after"
        f" the correction{sure}."
    )


def uncertain(tone: Tone) -> float | None:
    """Return the greatest distance of a grey from neutral after the correction [density]; None without draws."""
    ends = [abs(end) for q in tone.cast.values() for end in (q.low, q.high) if end is not None]
    return max(ends, default=None)


def ends_words(ends: LayerEnds) -> str:
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
    if most < SHOWN:
        return None
    if (lost.value or 0.0) < SHOWN:
        return f"{most:.2f} at most (95 %)"
    return value_and_interval(lost, 3)


def ends_title(balance: Balance) -> str:
    """Return the heading of the ends at which a channel no longer tells exposures apart."""
    return "Where colour ends" if len(balance.maps) > 1 else "Where tones end"


def key_words(balance: Balance) -> list[str]:
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


_ROOM = 7
"""Width of a number and the gap before it [characters]."""


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
    limit = uncertain(tone)
    scanned = "".join(f"{tone.scanned[c]:{_ROOM}.2f}" for c in names)
    cast = "" if len(names) == 1 else f"{'-' if limit is None else f'{limit:.2f}':>{_ROOM}}"
    gains = "".join(f"{tone.gain[c]:{_ROOM}.1f}" for c in names)
    return f"{tone.label:<10}{scanned:>{group}}{tone.target + 0.0:{_ROOM + 2}.2f}{cast}{gains}"
