"""A process watched by its control strips, in the terminal."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from curves.sensitometry.control.charts import FEWEST, RUN, Signal, points_to_a_chance_signal
from curves.sensitometry.control.watch import ChartedNumber, ProcessWatch, StripState
from curves.views.words.wrapping import listed, wrapped

_NAME, _COLUMN = 22, 12
_FIRM = 20
"""Reference strips from which limits are firm: common practice [unitless]."""

CAUTION = (
    "Processing chemistry can burn, sensitise and poison: gloves, eye protection and ventilation; the maker's safety"
    " data sheet; local rules for disposal. Whoever is not sure defers to licensed practice."
)


def watch_text(found: ProcessWatch) -> str:
    """Return the state of a process: each number's limits, each strip's signals, and what usually causes them."""
    lines = [*wrapped(answer(found)), ""]
    lines.append(f"{'':<{_NAME}}{'centre':>{_COLUMN}}{'limits':>{2 * _COLUMN}}{'last':>{_COLUMN}}")
    for number in found.numbers:
        low, high = (shown(number, end) for end in number.chart.limits)
        mark = "*" if _signals(number, len(found.strips) - 1) else ""
        centre, last = shown(number, number.chart.centre), shown(number, number.chart.values[-1]) + mark
        lines.append(f"{number.label:<{_NAME}}{centre:>{_COLUMN}}{f'{low} to {high}':>{2 * _COLUMN}}{last:>{_COLUMN}}")
    for index, state in enumerate(found.strips):
        if state.observed:
            lines += ["", *state_lines(found, index, state)]
    lines += listed("Remarks:", watch_notes(found))
    return "\n".join(lines) + "\n"


def answer(found: ProcessWatch) -> str:
    """Return a sentence on the state of the process: in control or out of it."""
    after = found.strips[found.reference :]
    out = [state for state in after if state.observed]
    if not after:
        return f"{found.reference} reference strips; none has come after them yet."
    if not out:
        return f"In control: {len(after)} strips after {found.reference} reference strips, and no signal."
    return (
        f"Out of control: {len(out)} of {len(after)} strips after {found.reference} reference strips have signals, the"
        f" first is {out[0].analysis.strip.title}."
    )


def state_lines(found: ProcessWatch, index: int, state: StripState) -> list[str]:
    """Return the signals of one strip and their usual causes, as lines."""
    date = state.analysis.strip.date
    part = ", a reference strip" if index < found.reference else ""
    lines = wrapped(f"{state.analysis.strip.title}{f', {date}' if date else ''}{part}:")
    for number in found.numbers:
        for text in signal_words(number, index):
            lines += wrapped(f"- {text}", indent=2)
    if state.causes:
        lines += wrapped("Usually (common practice; several may fit):", indent=2)
        lines += [line for c in state.causes for line in wrapped(f"- {c.name}: {c.tell}.", indent=4)]
    return lines


def signal_words(number: ChartedNumber, index: int) -> Iterator[str]:
    """Give the signals of one number at one strip, each a clause."""
    low, high = number.chart.limits
    unit = f" {number.unit}" if number.unit else ""
    for signal in _signals(number, index):
        value = shown(number, number.chart.values[index])
        way = "above" if signal.above else "below"
        if signal.rule == "beyond a limit":
            yield f"{number.label} {value}{unit}, {way} its limit of {shown(number, high if signal.above else low)}"
        elif signal.rule == "a run on one side":
            centre = shown(number, number.chart.centre)
            yield f"{number.label} {value}{unit}: {RUN} strips in a row {way} the centre, {centre}"
        else:
            far = shown(number, number.chart.ranges[index])
            yield f"{number.label} went {'up' if signal.above else 'down'} by {far}{unit}"


def shown(number: ChartedNumber, value: float) -> str:
    """Return a value of a charted number: stops with two decimals, densities and gradients with three."""
    return "-" if not np.isfinite(value) else f"{value:.{2 if number.unit == 'stops' else 3}f}"


def watch_notes(found: ProcessWatch) -> Iterator[str]:
    """Give what limits rest on, and cautions, each a sentence or two."""
    if found.reference < _FIRM:
        yield (
            f"Limits come from {found.reference} strips. They are firm from some {_FIRM} on; fewer than {FEWEST} give"
            " none."
        )
    yield (
        "Limits are three standard deviations of the reference strips (mean moving range over 1.128) about their mean:"
        f" from {found.reference} strips, a process in control passes one about once in"
        f" {points_to_a_chance_signal(found.reference)} strips for each number, so with"
        f" {len(found.numbers)} numbers a single signal just beyond its limit may be chance."
    )
    if found.left_out:
        yield f"Not charted, because fewer than {FEWEST} reference strips show it: {', '.join(found.left_out)}."
    if any(state.observed for state in found.strips):
        yield CAUTION


def _signals(number: ChartedNumber, index: int) -> list[Signal]:
    """Return the signals of one number at one strip."""
    return [signal for signal in number.signals if signal.index == index]
