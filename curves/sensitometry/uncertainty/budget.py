"""The budget: what each source of error contributes to a number, and so which of them is worth fighting."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.uncertainty.sources import Errors


@dataclass(frozen=True)
class BudgetLine:
    """One source's part in one number.

    Attributes:
        key, name: the source.
        u: standard uncertainty that it alone gives the number, in the number's own unit or in stops.
        share: its share of the variance, 0 to 1; all shares add to 1 [unitless].
        assumed: True if nobody gave the size of the source.
        remedy: what would shrink it, as an imperative clause.
    """

    key: str
    name: str
    u: float
    share: float
    assumed: bool
    remedy: str


@dataclass(frozen=True)
class Budget:
    """All sources' parts in one number, greatest first.

    Attributes:
        lines: one for each source that matters at all.
        u: standard uncertainty of the number, all sources together.
        unit: what `u` is measured in; empty for a plain number.
    """

    lines: tuple[BudgetLine, ...]
    u: float
    unit: str


def budgets(
    errors: Errors,
    quantities: Callable[[Errors], Mapping[str, Quantity]],
    spread: Callable[[Quantity], float],
    unit: str,
) -> dict[str, Budget]:
    """Return the budget of each of several numbers: every source is drawn alone, the others held at zero.

    Args:
        errors: the errors of the strip.
        quantities: from errors to numbers by name.
        spread: from a number to its standard uncertainty in ``unit``.
        unit: "stops" or the numbers' own.
    """
    together = {name: spread(q) for name, q in quantities(errors).items() if q.u is not None}
    alone = {key: quantities(errors.only(key)) for key in errors.sources}
    found = {}
    for name, total in together.items():
        u = {key: spread(of[name]) for key, of in alone.items() if name in of and of[name].u is not None}
        variance = sum(x * x for x in u.values())
        if not variance > 0:
            continue
        lines = [
            BudgetLine(key, source.name, u[key], u[key] ** 2 / variance, source.assumed, source.remedy)
            for key, source in errors.sources.items()
            if u.get(key, 0.0) > 1e-6 * total
        ]
        found[name] = Budget(tuple(sorted(lines, key=lambda line: -line.share)), total, unit)
    return found
