"""How the numbers of a page were found, what they assume, and what they do not say."""

from __future__ import annotations

from curves.sensitometry.choices import Choices
from curves.sensitometry.findings import Analysis
from curves.sensitometry.units import STOP
from curves.views.tables import esc

CAUTION = (
    "Processing chemistry can burn, sensitise and poison. Wear gloves and eye protection, ventilate, read the maker's"
    " safety data sheet, follow the local rules for disposal, and leave to a licensed practice what calls for one."
)


def method(analysis: Analysis, choices: Choices) -> str:
    """Return the method and its assumptions in plain words, as HTML.

    Args:
        analysis: what was found.
        choices: what it rests on.
    """
    draws = max(len(found.curve.draws) for found in analysis.channels.values())
    paragraphs = [
        (
            "Curve",
            "Each channel is one smooth curve that never turns back, drawn through all its steps; how smooth, the"
            " readings decide. A step far from the curve of the others is named and set aside, never dropped in"
            " silence. Nothing is extrapolated: what lies off the strip is given as a bound.",
        ),
        (
            "Interval",
            f"Every interval is 95 %, from {draws} curves that the same readings allow. So far it covers the"
            " scatter of the readings only, not wedge, light or meter.",
        ),
        ("Exposure", _exposure(analysis, choices)),
        ("Working EI", _placement(analysis, choices)),
    ]
    if any(found.estimated for found in analysis.channels.values()):
        paragraphs.append(
            (
                "Visual density",
                "It was not read but mixed from the three layers: 33 % red, 65.5 % green and 1.5 % blue light. On the"
                " dyes of five transparency films that is right to 0.04 density (rms).",
            )
        )
    paragraphs += [("Densities", text) for text in _densities(analysis)]
    paragraphs.append(("Safety", CAUTION))
    return "".join(f"<p><b>{name}.</b> {esc(text)}</p>" for name, text in paragraphs)


def _exposure(analysis: Analysis, choices: Choices) -> str:
    strip = analysis.strip
    if strip.log_h_unit == "lux-seconds":
        return (
            "Log H is in lux-seconds, from the light given and the wedge. Mid-grey metered at an index EI is taken to"
            f" receive H = k/EI with k = {choices.metered_exposure:.4g} lux-seconds"
            f" ({choices.metered_exposure_source})."
        )
    return (
        "Log H counts from mid-grey as the meter placed it at EI"
        f" {strip.exposure.ei:g}: the working index rests on that meter and that index, not on lux-seconds."
    )


def _placement(analysis: Analysis, choices: Choices) -> str:
    shadow = f"textured shadow {abs(choices.shadow):.2f} below it ({abs(choices.shadow) / STOP:.1f} stops)"
    if analysis.strip.kind == "negative":
        return (
            "The speed point is where density is 0.10 above base plus fog; the meter is set so that the shadows get"
            f" that much. A scene is taken to have its {shadow.replace('it', 'mid-grey', 1)}: common practice."
        )
    return (
        f"A scene is taken to have its white {choices.white:.2f} log H above mid-grey (90 % against 18 %) and its"
        f" {shadow}: common practice. A film counts as clear up to Dmin {choices.clear_dmin:.2f} and veil"
        f" {choices.clear_veil:.2f}, and shadow texture ends at {100 * choices.texture_ends:.0f} % of the density"
        f" range: our own choices. Highlight detail ends at net density {choices.detail_ends:.2f} (ISO 6846)."
        " The rule for T and S is that of ISO 2240, from memory."
    )


def _densities(analysis: Analysis) -> list[str]:
    kind = analysis.strip.density
    if kind == "scan":
        return [
            "A scanner's own densities compare strips read on the same scanner; they are not the densities that the"
            " standards ask for, and neither are contrast and speed taken from them."
        ]
    if kind == "status M" and analysis.strip.kind == "reversal":
        return [
            "Status M sees dyes as printing paper does; for a picture that is looked at, status A is the kind to read."
        ]
    return []
