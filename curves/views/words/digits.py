"""Quantities in words: as many digits as the uncertainty allows, the interval, or the reason for a missing value."""

from __future__ import annotations

import math
from decimal import Decimal

from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import STOP, two_digits
from curves.sensitometry.measures.table import SPEEDS

_FEWEST_LEADING = 3
"""The half-width of an interval is shown to two digits if it begins with 1 or 2, else to one: our own choice."""

_MOST_DECIMALS = 3
_SIGNIFICANT = 3


def show(quantity: Quantity, unit: str = "", digits: int | None = None) -> str:
    """Return a quantity in words: "12.1 (9.8 to 15.0)", "below 14: the curve is still falling at step 1".

    Args:
        quantity: the quantity to show.
        unit: written after the number; empty for a plain number.
        digits: most decimals to show, and the number of decimals where there is no interval; None: as the interval
            asks, else three significant digits.
    """
    parts = [part for part in (value(quantity, digits), unit if _has_number(quantity) else "") if part]
    if ends := interval(quantity, digits):
        parts.append(f"({ends})")
    text = " ".join(parts)
    return f"{text}: {quantity.why}" if quantity.value is None and quantity.why else text


def value(quantity: Quantity, digits: int | None = None) -> str:
    """Return the number alone: "12.1", "below 14" or "not known".

    A bound is rounded outwards, so that the rounded bound is true as well.

    Args:
        quantity: the quantity to show.
        digits: most decimals to show, as for `show`.
    """
    if quantity.value is not None:
        return number(quantity.value, decimals(quantity, digits))
    if quantity.bound is None:
        return "not known"
    side, end = quantity.bound
    places = _significant(end) if digits is None else min(digits, _significant(end))
    scaled = end * 10.0**places
    outward = math.ceil(scaled - 1e-9) if side == "<" else math.floor(scaled + 1e-9)
    return f"{'below' if side == '<' else 'above'} {number(outward / 10.0**places, places)}"


def interval(quantity: Quantity, digits: int | None = None) -> str:
    """Return the 95 % interval, "9.8 to 15.0"; an empty text where there is none.

    Args:
        quantity: the quantity to show.
        digits: most decimals to show, as for `show`.
    """
    if quantity.low is None or quantity.high is None:
        return ""
    places = decimals(quantity, digits)
    return f"{number(quantity.low, places)} to {number(quantity.high, places)}"


def value_and_interval(quantity: Quantity, digits: int | None = None) -> str:
    """Return the number with its interval, "0.64 (0.54 to 0.75)", or a bound without its reason.

    Args:
        quantity: the quantity to show.
        digits: most decimals to show, as for `show`.
    """
    ends = interval(quantity, digits)
    return f"{value(quantity, digits)} ({ends})" if ends else value(quantity, digits)


def decimals(quantity: Quantity, digits: int | None = None) -> int:
    """Return the number of decimals that a quantity's uncertainty allows; negative for tens, hundreds and so on.

    Args:
        quantity: a quantity that has a value.
        digits: most decimals, and the answer where there is no interval or an interval without width.
    """
    half = quantity.half_width
    if half is None or not half > 0 or not math.isfinite(half):
        return _significant(quantity.value or 0.0) if digits is None else digits
    power = math.floor(math.log10(half))
    # 0.296 is written 0.30: what counts is the leading digit after rounding.
    leading = round(half / 10.0**power, 1)
    most = _MOST_DECIMALS if digits is None else digits
    return min(most, -power + (1 if leading < _FEWEST_LEADING else 0))


def number(x: float, decimals: int) -> str:
    """Return ``x`` with a number of decimals, without a minus sign before a zero."""
    return f"{round(x, decimals) + 0.0:.{max(decimals, 0)}f}"


def signed(x: float, decimals: int) -> str:
    """Return a difference with its sign; a difference that rounds to nothing has none."""
    rounded = round(x, decimals)
    return f"{rounded:+.{decimals}f}" if rounded else number(0.0, decimals)


def outward(index: Quantity) -> str:
    """Return the limit of an index that has none but a bound, in two digits, rounded so that it stays true: "22"."""
    assert index.bound is not None
    side, end = index.bound
    scale = 10.0 ** (math.floor(math.log10(end)) - 1)
    whole = math.ceil(end / scale - 1e-9) if side == "<" else math.floor(end / scale + 1e-9)
    return figures(whole * scale, 2)


def index_alone(index: Quantity) -> str:
    """Return an index without its interval, as far as it is known: "12.1", "below 22" or "not known"."""
    if index.value is not None or index.bound is None:
        return value(index)
    return f"{'below' if index.bound[0] == '<' else 'above'} {outward(index)}"


def figures(x: float, count: int = 3) -> str:
    """Return ``x`` to a number of significant figures and without an exponent: "104", "1050000", "0.00105"."""
    return f"{Decimal(f'{x:.{count}g}'):f}"


def _has_number(quantity: Quantity) -> bool:
    return quantity.value is not None or quantity.bound is not None


def _significant(x: float) -> int:
    """Return the decimals that show ``x`` to three significant digits, or to its last whole digit."""
    if x == 0 or not math.isfinite(x):
        return _SIGNIFICANT - 1
    return min(_MOST_DECIMALS, max(0, _SIGNIFICANT - 1 - math.floor(math.log10(abs(x)))))


def half_width_stops(index: Quantity) -> str | None:
    """Return half the width of an index's 95 % interval in stops, "±0.5 stops"; None where there is no interval."""
    if index.low is None or index.high is None or not index.low > 0:
        return None
    stops = math.log10(index.high / index.low) / (2.0 * STOP)
    return "under 0.05 stops" if stops < 0.05 else f"±{stops:.1f} stops"


def speed_name(key: str) -> str:
    """Return the name of a speed that a person reads, by its key in JSON."""
    return next((rule.label for rule in SPEEDS if rule.key == key), key)


def range_of(ends: tuple[Quantity, Quantity]) -> str:
    """Return a range of indexes in two digits: "9.8 to 24", "24 or lower to 30" or "not known".

    Two ends that round to one number are that number alone, "25 alone". Two ends of which neither is known, and whose
    bounds leave nothing between them, say nothing. A bound beyond the other end tells nothing of its own end: "3.6 or
    higher".
    """
    bounds = [end.bound[1] for end in ends if end.bound]
    if all(end.value is None for end in ends) and (len(bounds) < 2 or bounds[0] > bounds[1]):
        return "not known"
    low, high = (_range_end(end) for end in ends)
    if ends[0].value is not None and ends[1].bound is not None and ends[1].bound[1] <= ends[0].value:
        return f"{low} or higher"
    if ends[1].value is not None and ends[0].bound is not None and ends[0].bound[1] >= ends[1].value:
        return f"{high} or lower"
    return f"{low} alone" if low == high else f"{low} to {high}"


def _range_end(end: Quantity) -> str:
    if end.value is not None:
        return two_digits(end.value)
    if end.bound is None:
        return "not known"
    return f"{outward(end)} or {'lower' if end.bound[0] == '<' else 'higher'}"
