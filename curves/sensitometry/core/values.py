"""Checks and the short repr that all values share: a value that is made is right, and shows what it was given."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import MISSING, dataclass, fields
from typing import Any, TypeGuard, TypeVar

import numpy as np
from numpy.typing import ArrayLike

from curves.errors import CurvesError, StripError, nearest
from curves.sensitometry.core.units import LEAST_READING, MOST_READING, FloatArray

Word = TypeVar("Word", bound=str)

Numbers = ArrayLike | Sequence[float | None]
"""A list of numbers as a person has it: a list, a tuple, an array or a pandas Series; None where nothing was read."""

_GREATEST = 10**15
"""Whole numbers above this are slips, and soon beyond what a float can hold."""


@dataclass(frozen=True)
class Bounds:
    """The numbers that a field may hold.

    Attributes:
        above: every number is more than this.
        least: no number is less than this.
        below: every number is less than this.
        most: no number is more than this.
    """

    above: float = -math.inf
    least: float = -math.inf
    below: float = math.inf
    most: float = math.inf

    def hold(self, value: float) -> bool:
        """Return True if ``value`` lies within the bounds; NaN never does."""
        return self.above < value < self.below and self.least <= value <= self.most

    @property
    def words(self) -> str:
        """The bounds in words; empty if there are none."""
        limits = [
            f"more than {self.above:g}" if self.above > -math.inf else "",
            f"at least {self.least:g}" if self.least > -math.inf else "",
            f"less than {self.below:g}" if self.below < math.inf else "",
            f"at most {self.most:g}" if self.most < math.inf else "",
        ]
        return " and ".join(filter(None, limits))


ANY_NUMBER = Bounds()
POSITIVE = Bounds(above=0.0)
STOPS = Bounds(least=0.0, below=10.0)
"""A standard uncertainty [stops]."""

DENSITY = FRACTION = Bounds(least=0.0, below=1.0)
"""A standard uncertainty [density]; a fraction of the light, or a standard uncertainty of a scale [unitless]."""

READING = Bounds(least=LEAST_READING, most=MOST_READING)
"""A density that an instrument shows [density]."""

METER_CONSTANT = Bounds(least=5.0, most=30.0)
"""No meter is built with a constant K outside these: our own choice [cd s / m2]."""


def check_fields(value: Any, **bounds: Bounds) -> None:
    """Check numeric fields of a frozen dataclass, and store each as a float.

    Args:
        value: the dataclass, from its own ``__post_init__``; a field that is None by default may stay None.
        bounds: what each field may hold, by its name.

    Raises:
        StripError: a field is not a finite number, or lies out of its bounds.
    """
    optional = {f.name for f in fields(value) if f.default is None}
    for name, within in bounds.items():
        given = getattr(value, name)
        if given is not None or name not in optional:
            store(value, name, number(given, f"{type(value).__name__}, {name}", within))


def store(value: Any, name: str, content: object) -> None:
    """Set a field of a frozen dataclass, from its own ``__post_init__``."""
    object.__setattr__(value, name, content)


def number(value: object, where: str, within: Bounds, error: type[CurvesError] = StripError) -> float:
    """Return ``value`` as a finite float.

    Args:
        value: what was given.
        where: what to call it in the error.
        within: the numbers that it may be.
        error: the kind of error to raise.

    Raises:
        CurvesError: of the kind ``error``: it is not a finite number, or lies out of its bounds.
    """
    if isinstance(value, float) and math.isnan(value):
        raise error("there is no number", where=where, needed="a number such as 0.15")
    if isinstance(value, int) and not isinstance(value, bool) and abs(value) > _GREATEST:
        raise error("the number is too great", where=where, needed="a number such as 0.15")
    if not is_number(value) or not math.isfinite(value):
        raise error(f"{value!r} is not a number", where=where, needed="a number without quotes, such as 0.15")
    if not within.hold(value):
        raise error(f"{value:g} is out of range", where=where, needed=within.words)
    return float(value)


def is_number(value: object) -> TypeGuard[float]:
    """Return True if ``value`` is an integer or a float of Python or numpy; truth values are not numbers."""
    return isinstance(value, int | float | np.integer | np.floating) and not isinstance(value, bool)


def whole(value: object, where: str, *, least: int) -> int:
    """Return ``value`` as an integer of at least ``least``, or raise StripError."""
    if not is_number(value) or not math.isfinite(value) or value % 1 or value < least:
        raise StripError(f"{value!r} is not a whole number", where=where, needed=f"a whole number from {least}")
    return int(value)


def word(value: object, known: Iterable[Word], where: str) -> Word:
    """Return the one of the ``known`` words that ``value`` is, or raise StripError, which names the nearest."""
    listed = list(known)
    for each in listed:
        if isinstance(value, str) and value == each:
            return each
    needed = " or ".join(f'"{each}"' for each in listed)
    hint = nearest(value, listed) if isinstance(value, str) else ""
    raise StripError(
        f"{value!r} is not known", where=where, needed=needed, hint=hint if hint.startswith("write") else ""
    )


def part(value: object, types: tuple[type, ...], where: str) -> None:
    """Raise StripError if ``value`` is of none of the ``types``."""
    if not isinstance(value, types):
        needed = " or ".join("None" if each is type(None) else each.__name__ for each in types)
        raise StripError(f"{value!r} is of the wrong type", where=where, needed=needed)


def text(value: object, where: str) -> str:
    """Return ``value`` if it is a text, or raise StripError."""
    if not isinstance(value, str):
        raise StripError(f"{value!r} is not a text", where=where, needed='a text, such as "Heron 80"')
    return value


def numbers(values: Numbers, where: str) -> FloatArray:
    """Return a list of numbers as a read-only array of floats, 1-D, in the order in which they are given.

    Args:
        values: a list, a tuple, an array or a pandas Series (its index does not count); None, NaN, a masked element
            and pandas' NA stand for what was not read, and become NaN.
        where: what to call them in the error.

    Raises:
        StripError: something in it is not a number, or is infinite; or it is not a single list.
    """
    if hasattr(values, "to_numpy"):
        values = values.to_numpy(dtype=object, na_value=None)
    elif isinstance(values, np.ma.MaskedArray):
        values = values.tolist()
    elif isinstance(values, str | bytes):
        raise StripError(f"{values!r} is not a list of numbers", where=where, needed="numbers such as [0.15, 0.31]")
    given = values if isinstance(values, np.ndarray) else np.array(values, dtype=object)
    if given.ndim != 1:
        raise StripError(f"the shape is {given.shape}", where=where, needed="a single list of numbers")
    if given.dtype.kind in "fiu":
        found = given.astype(np.float64)
    else:
        found = np.array([_cell(cell, f"{where}, number {at}") for at, cell in enumerate(given, start=1)], dtype=float)
    if np.isinf(found).any():
        at = int(np.flatnonzero(np.isinf(found))[0]) + 1
        raise StripError("the number is infinite", where=f"{where}, number {at}", needed="a finite number, or NaN")
    found.flags.writeable = False
    return found


def _cell(cell: object, where: str) -> float:
    if cell is None:
        return math.nan
    if not is_number(cell):
        raise StripError(f"{cell!r} is not a number", where=where, needed="a number, or None where nothing was read")
    return float(cell)


def short_repr(value: Any) -> str:
    """Return the code that makes a dataclass, without the fields that are at their defaults."""
    shown = []
    for f in fields(value):
        content = getattr(value, f.name)
        default = f.default if f.default_factory is MISSING else f.default_factory()
        if f.repr and not (type(content) is type(default) and content == default):
            shown.append(f"{f.name}={content!r}")
    return f"{type(value).__name__}({', '.join(shown)})"
