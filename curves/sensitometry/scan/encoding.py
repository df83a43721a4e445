"""How a picture's numbers stand for light: straight, by a power, or by the sRGB curve."""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from curves.errors import RecordError
from curves.sensitometry.core.units import FloatArray

# What makes codes look encoded: our own choices, by the pictures of tests/sensitometry/test_encoding.py.
_ENOUGH = 20_000
"""Pixels that, were they not made of 8 bits, would use more than 256 codes [unitless]."""

_FEWEST_GAPS = 200
"""Gaps between used codes without which nothing is said of how they lie [unitless]."""

_DRAWN_APART = 3.0
"""How far dark codes lie apart against bright ones, at least [unitless]."""

_ALIKE = 0.3
"""How much neighbouring gaps of dark codes differ against their size, at most [unitless]."""

_NEEDED = "linear, srgb, or gamma: and its exponent, such as gamma:2.2"


@dataclass(frozen=True)
class Encoding:
    """A rule that turned light into a picture's numbers.

    Attributes:
        name: as it is written: "linear", "srgb" or "gamma:2.2".
        exponent: of the power law; 1 for linear, 0 for the sRGB curve, which is none.
    """

    name: str
    exponent: float

    def linearise(self, values: ArrayLike) -> FloatArray:
        """Return light in proportion, any shape [of full scale].

        Args:
            values: a picture's numbers [of full scale]; what lies outside 0 to 1 is carried on as it is.

        The sRGB curve is that of IEC 61966-2-1.
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


LINEAR = Encoding("linear", 1.0)


def parse_encoding(text: str, where: str = "encoding") -> Encoding:
    """Return the encoding called ``text``.

    Args:
        text: as a person writes it; an exponent written in several ways ("2.2", "2.20") gives one name.
        where: what to call its place in errors; by default the parameter of that name.

    Raises:
        RecordError: there is none of that name; says which there are.
    """
    word = text.strip().lower()
    if word == "linear":
        return LINEAR
    if word == "srgb":
        return Encoding("srgb", 0.0)
    settings = ("encoding",) if where == "encoding" else ()
    found = re.fullmatch(r"gamma:(\d+(?:\.\d+)?)", word)
    if found is None:
        raise RecordError(f"'{text}' is not an encoding", where=where, needed=_NEEDED, settings=settings)
    exponent = float(found[1])
    if not 1.0 <= exponent <= 4.0:
        raise RecordError(
            f"{exponent:g} is not the exponent of an encoding", where=where, needed="1 to 4", settings=settings
        )
    return Encoding(f"gamma:{exponent:.10g}", exponent)


def signs_of_encoding(codes: NDArray[np.uint8] | NDArray[np.uint16], bits: int) -> str:
    """Return why a picture's numbers look encoded, as a clause; empty if they do not.

    A converter counts light in equal steps. An encoding draws the dark ones apart and the bright ones together, so that
    far fewer of the dark codes are in use; a picture that was averaged or resized since shows nothing of it. Eight bits
    are too few for light in proportion, and are hardly ever used for it.

    Args:
        codes: some hundred thousand of the picture's numbers, any shape.
        bits: 8 or 16.
    """
    if bits == 8:
        return "it has 8 bits, and pictures of 8 bits are nearly always encoded"
    used = np.unique(codes)
    if codes.size >= _ENOUGH and used.size <= 256:
        return f"only {used.size} of its 65536 codes are in use: it was made of 8 bits, which are nearly always encoded"
    gaps = np.diff(used.astype(np.int64))
    if gaps.size < _FEWEST_GAPS:
        return ""
    dark, bright = gaps[: gaps.size // 10], gaps[gaps.size // 2 :]
    apart, usual = float(np.median(dark)), float(np.median(bright))
    # Codes that are merely few lie apart at random; an encoding spaces neighbours alike.
    unlike = float(np.median(np.abs(np.diff(dark))))
    if apart >= _DRAWN_APART * usual and unlike <= _ALIKE * apart:
        return f"its dark codes lie {apart:g} apart and its bright ones {usual:g}, as an encoding leaves them"
    return ""
