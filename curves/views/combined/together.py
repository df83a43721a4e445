"""Several strips of one film in the terminal: whether they agree, their common index, and the share of each."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from curves.sensitometry.combining.together import NORMAL, CommonIndex, StripShare
from curves.views.combined.agreement import agreement_words, apart_words
from curves.views.words import digits
from curves.views.words.digits import show, value
from curves.views.words.wrapping import WIDTH, wrapped

_LABEL = 10
"""Width of the labels at the left [characters]."""


def together_text(found: CommonIndex) -> str:
    """Return the common index of several strips: first whether they agree, then what to set, then each strip."""
    lines = []
    for sentence in agreement_words(found):
        lines += wrapped(sentence)
    lines += ["", *_row("Set", f"{found.nominal:g}. Before rounding {show(found.recommended)}.")]
    lines += _row("Usable", f"{digits.range_of(found.range)}.")
    lines += _row("Sure", f"{' '.join(sure_words(found))}")
    for kept in found.kept_plans:
        lines += _row("Plan", kept.words)
    lines += ["", *(line for number, share in enumerate(found.strips, start=1) for line in _strip(number, share))]
    lines += ["", *wrapped("For where the scene lands, see each strip, or join the strips to one curve.")]
    return "\n".join(lines) + "\n"


def sure_words(found: CommonIndex) -> Iterator[str]:
    """Yield the half-width of the common index, and the part of it that more strips would not shrink."""
    yield f"{digits.half_width_stops(found.recommended)} (95 %)."
    if found.shared:
        names = ", ".join(source.name.removeprefix("the ") for source in found.shared)
        yield (
            f"Shared by all strips, and counted once: {names}; {_half_width(found.shared_error)}, which more strips"
            " like these do not shrink."
        )
    if found.scatter.value is not None:
        yield f"From strip to strip, beyond the errors: {value(found.scatter, 2)} stops."


def _strip(number: int, share: StripShare) -> list[str]:
    """Return the lines of one strip: its title, its index, its share, and its distance from the others."""
    strip = share.analysis.strip
    if share.weight is None:
        held = {"agrees": ", which agrees", "contradicts": ", which contradicts the others", "not known": "", None: ""}
        why = f": {share.index.why}" if share.index.why else ""
        return _row(str(number), f"{strip.title}: left out; EI {value(share.index)}{held[share.fit]}{why}.")
    of_all = f"{100.0 * share.weight:.0f} % of the common index"
    apart = "" if share.apart.value is None else f"; {apart_words(share.apart)} than the others"
    return _row(str(number), f"{strip.title}: EI {digits.value_and_interval(share.index)}, {of_all}{apart}.")


def _half_width(u: float) -> str:
    """Return half the width of a 95 % interval in words, from a standard uncertainty [stops]."""
    half = NORMAL * u
    return "under 0.05 stops" if half < 0.05 else f"±{half:.1f} stops"


def _row(label: str, text: str) -> list[str]:
    """Return a label and a text beside it, wrapped."""
    return textwrap.wrap(
        text, WIDTH, initial_indent=f"{label:<{_LABEL}}", subsequent_indent=" " * _LABEL, break_on_hyphens=False
    )
