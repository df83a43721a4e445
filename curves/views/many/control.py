"""The state of a process, in words and on a page: charts with limits, alarms, and what usually causes them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np

from curves.sensitometry.control.action import MEANS, RATE, Alarm
from curves.sensitometry.control.charts import FEWEST, RUN, Signal, points_to_a_chance_signal
from curves.sensitometry.control.watch import ChartedNumber, ProcessWatch, StripState
from curves.views.page.frame import assemble_page
from curves.views.page.svg import Axis, Figure, spread_axis
from curves.views.page.tables import esc, minus, minus_in
from curves.views.words.cautions import CHEMISTRY
from curves.views.words.wrapping import listed, wrapped

_NAME, _COLUMN, _LIMITS = 22, 8, 18
_FIRM = 20
"""Reference strips from which limits are firm: common practice [unitless]."""


_WIDTH, _HIGH, _LOW = 360.0, 150.0, 70.0

_KEPT, _OUT = "#2b2b2b", "#b4533c"

_MOST_NAMES = 6
_WITH_NAMES = 1.36
"""Length of the strips' axis beside that of the strips, with room for the names of the limits [unitless]."""


def watch_text(found: ProcessWatch) -> str:
    """Return the state of a process: each number's limits, each strip's alarms, and what usually causes them."""
    lines = [*wrapped(_answer(found)), ""]
    heads = f"{'centre':>{_COLUMN}}{'control limits':>{_LIMITS}}{'action limits':>{_LIMITS}}{'last':>{_COLUMN + 2}}"
    lines.append(f"{'':<{_NAME}}{heads}")
    for number in found.numbers:
        control, action = (_ends(number, *ends) for ends in (number.chart.limits, number.limits[-1]))
        centre, last = _shown(number, number.chart.centre), _shown(number, number.values[-1])
        mark = "*" if any(alarm.index == len(found.strips) - 1 for alarm in number.alarms) else " "
        cells = f"{centre:>{_COLUMN}}{control:>{_LIMITS}}{action:>{_LIMITS}}{last:>{_COLUMN + 1}}{mark}".rstrip()
        lines.append(f"{number.label:<{_NAME}}{cells}")
    for batch in range(1, len(found.batches.names)):
        lines += ["", *_batch_lines(found, batch)]
    for index, state in enumerate(found.strips):
        if state.out:
            lines += ["", *_state_lines(found, index, state)]
    lines += listed("By the rules of the chart alone (no alarm):", _chart_words(found))
    lines += listed("Remarks:", watch_notes(found))
    return "\n".join(lines) + "\n"


def _answer(found: ProcessWatch) -> str:
    """Return a sentence on the state of the process: in control or out of it."""
    after, references = found.judged, f"{found.reference} reference strips"
    out = [state for state in after if state.out]
    if not after:
        return f"{references}; none has come after them yet."
    if not out:
        return f"In control: {_counted(len(after))} after {references}, and no alarm."
    one = f"{len(out)} of {_counted(len(after))} after {references}"
    name = out[0].analysis.strip.title
    if len(out) == 1:
        return f"Out of control: {one} has passed an action limit, {name}."
    return f"Out of control: {one} have passed an action limit, the first is {name}."


def _state_lines(found: ProcessWatch, index: int, state: StripState) -> list[str]:
    """Return the alarms and signals of one strip and their usual causes, as lines."""
    lines = wrapped(f"{_named(found, index)}:")
    for number in found.numbers:
        for text in signal_words(number, index):
            lines += wrapped(f"- {text}", indent=2)
    if state.causes:
        lines += wrapped("Usually (common practice; several may fit):", indent=2)
        lines += [line for c in state.causes for line in wrapped(f"- {c.name}: {c.tell}.", indent=4)]
    return lines


def _chart_words(found: ProcessWatch) -> Iterator[str]:
    """Yield the signals of strips that have no alarm, a clause for each strip."""
    for index, state in enumerate(found.strips):
        if state.observed and not state.out:
            told = [text for number in found.numbers for text in signal_words(number, index)]
            yield f"{_named(found, index)}: {'; '.join(told)}."


