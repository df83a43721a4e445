"""What a scan came to, for the terminal."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

import numpy as np

from curves.sensitometry.patches import Flag
from curves.sensitometry.units import Channel, FloatArray

WIDTH = 79


def patches_lines(
    labels: Sequence[str],
    channels: Sequence[Channel],
    densities: FloatArray,
    errors: FloatArray,
    flags: Sequence[Flag],
    notes: Sequence[str],
) -> str:
    """Return the densities of a scan's patches, what to mind of each under it, and notes on the whole.

    Args:
        labels: of each patch.
        channels: what the samples are.
        densities, errors: (patches, samples) [density].
        flags: what to mind of single patches.
        notes: sentences.
    """
    width = max(len(label) for label in labels)
    lines = ["  ".join([" " * width, *(f"{c:>14}" for c in channels)]).rstrip()]
    for row, label in enumerate(labels):
        cells = [_cell(float(d), float(u)) for d, u in zip(densities[row], errors[row], strict=True)]
        lines.append("  ".join([f"{label:<{width}}", *(f"{cell:>14}" for cell in cells)]))
        said: dict[str, list[str]] = {}
        for flag in flags:
            if flag.patch == row + 1:
                said.setdefault(flag.message, []).append(flag.channel or "")
        for message, of in said.items():
            names = ", ".join(filter(None, of)) if len(of) < len(channels) else ""
            lines += _wrapped(f"{names}: {message}" if names else message, width + 2)
    for note in notes:
        lines += textwrap.wrap(f"Mind: {note}", WIDTH, subsequent_indent="  ")
    return "\n".join(lines)


def _cell(density: float, error: float) -> str:
    if not np.isfinite(density):
        return "not read"
    return f"{density:.3f} ±{error:.3f}" if np.isfinite(error) else f"{density:.3f}"


def _wrapped(text: str, indent: int) -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=" " * indent, subsequent_indent=" " * indent)
