"""A series in the terminal: the settings that wanted numbers need, then every number at the settings."""

from __future__ import annotations

import numpy as np

from curves.sensitometry.series.strips import NumberSeries, StripSeries
from curves.views.series.words import (
    background,
    change_words,
    heading,
    number_words,
    remarks,
    wanted_lines,
)
from curves.views.text.watch import CAUTION
from curves.views.words import digits
from curves.views.words.wrapping import listed, wrapped

_NAME, _COLUMN, _MOST_COLUMNS = 16, 6, 5


def series_text(found: StripSeries, *, full: bool = False) -> str:
    """Return a series as text: the answer first, then a table of the numbers, then what to know of them.

    Args:
        found: the series.
        full: True for what the trade knows of the condition and what the strips share, too.
    """
    lines = []
    for wanted in found.wanted:
        first, *more = wanted_lines(wanted, found)
        lines += [*wrapped(first), *(line for text in more for line in wrapped(text, indent=2))]
    lines += [*([""] if lines else []), *wrapped(heading(found)), ""]
    columns = _columns(found)
    heads = "".join(f"{setting:>{_COLUMN}g}" for setting in columns)
    unit = f"{found.condition.unit}; change".removeprefix("; ")
    lines.append(f"{f'{found.channel} channel':<{_NAME}}{heads} {unit}")
    lines += [line for number in found.numbers.values() for line in _row(number, found, columns)]
    lines += listed("Remarks:", [*remarks(found), *(background(found) if full else []), CAUTION])
    return "\n".join(lines) + "\n"


def _columns(found: StripSeries) -> list[float]:
    """Return the settings that have a column: all, or the ends and some between."""
    different = found.different
    places = np.unique(np.linspace(0, different.size - 1, min(different.size, _MOST_COLUMNS)).round().astype(int))
    return [float(setting) for setting in different[places]]


def _row(number: NumberSeries, found: StripSeries, columns: list[float]) -> list[str]:
    """Return the row of one number: its mean at each setting, and its change."""
    cells = []
    for setting in columns:
        here = [
            n.shown
            for n, at in zip(number.numbers, found.settings, strict=True)
            if at == setting and n is not None and n.shown.value is not None
        ]
        mean = float(np.mean([q.value for q in here if q.value is not None])) if here else None
        cells.append("-" if mean is None else digits.number(mean, digits.decimals(here[0])))
    name = number_words(number) if number.key[1] not in (None, found.channel) else number.label
    told = f"{name:<{_NAME}}{''.join(f'{cell:>{_COLUMN}}' for cell in cells)} {change_words(number)}"
    return wrapped(told, hanging=_NAME + _COLUMN * len(columns) + 1)
