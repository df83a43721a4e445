"""The parts of an answer, a line or two each: the colour of white, whether the film clears, how sure the index is, why.

Terminal and page say the same of a strip, in the same words.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from curves.sensitometry.analysis.index_words import stops_longer
from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import two_digits
from curves.sensitometry.curve.posterior import READINGS
from curves.sensitometry.strip.exposure import NO_ORIGIN
from curves.sensitometry.uncertainty.budget import Budget, BudgetLine
from curves.sensitometry.uncertainty.results import Analysis, BaseState, ByEye, LayerSpread, Notice, WorkingEI
from curves.views.words import digits
from curves.views.words.digits import show, speed_name

_ROUTINE = frozenset(
    {
        "assumed-uncertainty",
        "converted",
        "visual-estimated",
        "stand-in",
        "scan-density",
        "filter-in-place",
        "callier",
        "plan-held",
    }
)
"""Codes of the notices that stand for every strip of their kind, and change nothing that is to be done."""

_DOUBTS = (
    "scan-doubt", "rows-exchanged", "rows-shifted", "channels-swapped", "step-skipped", "read-twice",
    "rows-displaced", "row-order",
    "wedge-backwards", "against-direction",
)  # fmt: skip
"""Codes of the notices that say that every number may be wrong, the gravest first."""

_MOST, _LITTLE, _WORTH_IT = 0.5, 0.10, 0.20
"""Shares of the variance that count as most of it, as too little to reduce, and as worth a second remedy."""

_LEAST_SHOWN = 0.0005
"""Sources with a smaller share of the variance are left out of bars and lines [unitless]."""


def cast_words(ei: WorkingEI) -> str | None:
    """Return a sentence or two on the colour of white; None where the layers lie close, or nothing shows otherwise."""
    layers = ei.layers
    if layers is None or not layers.wide:
        return None
    apart = f"the layers lie {_apart(layers)} stops apart at T"
    if ei.cast is None:
        last = "" if layers.last_to_clear is None else f", and the {layers.last_to_clear} layer clears last"
        return f"White would have a colour: {apart}{last}."
    net = sorted(ei.cast.net.items(), key=lambda item: -(item[1].value or 0.0))
    (most, high), (least, low) = net[0], net[-1]
    left = f"white has {digits.value(high, 2)} above Dmin in {most}, {digits.value(low, 2)} in {least}"
    colour, *others = ei.cast.colours
    if colour == "neutral" and not others:
        return f"White would just be neutral, the darker tones not: {apart}."
    named = f"likely be {', '.join((colour, *others[:-1]))} or {others[-1]}" if others else f"be {colour}"
    return f"White would {named}: {apart}, and {left}."


def _apart(layers: LayerSpread) -> str:
    return show(layers.t_stops, digits=1) if layers.t_stops.value is not None else digits.value(layers.t_stops, 1)


def clearing_words(base: BaseState) -> str:
    """Return in a sentence or two whether the film clears, and what holds its white back."""
    dmin = base.dmin
    if dmin.value is None:
        return f"The strip does not show it: Dmin is {digits.value(dmin, 2)}."
    answer = "Yes" if base.clears else "No"
    light = "" if base.white_percent is None else f" passes {base.white_percent:.0f} % of the light"
    held = {
        "base": "; the base holds white back, and no process clears it",
        "mask": "; a mask holds white back: it is the film's own, not fog",
        "fog": f"; fog, {digits.value(base.veil, 2)} above the base, holds white back",
        None: "",
    }[base.held_by]
    return f"{answer}: Dmin {show(dmin, digits=2)}{light}{held}."


def sure_words(ei: WorkingEI) -> str | None:
    """Return in a line how sure the index is, and the largest source of error; None where there is no index."""
    stops = digits.half_width_stops(ei.recommended)
    if stops is None:
        return None
    if ei.budget is None or not ei.budget.lines:
        return f"{stops} (95 %)"
    first = ei.budget.lines[0]
    assumed = " (assumed)" if first.assumed else ""
    return f"{stops} (95 %); largest source: {first.name.removeprefix('the ')}{assumed}"


def frames_words(told: ByEye) -> str:
    """Return the frames that were judged by eye, by their judgement, with the reliability of the eye, in words."""
    count = sum(told.frames.values())
    by_word = ", ".join(f"{number} {word}" for word, number in told.frames.items() if number)
    assumed = " (assumed)" if told.assumed else ""
    return f"{count} frame{'' if count == 1 else 's'} by eye ({by_word}), each to {told.uncertainty:g} stops{assumed}"


def judged_words(ei: WorkingEI) -> str | None:
    """Return in a sentence how many frames were judged and what they changed; None where none was judged."""
    told = ei.by_eye
    if told is None:
        return None
    alone = _known(told.alone)
    if told.without is None:
        return f"{frames_words(told)}."
    if told.without.value is None:
        return f"{frames_words(told)}: the eye alone puts the index {alone}; the densities do not show it."
    if ei.recommended == told.without:
        return f"{frames_words(told)}: the eye puts the index {alone}; it changes nothing."
    both = digits.value_and_interval(ei.recommended, 1)
    return (
        f"{frames_words(told)}: the eye puts the index {alone}, the densities {_known(told.without)};"
        f" together they give {both}."
    )


def _known(index: Quantity) -> str:
    """Return the place of an index in words: "at 12.1 (9.8 to 15.0)" or "below 22"."""
    if index.value is not None:
        return f"at {digits.value_and_interval(index, 1)}"
    return "nowhere" if index.bound is None else digits.index_alone(index)


def speed_words(analysis: Analysis) -> tuple[str, str] | None:
    """Return the name and the value of the standard's speed that stands beside the index; None without one."""
    for key, speed in analysis.speeds.items():
        if key.startswith("iso") and (speed.value.value is not None or speed.value.bound is not None):
            rounded = "" if speed.nominal is None else f"{speed.nominal:g}/{speed.degrees}°, "
            value = show(speed.value, digits=1) if speed.value.value is not None else digits.value(speed.value, 1)
            met = "" if speed.conforms else "; the readings do not meet the standard"
            return speed_name(key), f"{rounded}{value}{met}"
    return None


