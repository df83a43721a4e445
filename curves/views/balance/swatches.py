"""Greys and pictures before and after a correction, as a person sees them on a screen."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
from numpy.typing import NDArray

from curves.app.pictures.balance_job import BalancedPicture
from curves.sensitometry.balance.neutral import Balance, Tone
from curves.sensitometry.core.units import LAYERS, Channel, FloatArray, transmittance
from curves.sensitometry.scan.encoding import SRGB
from curves.views.page.frame import png_uri
from curves.views.page.tables import esc


def swatches(balance: Balance) -> str:
    """Return the greys of the strip as two rows of patches, HTML: as they are, and balanced."""
    ways: tuple[tuple[str, Callable[[Tone], Mapping[Channel, float]]], ...] = (
        ("as it is", lambda tone: tone.scanned),
        ("balanced", lambda tone: tone.balanced),
    )
    rows = []
    for name, densities in ways:
        cells = "".join(
            f'<td style="background:{_colour(densities(tone))}" title="{esc(f"{tone.label}, {name}")}"></td>'
            for tone in balance.tones
        )
        rows.append(f'<tr><th scope="row">{name}</th>{cells}</tr>')
    return (
        f'<table class="greys">{"".join(rows)}</table><p class="note">From the least exposed step on the left to the'
        " most exposed; light through the film, an open gate being white. Colours are those that the scanner's own red,"
        " green and blue make on this screen.</p>"
    )


def pictures(picture: BalancedPicture) -> str:
    """Return a picture before and after, side by side, HTML."""
    pairs = ((picture.before, picture.source.name, "as it is"), (picture.after, picture.path.name, "balanced"))
    return (
        '<div class="pairs">'
        + "".join(
            f'<figure><img src="{png_uri(_eight_bits(light))}" alt="{esc(f"{name}, {way}")}"><figcaption>'
            f"{esc(name)}, {way}</figcaption></figure>"
            for light, name, way in pairs
        )
        + "</div>"
    )


def _colour(densities: Mapping[Channel, float]) -> str:
    """Return the colour of a density on a screen, as CSS has it."""
    light = np.array([transmittance(densities.get(c, next(iter(densities.values())))) for c in LAYERS])
    red, green, blue = (int(v) for v in _eight_bits(light))
    return f"#{red:02x}{green:02x}{blue:02x}"


def _eight_bits(light: FloatArray) -> NDArray[np.uint8]:
    """Return light as a screen's numbers, grey without an axis for its only sample."""
    numbers = np.rint(255.0 * SRGB.numbers(light)).astype(np.uint8)
    return numbers[..., 0] if numbers.ndim == 3 and numbers.shape[2] == 1 else numbers
