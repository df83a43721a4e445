"""The method section of a strip's page: how the numbers were found, and what they assume."""

from __future__ import annotations

from curves.sensitometry.analysis.index_rule import GREY_DENSE, GREY_THIN
from curves.sensitometry.core.choices import Choices
from curves.sensitometry.core.units import STOP, DensityKind
from curves.sensitometry.uncertainty.results import Analysis
from curves.views.page.tables import esc
from curves.views.words.cautions import CHEMISTRY
from curves.views.words.glossary import find
from curves.views.words.meters import constant_words

_KIND_TERMS: dict[DensityKind, str] = {
    "status A": "status A",
    "status M": "status M",
    "visual": "visual density",
    "scan": "scan density",
}


def method(analysis: Analysis, choices: Choices) -> str:
    """Return the method and its assumptions in words, as HTML.

    Args:
        analysis: results of the strip.
        choices: the choices that the results rest on.
    """
    estimated = any(found.estimated for found in analysis.channels.values())
    paragraphs = [
        *(_quoted(name) for name in ("curve", "flag", "interval", "bound")),
        ("Exposure", _exposure(analysis)),
        ("Working EI", _placement(analysis, choices)),
        *([_quoted("channel")] if estimated else []),
    ]
    kind = analysis.strip.density
    return "".join(
        f"<p><b>{esc(name)}.</b> {esc(text)}</p>"
        for name, text in (*paragraphs, _quoted(_KIND_TERMS[kind]), ("Safety", CHEMISTRY))
    )


def _quoted(name: str) -> tuple[str, str]:
    """Return a term of the glossary as a paragraph: its name, and its definition, way of finding and remark."""
    term = find(name)
    return _capital(term.name), " ".join(filter(None, [term.what, term.found, term.remark]))


def _exposure(analysis: Analysis) -> str:
    strip = analysis.strip
    if strip.log_h_unit == "lux-seconds":
        return (
            "Log H is in lux-seconds, from the given light and the wedge. Mid-grey metered at an index EI is assumed to"
            f" receive H = k/EI, {constant_words(analysis)}."
        )
    if strip.exposure.ei is None:
        return (
            "Log H is relative: nothing states what it counts from, so there is neither an index nor a standard's"
            " speed. Densities, contrast, ranges and distances along the axis do not depend on it."
        )
    return (
        "Log H counts from mid-grey as the meter placed it at EI"
        f" {strip.exposure.ei:g}: the working index rests on that meter and that index, not on lux-seconds. The speeds"
        f" of standards, and the middle, also rest on H = k/EI, {constant_words(analysis)}."
    )


def _placement(analysis: Analysis, choices: Choices) -> str:
    shadow = f"textured shadow {abs(choices.shadow):.2f} below it ({abs(choices.shadow) / STOP:.1f} stops)"
    if analysis.strip.kind == "negative":
        return (
            "The speed point is where density is 0.10 above base plus fog. The index is the speed of ISO 6 from this"
            " point, whatever the meter's k. A scene is assumed to have its"
            f" {shadow.replace('it', 'mid-grey', 1)}: common practice."
        )
    return (
        f"A scene is assumed to have its white {choices.white:.2f} log H above mid-grey (90 % against 18 %) and its"
        f" {shadow}: common practice. Highlight detail ends at net density {choices.detail_ends:.2f} (ISO 6846), shadow"
        f" texture at {100 * choices.texture_ends:.0f} % of the density range (our own choice). The rule for T and S is"
        f" that of ISO 2240, from memory. Whites can be judged fully up to Dmin {choices.clear_dmin:.2f} and not at all"
        f" from {choices.dull_dmin:.2f} on, nor on a film that holds a stop less than the scene: by this share"
        " highlight and middle are mixed. The index is the median of this mix, of the lowest index that keeps the white"
        " and of the highest that keeps the shadow, limited so that mid-grey has a net density from"
        f" {GREY_THIN[0]:.2f} to {GREY_DENSE[0]:.2f}, on a film of short range from {100 * GREY_THIN[1]:.0f} to"
        f" {100 * GREY_DENSE[1]:.0f} % of the range: all this is our own choice."
    )


def _capital(word: str) -> str:
    return word[:1].upper() + word[1:]
