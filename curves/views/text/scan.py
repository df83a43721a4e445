"""The measured patches of a scan in the terminal."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from curves.app.pictures.scan_match import ScanMatch
from curves.sensitometry.core.units import LAYERS, Channel, FloatArray
from curves.sensitometry.scan.patch_light import FilmPiece, remarks_on
from curves.sensitometry.strip.origin import Flag
from curves.views.words.digits import signed
from curves.views.words.wrapping import wrapped

_UNREAD = "not read"
_ROOM = len(" ±0.001")
"""Width of an uncertainty after a density [characters]."""


def patches_text(
    labels: Sequence[str],
    channels: Sequence[Channel],
    densities: FloatArray,
    errors: FloatArray,
    flags: Sequence[Flag],
    pieces: Sequence[FilmPiece],
    notes: Sequence[str],
) -> str:
    """Return the densities of a scan's patches, the remarks on each patch under it, and remarks on the whole scan.

    Args:
        labels: name of each patch.
        channels: the channel of each sample.
        densities, errors: (patches, samples) [density].
        flags: remarks on single patches.
        pieces: single pieces of film.
        notes: remarks on the whole scan, each a sentence.
    """
    width = max(len(label) for label in (*labels, *(piece.label for piece in pieces)))
    lines = ["  ".join([" " * width, *(f"{c:>14}" for c in channels)]).rstrip()]
    for row, label in enumerate(labels):
        cells = [_cell(float(d), float(u)) for d, u in zip(densities[row], errors[row], strict=True)]
        lines.append("  ".join([f"{label:<{width}}", *(f"{cell:>14}" for cell in cells)]))
        for message, of in remarks_on(row + 1, flags).items():
            names = ", ".join(of) if len(of) < len(channels) else ""
            lines += wrapped(f"{names}: {message}" if names else message, indent=width + 2)
    for piece in pieces:
        # Aligned with the densities above, which have an uncertainty after them.
        cells = [f"{piece.densities[c]:.3f}{' ' * _ROOM}" if c in piece.densities else _UNREAD for c in channels]
        lines.append("  ".join([f"{piece.label:<{width}}", *(f"{cell:>14}" for cell in cells)]).rstrip())
    if np.isfinite(errors).any():
        lines.append("±: standard uncertainty; 95 % lie within twice that")
    for note in notes:
        lines += wrapped(f"Remark: {note}", hanging=2)
    return "\n".join(lines)


def _cell(density: float, error: float) -> str:
    """Return a density with its standard uncertainty, as far as there are any."""
    if not np.isfinite(density):
        return _UNREAD
    return f"{density:.3f} ±{error:.3f}" if np.isfinite(error) else f"{density:.3f}"


def match_text(match: ScanMatch) -> str:
    """Return the matching of a scan to a densitometer: its patches, how well they are met, and the matrix."""
    found, patches = match.found, match.found.patches
    width = max(len(name) for name in (*patches.names, *LAYERS))
    lines = wrapped(match.sentence)
    lines.append(" " * width + "".join(f"{channel:^23}" for channel in LAYERS).rstrip())
    lines.append(" " * width + f"{'scan':>9}{'known':>7}{'missed':>7}" * len(LAYERS))
    for row, name in enumerate(patches.names):
        cells = [
            f"{scan:9.2f}{known:7.2f}{'-' if found.missed is None else signed(float(found.missed[row, at]), 2):>7}"
            for at, (scan, known) in enumerate(zip(patches.scanned[row], patches.known[row], strict=True))
        ]
        lines.append(f"{name:<{width}}{''.join(cells)}")
    lines += wrapped("Known from the scan's densities above the thinnest patch, with standard uncertainties:")
    lines.append(" " * width + "".join(f"{f'scan {channel}':>14}" for channel in LAYERS))
    for at, channel in enumerate(LAYERS):
        parts = zip(found.matrix[at], found.matrix_error[at], strict=True)
        lines.append(f"{channel:<{width}}" + "".join(f"{f'{value:.2f} ±{error:.2f}':>14}" for value, error in parts))
    return "\n".join(lines)
