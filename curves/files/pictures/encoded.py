"""What a file says of its own numbers: whether they follow the light, or were encoded for display.

A colour profile is read as far as its tone curves: ICC.1 (2004-10 and later; ISO 15076-1), an open standard: the tag
table, the types 'curv' and 'para', and the description. Nothing here changes a value; it is said so that a person can
say how the scan was made.
"""

from __future__ import annotations

import math
import struct

import numpy as np

from curves.sensitometry.core.units import FloatArray

# A curve this close to the straight line counts as linear, and so does an exponent [of full scale]; our own choice.
_STRAIGHT = 0.005
_CURVES = (b"rTRC", b"gTRC", b"bTRC", b"kTRC")
_SAMPLES = 33
_MOST_TAGS = 200


def profile_says(profile: bytes) -> str:
    """Return why a colour profile says that the picture is encoded, as a clause; "" if all its curves are linear."""
    try:
        tags = _tags(profile)
        name = _description(tags.get(b"desc", b""))
        called = f"its colour profile, '{name}'," if name else "its colour profile"
        curves = [_curve(tags[key]) for key in _CURVES if key in tags]
    except (struct.error, ValueError, OverflowError, ZeroDivisionError):
        return "it carries a colour profile that cannot be read"
    if not curves:
        return f"{called} has no plain tone curves"
    bent = [curve for curve in curves if not _is_straight(curve)]
    return f"{called} has a tone curve{_about(bent[0])}" if bent else ""


def table_says(table: FloatArray, levels: int) -> str:
    """Return why a transfer function says that the picture is encoded, as a clause; "" if it is a straight line.

    Args:
        table: its values, 1-D [0 to 65535], one curve or three in a row.
        levels: values that a sample can take.
    """
    if len(table) not in (levels, 3 * levels):
        return "it carries a transfer function that cannot be read"
    curves = table.reshape(-1, levels) / 65535.0
    bent = [curve for curve in curves if not _is_straight(curve)]
    return f"it states a transfer function{_about(bent[0])}" if bent else ""


def gamma_says(exponent: float) -> str:
    """Return why a stated exponent says that the picture is encoded, as a clause; "" if it is 1."""
    if abs(exponent - 1.0) <= _STRAIGHT:
        return ""
    return f"it states a gamma of {exponent:.2f}"


def space_says(number: int) -> str:
    """Return why a stated colour space says that the picture is encoded, as a clause; 1 is sRGB, others say nothing."""
    return "it states the colour space sRGB" if number == 1 else ""


def _tags(profile: bytes) -> dict[bytes, bytes]:
    """Return the tags of a profile: a header of 128 bytes, a count, then (signature, offset, size) of each."""
    if profile[36:40] != b"acsp":
        raise ValueError("no profile")
    (count,) = struct.unpack_from(">I", profile, 128)
    if count > _MOST_TAGS:
        raise ValueError("more tags than a profile has")
    tags = {}
    for index in range(count):
        signature, offset, size = struct.unpack_from(">4sII", profile, 132 + 12 * index)
        if offset + size > len(profile):
            raise ValueError("a tag beyond the end")
        tags[signature] = profile[offset : offset + size]
    return tags


def _description(tag: bytes) -> str:
    """Return a profile's name: of the type 'desc' (version 2) its ASCII, of 'mluc' (version 4) its first text."""
    text = ""
    if tag[:4] == b"desc":
        (length,) = struct.unpack_from(">I", tag, 8)
        text = tag[12 : 12 + length].decode("latin-1")
    elif tag[:4] == b"mluc":
        length, offset = struct.unpack_from(">II", tag, 20)
        text = tag[offset : offset + length].decode("utf-16-be", errors="replace")
    return "".join(sign for sign in text if sign.isprintable()).strip()[:60]


def _curve(tag: bytes) -> FloatArray:
    """Return a tone curve at evenly spaced numbers from 0 to 1 [of full scale]."""
    x = np.linspace(0.0, 1.0, _SAMPLES)
    if tag[:4] == b"curv":
        (count,) = struct.unpack_from(">I", tag, 8)
        if count == 0:
            return x
        values = np.array(struct.unpack_from(f">{min(count, 1 << 16)}H", tag, 12), dtype=np.float64)
        if count == 1:
            return np.asarray(x ** (values[0] / 256.0))
        return values / 65535.0
    if tag[:4] == b"para":
        return _parametric(tag, x)
    raise ValueError("no curve")


def _parametric(tag: bytes, x: FloatArray) -> FloatArray:
    """Return a parametric curve of types 0 to 4 at ``x``: (a x + b)^g (+ c or e) from d on, c x (+ f) below."""
    (kind,) = struct.unpack_from(">H", tag, 8)
    if kind > 4:
        raise ValueError("no such curve")
    given = [value / 65536.0 for value in struct.unpack_from(f">{(1, 3, 4, 5, 7)[kind]}i", tag, 12)]
    g, a, b, c, d, e, f = given + [0.0] * (7 - len(given))
    if kind == 0:
        a, b, d = 1.0, 0.0, -1.0
    elif kind in (1, 2):
        if a == 0.0:
            raise ValueError("no such curve")
        # type 1: 0 below -b/a; type 2: c is added everywhere
        a, b, c, d, e, f = a, b, 0.0, -b / a, c, c
    power = np.maximum(a * x + b, 0.0) ** g + e
    curve = np.where(x >= d, power, c * x + f)
    if not np.isfinite(curve).all():
        raise ValueError("no such curve")
    return np.asarray(np.clip(curve, 0.0, 1.0))


def _is_straight(curve: FloatArray) -> bool:
    return bool(np.max(np.abs(curve - np.linspace(0.0, 1.0, len(curve)))) <= _STRAIGHT)


def _about(curve: FloatArray) -> str:
    """Return the exponent that a curve has in its middle, in words; "" where it has none."""
    middle = float(np.interp(0.5, np.linspace(0.0, 1.0, len(curve)), curve))
    if not 0.0 < middle < 1.0:
        return ""
    return f", gamma about {math.log(middle) / math.log(0.5):.1f}"
