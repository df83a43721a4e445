"""Statements of a file on its numbers: the resolution, and whether they follow the light or are encoded for display.

A colour profile is read as far as its tone curves: ICC.1 (2004-10 and later; ISO 15076-1), an open standard: the tag
table, the types 'curv' and 'para', and the description. Nothing here changes a value; a person has to say how the scan
was made.
"""

from __future__ import annotations

import math
import struct
import zlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from curves.sensitometry.core.units import FloatArray
from curves.sensitometry.scan.encoding import Encoding

# Tags of a TIFF file: resolution across and down, transfer function, camera fields, colour profile.
TIFF_STATEMENTS = (282, 283, 301, 34665, 34675)
PNG_STATEMENTS = (b"pHYs", b"cICP", b"iCCP", b"sRGB", b"gAMA")

# Our own choices: more is not a scan [pixels per inch, bytes, a count]; a curve this close to the straight line counts
# as linear, and so does an exponent [of full scale].
_MOST_DPI, _MOST_PROFILE, _MOST_TAGS = 30_000.0, 16_000_000, 200
_STRAIGHT = 0.005
_PROFILE_HEAD = b"ICC_PROFILE\0"
_DRAWN = 1025
_SRGB = (
    "it states the colour space sRGB",
    tuple(Encoding("srgb", 0.0).linearise(np.linspace(0.0, 1.0, 1025)).tolist()),
)


@dataclass(frozen=True)
class Facts:
    """The facts that a picture's file states.

    Attributes:
        path: the file.
        width, height: of the picture as stored [pixels].
        samples: colours a pixel: 1 (grey) or 3 (red, green, blue). Alpha and other extra samples are not counted.
        bits: of a sample: 8 or 16.
        dpi: resolution [pixels per inch]; None if the file states none in inches or metres.
        encoded: why the numbers look encoded for display rather than linear, as a clause; "" if nothing says so.
        stated: light at evenly spaced numbers from 0 to 1, as the file states it [of full scale]; empty if it states no
            curve that can be read.
        step: the step to which the values of an even patch are rounded: 1, or more where a packing rounds them [codes].
        dark: number of each sample without light, as a camera's file states it [of full scale]; empty if none is.
        lossy: True if the packing of the file changes values.
        profile: the colour profile (ICC.1) in a TIFF file; empty if there is none.
    """

    path: Path
    width: int
    height: int
    samples: int
    bits: int
    dpi: float | None
    encoded: str
    stated: tuple[float, ...] = ()
    step: float = 1.0
    dark: tuple[float, ...] = ()
    lossy: bool = False
    profile: bytes = b""


Statement = tuple[str, tuple[float, ...]]
"""A clause on why numbers look encoded, "" if they do not; and light at evenly spaced numbers, as `Facts.stated`."""

_SILENT: Statement = ("", ())


def tiff_statements(tags: Mapping[int, Any], unit: int, bits: int) -> tuple[float | None, str, tuple[float, ...]]:
    """Return `Facts.dpi`, `Facts.encoded` and `Facts.stated` of a TIFF file.

    A colour profile has the last word, then the transfer function, then the camera fields for gamma and colour space.

    Args:
        tags: those of `TIFF_STATEMENTS` as tifffile reads them, None where there is none.
        unit: of the resolution: 2 for inches, 3 for centimetres.
        bits: of a sample.
    """
    across, down, table, camera, profile = (tags[tag] for tag in TIFF_STATEMENTS)
    inch = {2: 1.0, 3: 2.54}.get(unit, 0.0)
    dpi = _dpi(_ratio(across) * inch, _ratio(down) * inch)
    if profile is not None:
        return dpi, *_of_profile(profile)
    if table is not None:
        return dpi, *_of_table(np.ravel(table), bits)
    return dpi, *(_of_camera(camera) if isinstance(camera, Mapping) else _SILENT)


