"""The budget of a number in words: the sentence that sums it up, and its lines for the terminal."""

from __future__ import annotations

from collections.abc import Iterator

from curves.sensitometry.curve.posterior import READINGS
from curves.sensitometry.uncertainty.budget import Budget, BudgetLine

_MOST, _LITTLE, _WORTH_IT = 0.5, 0.10, 0.20
"""Shares of the variance that count as most of it, as too little to reduce, and as worth a second remedy."""

LEAST_SHOWN = 0.0005
"""Sources with a smaller share of the variance are left out of bars and lines [unitless]."""


def sentence(budget: Budget) -> str:
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


def rows(budget: Budget) -> Iterator[str]:
    """Yield the budget as lines of at most 79 columns, greatest source first."""
    for line in shown_lines(budget):
        size = f"{line.u:.3f}{_unit(budget, line.u)}"
        yield f"  {line.name:<25}{size:>13} {100 * line.share:5.1f} %{'  assumed' if line.assumed else ''}"
    yield f"  {'all together':<25}{f'{budget.u:.3f}{_unit(budget, budget.u)}':>13}"


def shown_lines(budget: Budget) -> list[BudgetLine]:
    """Return the lines of a budget that are large enough to show."""
    return [line for line in budget.lines if line.share >= LEAST_SHOWN]


def _unit(budget: Budget, value: float) -> str:
    """Return the unit to write after a number: " stop" up to one, " stops" above, else the budget's own."""
    if budget.unit == "stops":
        return " stop" if value <= 1.0 else " stops"
    return f" {budget.unit}" if budget.unit else ""
