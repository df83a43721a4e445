"""The method section of a strip's page: how the numbers were found, and what they assume."""

from __future__ import annotations

from curves.sensitometry.core.choices import Choices
from curves.sensitometry.core.units import STOP, DensityKind
from curves.sensitometry.uncertainty.results import Analysis
from curves.views.page.tables import esc
from curves.views.words.glossary import find

_KIND_TERMS: dict[DensityKind, str] = {
    "status A": "status A",
    "status M": "status M",
    "visual": "visual density",
    "scan": "scan density",
}

CAUTION = (
    "Processing chemistry can burn, sensitise and poison. Wear gloves and eye protection, ventilate, read the maker's"
    " safety data sheet, follow the local rules for disposal, and leave what needs a licence to those who hold one."
)


def method(analysis: Analysis, choices: Choices) -> str:
    """Return the method and its assumptions in words, as HTML.

    Args:
        analysis: results of the strip.
        choices: the choices that the results rest on.
    """
    estimated = any(found.estimated for found in analysis.channels.values())
    paragraphs = [
        *(_quoted(name) for name in ("curve", "flag", "interval", "bound")),
        ("Exposure", _exposure(analysis, choices)),
        ("Working EI", _placement(analysis, choices)),
        *([_quoted("channel")] if estimated else []),
    ]
    kind = analysis.strip.density
    return "".join(
        f"<p><b>{esc(name)}.</b> {esc(text)}</p>"
        for name, text in (*paragraphs, _quoted(_KIND_TERMS[kind]), ("Safety", CAUTION))
    )


def _quoted(name: str) -> tuple[str, str]:
    """Return a term of the glossary as a paragraph: its name, and its definition, way of finding and remark."""
    term = find(name)
    return _capital(term.name), " ".join(filter(None, [term.what, term.found, term.remark]))


def _exposure(analysis: Analysis, choices: Choices) -> str:
    strip = analysis.strip
    if strip.log_h_unit == "lux-seconds":
        return (
            "Log H is in lux-seconds, from the given light and the wedge. Mid-grey metered at an index EI is assumed to"
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
            "The speed point is where density is 0.10 above base plus fog. The meter is set so that the shadows get"
            " the speed point's exposure, 0.08 of mid-grey's (ISO 6 and ISO 12232 together), whatever k. A scene is"
            f" assumed to have its {shadow.replace('it', 'mid-grey', 1)}: common practice."
        )
    return (
        f"A scene is assumed to have its white {choices.white:.2f} log H above mid-grey (90 % against 18 %) and its"
        f" {shadow}: common practice. A film counts as clear up to Dmin {choices.clear_dmin:.2f} and veil"
        f" {choices.clear_veil:.2f}, and shadow texture ends at {100 * choices.texture_ends:.0f} % of the density"
        f" range: our own choices. Highlight detail ends at net density {choices.detail_ends:.2f} (ISO 6846)."
        " The rule for T and S is that of ISO 2240, from memory."
    )


def _capital(word: str) -> str:
    return word[:1].upper() + word[1:]
