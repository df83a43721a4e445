"""What a scan came to, for the terminal."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

import numpy as np

from curves.sensitometry.core.units import Channel, FloatArray
from curves.sensitometry.scan.patch_light import Piece, said_of
from curves.sensitometry.strip.scan_origin import Flag

WIDTH = 79
"""Longest line, for a terminal of 80 columns [characters]."""

_UNREAD = "not read"
_ROOM = len(" ±0.001")
"""What an uncertainty takes after a density [characters]."""


def patches_lines(
    labels: Sequence[str],
    channels: Sequence[Channel],
    densities: FloatArray,
    errors: FloatArray,
    flags: Sequence[Flag],
    pieces: Sequence[Piece],
    notes: Sequence[str],
) -> str:
    """Return the densities of a scan's patches, what to mind of each under it, and notes on the whole.

    Args:
        labels: of each patch.
        channels: what the samples are.
        densities, errors: (patches, samples) [density].
        flags: what to mind of single patches.
        pieces: single pieces of film.
        notes: sentences.
    """
    width = max(len(label) for label in (*labels, *(piece.label for piece in pieces)))
    lines = ["  ".join([" " * width, *(f"{c:>14}" for c in channels)]).rstrip()]
    for row, label in enumerate(labels):
        cells = [_cell(float(d), float(u)) for d, u in zip(densities[row], errors[row], strict=True)]
        lines.append("  ".join([f"{label:<{width}}", *(f"{cell:>14}" for cell in cells)]))
        for message, of in said_of(row + 1, flags).items():
            names = ", ".join(of) if len(of) < len(channels) else ""
            lines += _wrapped(f"{names}: {message}" if names else message, width + 2)
    for piece in pieces:
        # Aligned with the densities above, which have an uncertainty after them.
        cells = [f"{piece.densities[c]:.3f}{' ' * _ROOM}" if c in piece.densities else _UNREAD for c in channels]
        lines.append("  ".join([f"{piece.label:<{width}}", *(f"{cell:>14}" for cell in cells)]).rstrip())
    for note in notes:
        lines += textwrap.wrap(f"Mind: {note}", WIDTH, subsequent_indent="  ")
    return "\n".join(lines)


def _cell(density: float, error: float) -> str:
    if not np.isfinite(density):
        return _UNREAD
    return f"{density:.3f} ±{error:.3f}" if np.isfinite(error) else f"{density:.3f}"


def _wrapped(text: str, indent: int) -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=" " * indent, subsequent_indent=" " * indent)