def png_statements(chunks: Mapping[bytes, bytes]) -> tuple[float | None, str, tuple[float, ...]]:
    """Return `Facts.dpi`, `Facts.encoded` and `Facts.stated` of a PNG file.

    Of the chunks that tell, the first of cICP, iCCP, sRGB and gAMA counts, as the specification orders them.
    """
    across, down, unit = struct.unpack(">IIB", chunks.get(b"pHYs", b"").ljust(9, b"\0")[:9])
    dpi = _dpi(across * 0.0254, down * 0.0254) if unit == 1 else None
    if len(chunks.get(b"cICP", b"")) == 4:
        return dpi, *_of_transfer(chunks[b"cICP"][1])
    if b"iCCP" in chunks:  # a name, two zeros, a zlib stream
        try:
            packed = chunks[b"iCCP"].partition(b"\0")[2][1:]
            return dpi, *_of_profile(zlib.decompressobj().decompress(packed, _MOST_PROFILE))
        except zlib.error:
            return dpi, *_of_profile(None)
    if b"sRGB" in chunks:
        return dpi, *_SRGB
    gamma = int.from_bytes(chunks.get(b"gAMA", b"")[:4], "big")
    return dpi, *_of_gamma(100_000 / gamma if gamma else 0.0)


def jpeg_statements(segments: Mapping[str, bytes]) -> tuple[float | None, str, tuple[float, ...]]:
    """Return `Facts.dpi`, `Facts.encoded` and `Facts.stated` of a JPEG file.

    Args:
        segments: "resolution", the segment of JFIF (ISO/IEC 10918-5), and "profile", the parts of a colour profile
            behind each other, each with its head of 14 bytes; either may be missing.
    """
    head = segments.get("resolution", b"")
    dpi = None
    if head.startswith(b"JFIF\0") and len(head) >= 12:
        unit, across, down = struct.unpack_from(">BHH", head, 7)
        inch = {1: 1.0, 2: 2.54}.get(unit, 0.0)
        dpi = _dpi(across * inch, down * inch)
    parts = segments.get("profile", b"").split(_PROFILE_HEAD)
    if len(parts) < 2:
        return dpi, *_SILENT
    return dpi, *_of_profile(b"".join(part[2:] for part in parts[1:]))


def _dpi(across: float, down: float) -> float | None:
    """Return one resolution of two; None if they are 0, absurd, or differ by more than 1 % (our own choice)."""
    if not (0.0 < across <= _MOST_DPI and 0.0 < down <= _MOST_DPI) or abs(across - down) > 0.01 * across:
        return None
    return across


def _ratio(value: object) -> float:
    """Return a fraction of two whole numbers; 0 if the value is not one."""
    if isinstance(value, tuple) and len(value) == 2 and isinstance(value[0], int) and value[1]:
        return float(value[0] / value[1])
    return 0.0


def _of_gamma(exponent: float) -> Statement:
    """Return the statement of an exponent; silent if it is 0, for none."""
    if not exponent:
        return _SILENT
    clause = f"it states a gamma of {exponent:.2f}" if abs(exponent - 1.0) > _STRAIGHT else ""
    return clause, _drawn(lambda v: v**exponent)


def _of_transfer(number: int) -> Statement:
    """Return the statement of a transfer function of ITU-T H.273: 8 is linear, 13 that of sRGB."""
    if number == 8:
        return _of_gamma(1.0)
    clause = f"it states transfer function {number} of ITU-T H.273"
    return clause, _SRGB[1] if number == 13 else ()


def _of_table(values: NDArray[Any], bits: int) -> Statement:
    """Return the statement of a TIFF file's transfer function."""
    if values.dtype.kind not in "ui" or len(values) not in (1 << bits, 3 << bits):
        return "it carries a transfer function that cannot be read", ()
    return _of_curves("it states a transfer function", list(values.reshape(-1, 1 << bits) / 65535.0))


def _of_camera(camera: Mapping[Any, Any]) -> Statement:
    """Return the statement of a camera's fields: the exponent, else the colour space."""
    space = camera.get("ColorSpace")
    return (
        _of_gamma(_ratio(camera.get("Gamma")))
        if _ratio(camera.get("Gamma"))
        else (_SRGB if isinstance(space, int) and space == 1 else _SILENT)
    )


