"""What a scan came to, for the terminal."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Mapping, Sequence

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
    pieces: Mapping[str, Mapping[Channel, float]],
    notes: Sequence[str],
) -> str:
    """Return the densities of a scan's patches, what to mind of each under it, and notes on the whole.

    Args:
        labels: of each patch.
        channels: what the samples are.
        densities, errors: (patches, samples) [density].
        flags: what to mind of single patches.
        pieces: densities of single pieces of film, by name and channel [density].
        notes: sentences.
    """
    named = {name.replace("_", " "): of for name, of in pieces.items()}
    width = max(len(label) for label in (*labels, *named))
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
    for name, by_channel in named.items():
        cells = [_cell(by_channel.get(channel, math.nan), math.nan) for channel in channels]
        # Aligned with the densities above, which have an uncertainty after them.
        lines.append("  ".join([f"{name:<{width}}", *(f"{cell + ' ' * 7:>14}" for cell in cells)]).rstrip())
    for note in notes:
        lines += textwrap.wrap(f"Mind: {note}", WIDTH, subsequent_indent="  ")
    return "\n".join(lines)


def _cell(density: float, error: float) -> str:
    if not np.isfinite(density):
        return "not read"
    return f"{density:.3f} ±{error:.3f}" if np.isfinite(error) else f"{density:.3f}"


def _wrapped(text: str, indent: int) -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=" " * indent, subsequent_indent=" " * indent)
