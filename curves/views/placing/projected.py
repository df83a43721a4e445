"""The scene as projected: the colours of densities on a screen by a stated model, for the look only.

The model: each layer's density holds back its own part of the spectrum evenly: blue up to 490 nm, green from there to
580 nm, red beyond. The light is CIE D65, the eye the CIE 1931 standard observer, the screen sRGB (IEC 61966-2-1).
What a screen cannot show is clipped. Dyes overlap, lamps differ and eyes adapt: nothing is measured on these colours.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from curves.sensitometry.core.units import LAYERS, FloatArray, transmittance
from curves.sensitometry.uncertainty.results import Analysis
from curves.views.page.tables import esc

MODEL = (
    "For the look only. Model: each layer's density holds back its own part of the spectrum evenly (blue up to 490 nm,"
    " green up to 580 nm, red beyond), in light CIE D65, seen by the CIE 1931 standard observer and shown as sRGB"
    " (IEC 61966-2-1); what a screen cannot show is clipped."
)
"""The model of colour in words, as a page states it."""

BANDS_TO_SCREEN = (
    (1.2210, -0.2229, 0.0019),
    (0.0405, 0.9992, -0.0397),
    (-0.0296, -0.0324, 1.0620),
)
"""Linear sRGB, in rows, of full light in the red, the green and the blue part of the spectrum: of the three together,
the light of the lamp, 1, 1, 1 [unitless]."""

PATCHES = (1.0, 2.0 / 3.0, 1.0 / 3.0)
"""Places of the patches between mid-grey and either end of the scene, as a share of the way [unitless]."""


def screen_colour(densities: FloatArray) -> str:
    """Return the colour of a patch of film on a screen, as six hexadecimal digits after a #.

    Args:
        densities: of the red, the green and the blue layer, (3,), above those of what is to look white [density].
    """
    linear = np.clip(np.array(BANDS_TO_SCREEN) @ transmittance(densities), 0.0, 1.0)
    encoded = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1.0 / 2.4) - 0.055)
    return "#" + "".join(f"{round(255.0 * float(level)):02x}" for level in encoded)


def projected_data(analysis: Analysis) -> dict[str, Any] | None:
    """Return the numbers of the patches for the page's script; None for a negative.

    Args:
        analysis: results of the strip.
    """
    if analysis.strip.kind != "reversal":
        return None
    colour = all(layer in analysis.channels for layer in LAYERS)
    shares = [*(-share for share in PATCHES), 0.0, *reversed(PATCHES)]
    channels = LAYERS if colour else (analysis.working_ei.channel,) * len(LAYERS)
    return {"channels": channels, "shares": shares, "matrix": BANDS_TO_SCREEN}


def projected_patches() -> str:
    """Return the table of patches, as HTML; the script fills in their colours."""
    heads = ["", "", "shadow", *[""] * (len(PATCHES) - 1), "grey", *[""] * (len(PATCHES) - 1), "white"]
    titles = "".join(f'<th scope="col">{head}</th>' if head else "<td></td>" for head in heads)
    rows = "".join(
        f'<tr data-white="{white}"><th scope="row">{name}</th><td><i style="background:#ffffff"></i></td>'
        + "<td><i></i></td>" * (2 * len(PATCHES) + 1)
        + "</tr>"
        for white, name in (("gate", "open gate is white"), ("dmin", "Dmin is white"))
    )
    return (
        '<table class="projected"><caption>As projected, from shadow to white</caption>'
        f"<thead><tr>{titles}</tr></thead><tbody>{rows}</tbody></table>"
        f'<details class="model"><summary>For the look only</summary><p>{esc(MODEL)}</p></details>'
    )
