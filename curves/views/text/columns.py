"""The numbers of one strip on one screen: a row for each measure, a column for each channel."""

from __future__ import annotations

from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.measures.table import measures_of
from curves.sensitometry.uncertainty.results import Analysis, ChannelFinding
from curves.views.text.strip import heading
from curves.views.words import digits
from curves.views.words.answers import cast_words, densities_words, doubts, grave, range_words, side_words, speed_words
from curves.views.words.meters import basis_name
from curves.views.words.wrapping import listed, row, wrapped

_LABEL, _COLUMN = 26, 13
"""Widths of the names at the left and of a channel's column [characters]: four channels fit into 80."""

_LEFT_OUT = frozenset({"average_gradient_130", "average_gradient_150", "average_gradient_net"})
"""Keys of the measures that are variants of one shown; all stand in the full text."""


def columns_text(analysis: Analysis, whole: str) -> str:
    """Return the numbers of a strip, the channels beside each other, each with half its 95 % interval.

    Args:
        analysis: results of the strip.
        whole: the options that print the whole text.
    """
    channels = list(analysis.channels.values())
    lines = [*heading(analysis), f"{'':<{_LABEL}}{''.join(f'{c.channel:>{_COLUMN}}' for c in channels)}"]
    for measure in measures_of(analysis.strip.kind):
        found = [c.measures[measure.key] for c in channels]
        if measure.key not in _LEFT_OUT and not _told_by_dmax(measure.key, channels):
            unit = f" [{measure.unit}]" if measure.unit == "stops" else ""
            lines.append(_line(f"{measure.label}{unit}", found, measure.digits))
    for name in channels[0].points:
        lines.append(_line(f"log H of {_name(name)}", [c.points[name].log_h for c in channels], 2))
    lines += ["", *_index(analysis)]
    remarks = [notice.message for notice in grave(analysis.warnings)]
    lines += [
        *listed("Remarks:", remarks),
        *wrapped(f"±: half the 95 % interval. Intervals and reasons: {whole}"),
    ]
    return "\n".join(lines) + "\n"


def _name(point: str) -> str:
    return "speed point" if point == "speed" else point


def _told_by_dmax(key: str, channels: list[ChannelFinding]) -> bool:
    """Return True for the highest density on the strip where Dmax itself is known."""
    return key == "dmax_reached" and all(c.measures["dmax"].value is not None for c in channels)


def _line(name: str, found: list[Quantity], most_digits: int) -> str:
    return f"{name:<{_LABEL}}{''.join(f'{_cell(q, most_digits):>{_COLUMN}}' for q in found)}"


def _cell(q: Quantity, most_digits: int) -> str:
    """Return a number with half its interval, "0.31 ±0.03", or its bound, or "-"."""
    if q.value is None:
        return "-" if q.bound is None else digits.value(q, most_digits)
    half = q.half_width
    places = digits.decimals(q, most_digits)
    return digits.value(q, most_digits) + ("" if half is None else f" ±{digits.number(half, places)}")


def _index(analysis: Analysis) -> list[str]:
    """Return the standard's speed, the index with the densities that it gives, and the colour of white."""
    ei = analysis.working_ei
    lines = [] if (speed := speed_words(analysis)) is None else row(*speed)
    if ei.nominal is None:
        lies = "" if ei.recommended.bound is None else "lies "
        lines += row("EI", f"{lies}{side_words(ei)}; range {range_words(ei)}")
    else:
        before = digits.value_and_interval(ei.recommended, 1)
        lines += row("EI", f"{ei.nominal:g}, before rounding {before}, by {basis_name(ei.basis)}")
        lines += row("", f"{densities_words(ei)}; range {range_words(ei)}")
    cast = cast_words(ei)
    doubted = [line for doubt in doubts(analysis.warnings) for line in wrapped(doubt.message)]
    return [*doubted, *([] if cast is None else wrapped(cast)), *lines]
