"""The page of a watched process: a chart of every number, with its limits and its moving ranges."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from curves.sensitometry.control.watch import ChartedNumber, ProcessWatch
from curves.views.page.frame import assemble_page
from curves.views.page.svg import Axis, Figure, spread_axis
from curves.views.page.tables import esc, minus, minus_in
from curves.views.text.watch import (
    answer,
    batch_name,
    batch_words,
    chart_words,
    difference_words,
    signal_words,
    watch_notes,
)

_WIDTH, _HIGH, _LOW = 360.0, 150.0, 70.0
_KEPT, _OUT = "#2b2b2b", "#b4533c"
_MOST_NAMES = 6
_WITH_NAMES = 1.36
"""Length of the strips' axis beside that of the strips, with room for the names of the limits [unitless]."""


def control_page(found: ProcessWatch) -> str:
    """Return the page of a watched process; the same results give the same page, to the letter."""
    charts = "".join(_section(found, number) for number in found.numbers)
    states = "".join(
        f"<section><h2>{esc(state.analysis.strip.title)}</h2><ul>"
        + "".join(f"<li>{esc(minus_in(text))}</li>" for number in found.numbers for text in signal_words(number, index))
        + "</ul>"
        + ("<p>Usually (common practice; several may fit):</p>" if state.causes else "")
        + "<ul>"
        + "".join(f"<li>{esc(cause.name)}: {esc(cause.tell)}.</li>" for cause in state.causes)
        + "</ul></section>"
        for index, state in enumerate(found.strips)
        if state.out
    )
    body = (
        f'<article id="control"><div class="sheet"><header><h1>Process control</h1>'
        f'<p class="facts">{esc(answer(found))}'
        f'</p></header>{states}<p>{_key(found)}</p><div class="charts">{charts}</div>'
        f"{_batches(found)}{_by_the_chart(found)}"
        f"<section><h2>What the limits rest on</h2>{_paragraphs(watch_notes(found))}</section></div></article>"
    )
    return assemble_page("Process control", body, [], styles=["pages/many/many.css"])


def _key(found: ProcessWatch) -> str:
    """Return a sentence on the marks of the charts."""
    small = "; small ones join their batch" if found.batches.joining.any() else ""
    return f"Open marks are the reference{small}. A mark beyond an action limit has the colour of the limit."


def _paragraphs(texts: Iterable[str]) -> str:
    """Return texts as paragraphs."""
    return "".join(f"<p>{esc(text)}</p>" for text in texts)


def _by_the_chart(found: ProcessWatch) -> str:
    """Return the signals of strips that have no alarm."""
    told = "".join(f"<li>{esc(minus_in(text))}</li>" for text in chart_words(found))
    return f"<section><h2>By the rules of the chart alone (no alarm)</h2><ul>{told}</ul></section>" if told else ""


def _batches(found: ProcessWatch) -> str:
    """Return the strips that join each batch, and the difference of the batch in every number."""
    parts = []
    for batch in range(1, len(found.batches.names)):
        name, words = batch_name(found, batch), batch_words(found, batch)
        rows = "".join(
            f"<tr><td>{esc(number.label)}</td><td>{esc(minus_in(difference_words(number, batch)))}</td></tr>"
            for number in found.numbers
        )
        parts.append(
            f"<section><h2>{esc(name[:1].upper() + name[1:])}</h2><p>{esc(words[:1].upper() + words[1:])}</p>"
            f"<table><thead><tr><th>number</th><th>difference (95 % interval)</th></tr></thead><tbody>{rows}</tbody>"
            "</table></section>"
        )
    return "".join(parts)


def _section(found: ProcessWatch, number: ChartedNumber) -> str:
    """Return the two charts of one number."""
    label = number.label[:1].upper() + number.label[1:]
    charts = f'<figure tabindex="0">{_values(found, number)}{_ranges(found, number)}</figure>'
    return f"<section><h2>{esc(label)}</h2>{charts}</section>"


def _values(found: ProcessWatch, number: ChartedNumber) -> str:
    """Return the chart of the values: centre, limits, and the strips with signals marked."""
    chart, limits, strips = number.chart, number.limits, np.arange(1.0, number.values.size + 1.0)
    low, high = chart.limits
    y = spread_axis(number.unit or "gradient", [*number.values, low, high, *limits.ravel()], 0.08, 0.02)
    out = {alarm.index for alarm in number.alarms}
    figure = Figure(_strips(found), y, _WIDTH, _HIGH, f"{number.label} of each strip, with its limits")
    start = figure.x.low + 0.01 * (figure.x.high - figure.x.low)
    for place, end in enumerate(limits.T):
        # Steps: a batch has limits of its own.
        figure.line(np.repeat(strips, 2) + np.tile([-0.5, 0.5], strips.size), np.repeat(end, 2), _OUT, width=1.0)
        # On the other side from the control limits' names, which may lie as high.
        figure.words(start, float(end[0]), minus(f"action {end[0]:.2f}"), _OUT, lift=-12.0 if place else 4.0)
    figure.level(chart.centre, minus(f"mean {chart.centre:.2f}"), dash="")
    figure.level(high, minus(f"control {high:.2f}"))
    figure.level(low, minus(f"control {low:.2f}"))
    judged = np.isfinite(chart.values)
    figure.line(strips[judged], chart.values[judged], _KEPT, width=1.0)
    for index, value in enumerate(number.values):
        if np.isfinite(value):
            joins = found.batches.joining[index]
            title = f"{found.strips[index].analysis.strip.title}: {minus(f'{value:.2f}')}"
            colour = _OUT if index in out else _KEPT
            title = f"{title}, joins {batch_name(found, int(found.batches.batch[index]))}" if joins else title
            open_ = bool(found.batches.reference[index] or joins)
            figure.mark(index + 1.0, float(value), colour, title, open_=open_, size=3.0 if joins else 4.0)
    return figure.drawing()


def _ranges(found: ProcessWatch, number: ChartedNumber) -> str:
    """Return the chart of the moving ranges with its limit."""
    chart = number.chart
    y = spread_axis("range", [0.0, *chart.ranges, chart.range_limit], 0.08, 0.02)
    figure = Figure(_strips(found), y, _WIDTH, _LOW, f"Moving range of {number.label}, with its limit")
    figure.level(chart.range_limit, f"limit {chart.range_limit:.2f}")
    known = np.flatnonzero(np.isfinite(chart.ranges))
    figure.line(np.asarray(known + 1.0, dtype=np.float64), chart.ranges[known], _KEPT, width=1.0)
    return figure.drawing()


def _strips(found: ProcessWatch) -> Axis:
    """Return the axis of the strips, named by their dates where there is room."""
    count = len(found.strips)
    step = max(1, -(-count // _MOST_NAMES))
    labels = [(n + 1.0, _name(found, n)) for n in range(0, count, step)]
    return Axis("strip, by date", 0.5, 0.5 + _WITH_NAMES * count, labels)


def _name(found: ProcessWatch, index: int) -> str:
    date = found.strips[index].analysis.strip.date
    return f"{date:%m-%d}" if date else str(index + 1)