def signal_words(number: ChartedNumber, index: int) -> Iterator[str]:
    """Yield the alarms of one number at one strip, and its signals, each a clause."""
    alarmed = [alarm for alarm in number.alarms if alarm.index == index]
    for alarm in alarmed:
        yield _alarm_words(number, alarm)
    for signal in _signals(number, index):
        # A point beyond an action limit needs no second word on the control limit.
        if signal.rule != "beyond a limit" or not any(alarm.strips == 1 for alarm in alarmed):
            yield _signal_words(number, signal)


def _alarm_words(number: ChartedNumber, alarm: Alarm) -> str:
    """Return a clause on an alarm."""
    unit = f" {number.unit}" if number.unit else ""
    way, (mean, limit) = "above" if alarm.above else "below", _told_apart(number, alarm.mean, alarm.limit)
    which = "" if alarm.strips == 1 else f", the mean of the last {alarm.strips} strips"
    its = "its action limit" if alarm.strips == 1 else "the action limit of that mean"
    return f"{number.label} {mean}{unit}{which}: {way} {its}, {limit}"


def _signal_words(number: ChartedNumber, signal: Signal) -> str:
    """Return a clause on a signal of the chart."""
    low, high = number.chart.limits
    unit = f" {number.unit}" if number.unit else ""
    value, way = number.values[signal.index], "above" if signal.above else "below"
    if signal.rule == "beyond a limit":
        point, limit = _told_apart(number, value, high if signal.above else low)
        return f"{number.label} {point}{unit}: {way} its control limit, {limit}"
    if signal.rule == "a run on one side":
        centre = _shown(number, number.chart.centre)
        return f"{number.label} {_shown(number, value)}{unit}: {RUN} strips in a row {way} the centre, {centre}"
    far = _shown(number, number.chart.ranges[signal.index])
    return f"{number.label} went {'up' if signal.above else 'down'} by {far}{unit}"


def _told_apart(number: ChartedNumber, value: float, limit: float) -> tuple[str, str]:
    """Return a value and the limit that it has passed, with one decimal more where both would read alike."""
    more = int(_shown(number, value) == _shown(number, limit))
    return _shown(number, value, more), _shown(number, limit, more)


def _shown(number: ChartedNumber, value: float, more: int = 0) -> str:
    """Return a value of a charted number: stops with two decimals, densities and gradients with three, or ``more``."""
    digits = (2 if number.unit == "stops" else 3) + more
    # Adding zero takes the sign of a rounded zero away.
    return "-" if not np.isfinite(value) else f"{round(value, digits) + 0.0:.{digits}f}"


def _batch_words(found: ProcessWatch, batch: int) -> str:
    """Return a sentence on what joins a batch, and what its strips are judged against."""
    own, others, runs = found.batches.beside(batch)
    judged = int((found.batches.judged & (found.batches.batch == batch)).sum())
    return (
        f"{_batch_name(found, batch)} is joined by {_counted(own)} of it and {_counted(others)} of other batches, side"
        f" by side in {runs} run{'' if runs == 1 else 's'}; {_counted(judged)} of it {_is(judged)} judged against the"
        f" references of {_batch_name(found, 0)}, moved by the difference:"
    )


def _batch_name(found: ProcessWatch, batch: int) -> str:
    """Return the name of a batch in a sentence."""
    name = found.batches.names[batch]
    return f"batch {name}" if name else "the batch without a name"


def _difference_words(number: ChartedNumber, batch: int) -> str:
    """Return the difference of a batch in one number, with its interval."""
    apart = number.differences[batch]
    if not np.isfinite(apart.value):
        return "not known on both batches; its strips are not judged by it"
    value, low, high = (_shown(number, x) for x in (apart.value, apart.low, apart.high))
    return f"{value} ({low} to {high})"


def _batch_lines(found: ProcessWatch, batch: int) -> list[str]:
    """Return the strips that join a batch, and the difference of the batch in every number, as lines."""
    words = _batch_words(found, batch)
    lines = wrapped(words[:1].upper() + words[1:])
    return [*lines, *(f"  {n.label:<{_NAME}}{_difference_words(n, batch)}" for n in found.numbers)]