def _of_curves(carrier: str, curves: Sequence[FloatArray]) -> Statement:
    """Return the statement of tone curves, with the exponent in the middle of a bent one; the first bent one counts."""
    for curve in curves:
        straight = np.linspace(0.0, 1.0, len(curve))
        if np.max(np.abs(curve - straight)) > _STRAIGHT:
            middle = float(np.interp(0.5, straight, curve))
            about = f", gamma about {math.log(middle, 0.5):.1f}" if 0.0 < middle < 1.0 else ""
            return carrier + about, tuple(curve.tolist())
    return "", tuple(curves[0].tolist())


def _drawn(rule: Callable[[FloatArray], FloatArray]) -> tuple[float, ...]:
    """Return light at evenly spaced numbers from 0 to 1, by a rule [of full scale]."""
    return tuple(rule(np.linspace(0.0, 1.0, _DRAWN)).tolist())


def _of_profile(profile: object) -> Statement:
    """Return the statement of a colour profile."""
    try:
        tags = _profile_tags(profile if isinstance(profile, bytes) else b"")
        name = _description(tags.get(b"desc", b""))
        curves = [_curve(tags[key]) for key in (b"rTRC", b"gTRC", b"bTRC", b"kTRC") if key in tags]
    except (struct.error, ValueError, OverflowError, ZeroDivisionError):
        return "it carries a colour profile that cannot be read", ()
    called = f"its colour profile, '{name}'," if name else "its colour profile"
    return _of_curves(f"{called} has a tone curve", curves) if curves else (f"{called} has no plain tone curves", ())


def _profile_tags(profile: bytes) -> dict[bytes, bytes]:
    """Return the tags of a profile: a header of 128 bytes, a count, then (signature, offset, size) of each."""
    (count,) = struct.unpack_from(">I", profile, 128)
    entries = [struct.unpack_from(">4sII", profile, 132 + 12 * index) for index in range(min(count, _MOST_TAGS))]
    if profile[36:40] != b"acsp" or any(offset + size > len(profile) for _, offset, size in entries):
        raise ValueError("not a profile, or not all of it")
    return {signature: profile[offset : offset + size] for signature, offset, size in entries}


def _description(tag: bytes) -> str:
    """Return the name of a profile: of the type 'desc' (version 2) its ASCII, of 'mluc' (version 4) its first text."""
    text = ""
    if tag[:4] == b"desc":
        (length,) = struct.unpack_from(">I", tag, 8)
        text = tag[12 : 12 + length].decode("latin-1")
    elif tag[:4] == b"mluc":
        length, offset = struct.unpack_from(">II", tag, 20)
        text = tag[offset : offset + length].decode("utf-16-be", errors="replace")
    return "".join(sign for sign in text if sign.isprintable()).strip()[:60]


def _curve(tag: bytes) -> FloatArray:
    """Return a tone curve at evenly spaced numbers from 0 to 1 [of full scale].

    Type 'curv' is a straight line, an exponent or a table; 'para' is one of the functions 0 to 4:
    (a x + b)^g (+ c or e) from d on, c x (+ f) below.
    """
    x = np.linspace(0.0, 1.0, _DRAWN)
    kind, count = struct.unpack_from(">H", tag, 8)[0], struct.unpack_from(">I", tag, 8)[0]
    if tag[:4] == b"curv":
        values = np.array(struct.unpack_from(f">{min(count, 1 << 16)}H", tag, 12), dtype=np.float64)
        return values / 65535.0 if count > 1 else x ** (values[0] / 256.0 if count else 1.0)
    if tag[:4] != b"para" or kind > 4:
        raise ValueError("not a tone curve")
    given = [value / 65536.0 for value in struct.unpack_from(f">{(1, 3, 4, 5, 7)[kind]}i", tag, 12)]
    g, a, b, c, d, e, f = given + [0.0] * (7 - len(given))
    if kind == 0:
        a, d = 1.0, -1.0
    elif kind in (1, 2):  # 0 below -b/a; type 2 adds c everywhere
        c, d, e, f = 0.0, -b / a, c, c
    with np.errstate(all="ignore"):
        curve = np.where(x >= d, np.maximum(a * x + b, 0.0) ** g + e, c * x + f)
    if not np.isfinite(curve).all():
        raise ValueError("not a tone curve")
    return np.asarray(np.clip(curve, 0.0, 1.0))