def range_words(ei: WorkingEI) -> str:
    """Return the usable range of indexes, or that there is none and by how much the scene is too long."""
    if ei.basis == "speed point" and ei.range[1].value is not None:
        # A negative's index is the low end itself, before it is rounded; less than that harms little.
        return f"up to {two_digits(ei.range[1].value)}"
    if ei.shortfall is None:
        return f"{digits.range_of(ei.range)}{', hardly a range' if ei.hardly_a_range else ''}"
    doubt = ", if at all" if ei.hardly_a_range else ""
    return f"none, the scene is {stops_longer(ei.shortfall)} longer than the film holds{doubt}"


def side_words(ei: WorkingEI) -> str:
    """Return the side on which an index without a value is known to lie: "below 22", "off the strip"."""
    return side_of(ei.recommended)


def side_of(index: Quantity) -> str:
    """Return the side on which an index without a value is known to lie, as `side_words` does."""
    if index.bound is None:
        return "not known" if index.why == NO_ORIGIN else "off the strip"
    return digits.index_alone(index)


def densities_words(ei: WorkingEI) -> str:
    """Return the densities on which white, grey and shadow land at the index to set: "white 0.64, grey 1.39, ..."."""
    return ", ".join(f"{name} {digits.value(tone.density, 2)}" for name, tone in ei.placements.items())


def doubts(notices: Sequence[Notice]) -> list[Notice]:
    """Return the notices that say that every number may be wrong, the gravest first."""
    return sorted((n for n in notices if n.code in _DOUBTS), key=lambda n: _DOUBTS.index(n.code))


def grave(notices: Sequence[Notice]) -> Iterator[Notice]:
    """Yield the other notices that ask for something: all but those that every strip of their kind has."""
    return (notice for notice in notices if notice.code not in _ROUTINE and notice.code not in _DOUBTS)


def budget_sentence(budget: Budget) -> str:
    """Return the greatest source of a budget, whether reading again would help, and the remedies that would."""
    first, *others = budget.lines
    unit = _unit(budget, budget.u)
    size = f"{first.u:.2g} of {budget.u:.2g}{unit}{', assumed' if first.assumed else ''}"
    lead = "Most of it is" if first.share >= _MOST else "The greatest part is"
    text = f"{lead} the {first.name.removeprefix('the ')} ({size})"
    read = next((line for line in budget.lines if line.key == READINGS), None)
    if first.key != READINGS and (read is None or read.share < _LITTLE):
        text += "; reading the strip again would not help"
    remedies = [first.remedy, *(line.remedy for line in others[:1] if line.share >= _WORTH_IT)]
    return f"{text}. What would help: {', or '.join(remedies)}."


def budget_rows(budget: Budget) -> Iterator[str]:
    """Yield the budget as lines of at most 79 columns, greatest source first."""
    for line in budget_lines(budget):
        size = f"{line.u:.3f}{_unit(budget, line.u)}"
        yield f"  {line.name:<25}{size:>13} {100 * line.share:5.1f} %{'  assumed' if line.assumed else ''}"
    yield f"  {'all together':<25}{f'{budget.u:.3f}{_unit(budget, budget.u)}':>13}"


def budget_lines(budget: Budget) -> list[BudgetLine]:
    """Return the lines of a budget that are large enough to show."""
    return [line for line in budget.lines if line.share >= _LEAST_SHOWN]


def _unit(budget: Budget, value: float) -> str:
    """Return the unit to write after a number: " stop" up to one, " stops" above, else the budget's own."""
    if budget.unit == "stops":
        return " stop" if value <= 1.0 else " stops"
    return f" {budget.unit}" if budget.unit else ""