def watch_notes(found: ProcessWatch) -> Iterator[str]:
    """Yield the grounds of the limits, and cautions, each a sentence or two."""
    few = f" They are firm from some {_FIRM} on; fewer than {FEWEST} give none." if found.reference < _FIRM else ""
    yield f"Limits come from {found.reference} strips.{few}"
    yield (
        f"Action limits decide: a steady process makes an alarm in at most one strip of {1.0 / RATE:.0f}, all"
        f" {len(found.numbers)} numbers together, however few the references. They hold for each strip by itself and,"
        f" closer to the centre, for the means of the last {MEANS[1]} and {MEANS[2]} strips."
    )
    yield (
        "Control limits are those of the chart: three standard deviations of the reference strips (mean moving range"
        f" over 1.128) about their mean. From {found.reference} strips, a steady process passes one about once in"
        f" {points_to_a_chance_signal(found.reference)} strips for each number."
    )
    if len(found.batches.names) > 1:
        yield (
            f"Values and limits are on the scale of {_batch_name(found, 0)}; action limits of other batches hold the"
            " error of their difference too."
        )
    if found.left_out:
        yield f"Not charted, because fewer than {FEWEST} reference strips show it: {', '.join(found.left_out)}."
    if not found.in_control:
        yield CHEMISTRY


def _named(found: ProcessWatch, index: int) -> str:
    """Return the title of a strip with its date and what it is for."""
    strip = found.strips[index].analysis.strip
    part = ", a reference strip" if found.batches.reference[index] else ""
    return f"{strip.title}{f', {strip.date}' if strip.date else ''}{part}"


def _signals(number: ChartedNumber, index: int) -> list[Signal]:
    """Return the signals of one number at one strip."""
    return [signal for signal in number.signals if signal.index == index]


def _ends(number: ChartedNumber, low: float, high: float) -> str:
    """Return limits as a person reads them."""
    return f"{_shown(number, low)} to {_shown(number, high)}"


def _counted(strips: int) -> str:
    """Return a number of strips with its noun."""
    return f"{strips} strip{'' if strips == 1 else 's'}"


def _is(count: int) -> str:
    """Return the verb of a number of strips."""
    return "is" if count == 1 else "are"


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
        f'<p class="facts">{esc(_answer(found))}'
        f'</p></header>{states}<p>{_key(found)}</p><div class="charts">{charts}</div>'
        f"{_batches(found)}{_by_the_chart(found)}"
        f"<section><h2>What the limits rest on</h2>{_paragraphs(watch_notes(found))}</section></div></article>"
    )
    return assemble_page("Process control", body, [], styles=["many/many.css"])


def _key(found: ProcessWatch) -> str:
    """Return a sentence on the marks of the charts."""
    small = "; small ones join their batch" if found.batches.joining.any() else ""
    return f"Open marks are the reference{small}. A mark beyond an action limit has the colour of the limit."


def _paragraphs(texts: Iterable[str]) -> str:
    """Return texts as paragraphs."""
    return "".join(f"<p>{esc(text)}</p>" for text in texts)


def _by_the_chart(found: ProcessWatch) -> str:
    """Return the signals of strips that have no alarm."""
    told = "".join(f"<li>{esc(minus_in(text))}</li>" for text in _chart_words(found))
    return f"<section><h2>By the rules of the chart alone (no alarm)</h2><ul>{told}</ul></section>" if told else ""


def _batches(found: ProcessWatch) -> str:
    """Return the strips that join each batch, and the difference of the batch in every number."""
    parts = []
    for batch in range(1, len(found.batches.names)):
        name, words = _batch_name(found, batch), _batch_words(found, batch)
        rows = "".join(
            f"<tr><td>{esc(number.label)}</td><td>{esc(minus_in(_difference_words(number, batch)))}</td></tr>"
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
            title = f"{title}, joins {_batch_name(found, int(found.batches.batch[index]))}" if joins else title
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
