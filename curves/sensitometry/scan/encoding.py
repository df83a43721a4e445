"""Encodings of light in a picture's numbers: linear, by a power, or by the sRGB curve; and the evidence for each.

The evidence is of three kinds: the codes in use, the tone curve that the file states, and the numbers of a calibration
wedge, whose light must fall as its known densities say. A wedge is measured and therefore has the last word.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from curves.errors import RecordError
from curves.sensitometry.core.units import FloatArray, density

# Signs of an encoding: our own choices, by the pictures of tests/sensitometry/scan/test_encoding.py.
_ENOUGH = 20_000
"""Number of pixels that use more than 256 codes, unless they were made from 8 bits [unitless]."""

_FEWEST_GAPS = 200
"""Least number of gaps between used codes for a look at their sizes [unitless]."""

_DRAWN_APART = 3.0
"""Least ratio of the gaps between dark codes to those between bright codes [unitless]."""

_ALIKE = 0.3
"""Greatest difference of neighbouring gaps between dark codes, over their size [unitless]."""

_OFF = 0.05
"""Least density by which a declared encoding contradicts a stated curve, up to a density of 2: our own choice."""

_DEPTH = 2.0
"""Density up to which encodings are compared [density]."""

MOST_EXPONENT = 4.0
"""Greatest exponent of an encoding: our own choice [unitless]."""

_NEEDED = "linear, srgb, or gamma: and its exponent, such as gamma:2.2"


@dataclass(frozen=True)
class Encoding:
    """A rule that turned light into a picture's numbers.

    Attributes:
        name: name of the rule: "linear", "srgb" or "gamma:2.2".
        exponent: exponent of the power law; 1 for linear, 0 for the sRGB curve, which has no single exponent.
    """

    name: str
    exponent: float

    @property
    def words(self) -> str:
        """The name as a sentence has it: "linear", "sRGB", "gamma 2.2"."""
        return "sRGB" if self.exponent == 0.0 else self.name.replace(":", " ")

    def linearise(self, values: ArrayLike) -> FloatArray:
        """Return light from a picture's numbers, any shape [of full scale]; the sRGB curve is that of IEC 61966-2-1.

        Args:
            values: a picture's numbers [of full scale]; numbers outside 0 to 1 are returned unchanged.
        """
        v = np.asarray(values, dtype=np.float64)
        if self.exponent == 1.0:
            return v
        inside = np.clip(v, 0.0, 1.0)
        if self.exponent == 0.0:
            light = np.where(inside <= 0.04045, inside / 12.92, ((inside + 0.055) / 1.055) ** 2.4)
        else:
            light = inside**self.exponent
        return np.asarray(np.where(inside == v, light, v))

    def numbers(self, light: ArrayLike) -> FloatArray:
        """Return a picture's numbers for light, any shape [of full scale]: the inverse of `linearise` from 0 to 1."""
        y = np.clip(np.asarray(light, dtype=np.float64), 0.0, 1.0)
        if self.exponent == 1.0:
            return y
        if self.exponent == 0.0:
            return np.asarray(np.where(y <= 0.0031308, 12.92 * y, 1.055 * np.maximum(y, 1e-9) ** (1.0 / 2.4) - 0.055))
        return np.asarray(y ** (1.0 / self.exponent))


LINEAR = Encoding("linear", 1.0)
SRGB = Encoding("srgb", 0.0)


def power(exponent: float) -> Encoding:
    """Return the encoding by a power law."""
    return Encoding(f"gamma:{exponent:.10g}", exponent)


def parse_encoding(text: str, where: str = "encoding") -> Encoding:
    """Return the encoding called ``text``.

    Args:
        text: the name as a person writes it; an exponent written in several ways ("2.2", "2.20") gives one name.
        where: place of the text in errors; by default the parameter of that name.

    Raises:
        RecordError: there is no encoding of that name; lists the names.
    """
    word = text.strip().lower()
    if word == "linear":
        return LINEAR
    if word == "srgb":
        return SRGB
    settings = ("encoding",) if where == "encoding" else ()
    found = re.fullmatch(r"gamma:(\d+(?:\.\d+)?)", word)
    if found is None:
        raise RecordError(f"'{text}' is not an encoding", where=where, needed=_NEEDED, settings=settings)
    exponent = float(found[1])
    if not 1.0 <= exponent <= MOST_EXPONENT:
        raise RecordError(
            f"{exponent:g} is not the exponent of an encoding", where=where, needed="1 to 4", settings=settings
        )
    return power(exponent)


def signs_of_encoding(codes: NDArray[np.uint8] | NDArray[np.uint16], bits: int) -> str:
    """Return a clause if a picture's numbers look encoded; an empty text if they do not.

    A converter counts light in equal steps. An encoding spreads the dark steps and compresses the bright steps, so that
    far fewer of the dark codes are in use; a picture that was averaged or resized afterwards shows no such sign. Eight
    bits are too few for linear light, and hardly ever used for it.

    Args:
        codes: some hundred thousand of the picture's numbers, any shape.
        bits: 8 or 16.
    """
    if bits == 8:
        return "it has 8 bits, and pictures of 8 bits are nearly always encoded"
    used = np.unique(codes)
    if codes.size >= _ENOUGH and used.size <= 256:
        return (
            f"only {used.size} of its 65536 codes are in use: it was made from 8 bits, which are nearly always encoded"
        )
    gaps = np.diff(used.astype(np.int64))
    if gaps.size < _FEWEST_GAPS:
        return ""
    dark, bright = gaps[: gaps.size // 10], gaps[gaps.size // 2 :]
    apart, usual = float(np.median(dark)), float(np.median(bright))
    # Codes that are merely few have gaps of random size; an encoding makes neighbouring gaps alike.
    unlike = float(np.median(np.abs(np.diff(dark))))
    if apart >= _DRAWN_APART * usual and unlike <= _ALIKE * apart:
        return f"its dark codes lie {apart:g} apart and its bright codes {usual:g}, as an encoding leaves them"
    return ""


def disagreement(declared: Encoding, stated: Sequence[float]) -> tuple[float, float] | None:
    """Return the greatest error of density by an encoding if a stated curve is right, and the density where it is.

    Args:
        declared: the encoding that numbers are read by.
        stated: light at evenly spaced numbers from 0 to 1 [of full scale].

    Returns:
        Error and density [density]; None if the error is below 0.05 everywhere up to a density of 2.
    """
    numbers, light = np.linspace(0.0, 1.0, len(stated)), np.asarray(stated, dtype=np.float64)
    level = np.arange(0.1, _DEPTH + 0.05, 0.1)
    number = np.interp(10.0**-level, np.maximum.accumulate(light), numbers)
    read = density(declared.linearise(number))
    off = read - level
    worst = int(np.argmax(np.abs(off)))
    return (float(off[worst]), float(level[worst])) if abs(off[worst]) >= _OFF else None


def encoding_stated(stated: Sequence[float]) -> Encoding | None:
    """Return the encoding that a stated curve is, within 0.05 of density up to 2; None if it is another, or none."""
    if len(stated) == 0:
        return None
    middle = float(np.interp(0.5, np.linspace(0.0, 1.0, len(stated)), stated))
    exponent = float(np.log(middle) / np.log(0.5)) if 0.0 < middle < 1.0 else 0.0
    powers = [power(round(exponent, 1))] if 1.0 < round(exponent, 1) <= MOST_EXPONENT else []
    return next((e for e in (LINEAR, SRGB, *powers) if disagreement(e, stated) is None), None)
