"""The budget of a number: how much of its uncertainty each source of error contributes."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.uncertainty.sources import Errors


@dataclass(frozen=True)
class BudgetLine:
    """The contribution of one source of error to one number.

    Attributes:
        key, name: the source's key and its name in words.
        u: standard uncertainty of the number from this source alone, in the number's own unit or in stops.
        share: the source's share of the variance, 0 to 1; all shares add to 1 [unitless].
        assumed: True if the record does not give the size of the source.
        remedy: what would shrink the source, as an imperative clause.
    """

    key: str
    name: str
    u: float
    share: float
    assumed: bool
    remedy: str


@dataclass(frozen=True)
class Budget:
    """The contributions of all sources to one number, greatest first.

    Attributes:
        lines: one for each source that contributes.
        u: standard uncertainty of the number, all sources together.
        unit: unit of `u`; empty for a plain number.
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
    """Return the budget of each of several numbers: each source drawn alone, the others at zero.

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
