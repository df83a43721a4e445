"""How the numbers of a page were found, what they assume, and what they do not say."""

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
    " safety data sheet, follow the local rules for disposal, and leave to a licensed practice what calls for one."
)


def method(analysis: Analysis, choices: Choices) -> str:
    """Return the method and its assumptions in plain words, as HTML.

    Args:
        analysis: what was found.
        choices: what it rests on.
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
    """Return a term of the glossary as a paragraph: its name, and what it is, how it is found and what it is not."""
    term = find(name)
    return _capital(term.name), " ".join(filter(None, [term.what, term.found, term.is_not]))


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
            " that much, 0.08 of mid-grey's exposure (ISO 6 and ISO 12232 together), whatever k. A scene is taken to"
            f" have its {shadow.replace('it', 'mid-grey', 1)}: common practice."
        )
    return (
        f"A scene is taken to have its white {choices.white:.2f} log H above mid-grey (90 % against 18 %) and its"
        f" {shadow}: common practice. A film counts as clear up to Dmin {choices.clear_dmin:.2f} and veil"
        f" {choices.clear_veil:.2f}, and shadow texture ends at {100 * choices.texture_ends:.0f} % of the density"
        f" range: our own choices. Highlight detail ends at net density {choices.detail_ends:.2f} (ISO 6846)."
        " The rule for T and S is that of ISO 2240, from memory."
    )


def _capital(word: str) -> str:
    return word[:1].upper() + word[1:]
