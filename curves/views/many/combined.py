"""Several strips of one film in words: whether they agree, their common index, and the strip that they join to."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from curves.sensitometry.combining.joining import JoinedStrip
from curves.sensitometry.combining.likeness import other_processes
from curves.sensitometry.combining.overlap import Overlap
from curves.sensitometry.combining.together import CommonIndex, StripShare
from curves.sensitometry.core.quantity import NORMAL, Quantity
from curves.views.words import digits
from curves.views.words.digits import index_alone, interval, show, value
from curves.views.words.wrapping import WIDTH, listed, row, wrapped

_LABEL = 10
"""Width of the labels at the left [characters]."""


def together_text(found: CommonIndex) -> str:
    """Return the common index of several strips: first whether they agree, then what to set, then each strip."""
    lines = []
    for sentence in _agreement_words(found):
        lines += wrapped(sentence)
    lines += ["", *_row("Set", f"{found.nominal:g}. Before rounding {show(found.recommended)}.")]
    lines += _row("Usable", f"{digits.range_of(found.range)}.")
    lines += _row("Sure", f"{' '.join(_sure_words(found))}")
    for kept in found.kept_plans:
        lines += _row("Plan", kept.words)
    lines += ["", *(line for number, share in enumerate(found.strips, start=1) for line in _strip(number, share))]
    lines += ["", *wrapped("For where the scene lands, see each strip, or join the strips to one curve.")]
    return "\n".join(lines) + "\n"


def _sure_words(found: CommonIndex) -> Iterator[str]:
    """Yield the half-width of the common index, and the part of it that more strips would not shrink."""
    yield f"{digits.half_width_stops(found.recommended)} (95 %)."
    if found.shared:
        names = "; ".join(source.name.removeprefix("the ") for source in found.shared)
        yield (
            f"Shared by all strips, and counted once: {names}. Together {_half_width(found.shared_error)}, which"
            " more strips like these do not shrink."
        )
    if found.scatter.value is not None:
        yield f"From strip to strip, beyond the errors: {value(found.scatter, 2)} stops."


def _strip(number: int, share: StripShare) -> list[str]:
    """Return the lines of one strip: its title, its index, its share, and its distance from the others."""
    strip = share.analysis.strip
    if share.weight is None:
        held = {"agrees": ", which agrees", "contradicts": ", which contradicts the others", "not known": "", None: ""}
        why = f": {share.index.why}" if share.index.why else ""
        return _row(str(number), f"{strip.title}: left out; EI {index_alone(share.index)}{held[share.fit]}{why}.")
    of_all = f"{100.0 * share.weight:.0f} % of the common index"
    apart = "" if share.apart.value is None else f"; {_apart_words(share.apart)} than the others"
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


def _agreement_words(found: CommonIndex) -> Iterator[str]:
    """Yield in sentences whether the strips agree, and which strip is off."""
    test, part = found.agreement, found.taking_part
    if test is None:
        yield f"Only one strip shows an index: {part[0].analysis.strip.title}. Nothing is averaged."
    elif not test.contradicts:
        yield (
            f"The {len(part)} strips agree: they lie as far apart as their errors explain (chi-square"
            f" {test.chi_square:.1f}, {test.freedom} degree{_s(test.freedom)} of freedom; {_often(test.chance)} of sets"
            " that agree lie further apart)."
        )
    else:
        yield (
            f"THE STRIPS CONTRADICT EACH OTHER: they lie further apart than their errors explain (chi-square"
            f" {test.chi_square:.1f}, {test.freedom} degree{_s(test.freedom)} of freedom; {_often(test.chance)} of sets"
            " that agree lie as far apart)."
        )
        yield from _odd_words(found)
        yield from _offset_words(found)
        yield (
            "Usual reasons (common practice): a time or a lux reading written down wrong, a lamp or a shutter that was"
            " not the one recorded, another development."
        )
        yield "The common index is widened until it holds what they contradict each other by."
    for share in found.strips:
        if share.fit == "contradicts":
            yield f"{share.analysis.strip.title} contradicts the common index: its own lies {index_alone(share.index)}."
    processes = other_processes([share.analysis.strip for share in found.strips])
    if len(processes) > 1:
        yield f"The records name different processes: {'; '.join(processes)}."


def _odd_words(found: CommonIndex) -> Iterator[str]:
    """Yield the strip that is off."""
    odd, part = found.odd, found.taking_part
    if odd is not None:
        yield f"One alone is off: {odd.analysis.strip.title}, {_apart_words(odd.apart)} than the others together."
    elif len(part) == 2:
        stops = abs(part[1].apart.value or 0.0)
        yield f"Their indexes are {stops:.1f} stops apart, and of two strips nothing tells which is off: a third would."
    else:
        yield "No single strip is off by itself."


def _offset_words(found: CommonIndex) -> Iterator[str]:
    """Yield the exposures that the curves show to be other than stated, or that there are none."""
    there = [each for each in found.offsets if each.is_there]
    for each in there:
        more = each.more if (each.more.value or 0.0) > 0.0 else -each.more
        yield (
            f"Where their curves overlap, {each.strip.title} got {value(more, 2)} stops ({digits.interval(more, 2)})"
            f" {'more' if more is each.more else 'less'} exposure against {each.against.title} than the records state."
        )
    if found.offsets and not there:
        yield (
            "Where their curves overlap, the exposures are as the records state: the curves themselves differ, as"
            " another development or a misread patch makes them."
        )


def _apart_words(apart: Quantity) -> str:
    """Return a distance between indexes in words: "0.4 stops faster (0.1 to 0.7)"."""
    found = apart.value or 0.0
    size = apart if found >= 0.0 else -apart
    return f"{value(size, 2)} stops {'faster' if found >= 0.0 else 'slower'} ({digits.interval(size, 2)})"


def _often(chance: float) -> str:
    """Return a chance as "3 in 100", or less."""
    per_cent = 100.0 * chance
    if per_cent >= 1.0:
        return f"{per_cent:.0f} in 100"
    return "under 1 in 1000" if chance < 1e-3 else f"{1000.0 * chance:.0f} in 1000"


def _s(count: int) -> str:
    return "" if count == 1 else "s"


def joining_text(joined: JoinedStrip) -> str:
    """Return a joined strip in words: each exposure with the log H it covers, the overlaps, the remarks."""
    strip = joined.strip
    span = f"log H {strip.log_h.min():.2f} to {strip.log_h.max():.2f} ({strip.log_h_unit})"
    lines = [*wrapped(strip.title), *wrapped(f"{strip.position.size} readings, {span}."), ""]
    lines += [line for sentence in _exposures(joined) for line in sentence]
    lines += [line for each in joined.overlaps for line in wrapped(_overlap_words(each))]
    return "\n".join([*lines, *listed("Remarks:", joined.remarks)]) + "\n"


def _exposures(joined: JoinedStrip) -> Iterator[list[str]]:
    """Yield a row for each exposure: by how much it was moved from where its record has it."""
    for name, moved in zip(joined.names, joined.moved, strict=True):
        if moved.value is None:
            yield row(name, f"laid where its curve fits: {moved.why}")
            continue
        yield row(name, f"{round(moved.value, 2) + 0.0:+.2f} stops from its record ({interval(moved, 2)})")
    yield [""]


def _overlap_words(each: Overlap) -> str:
    """Return in a sentence or two the offset that the curves of two strips show, beside that of their records."""
    (thin, dense), found = each.density, each.found
    where = f"From density {thin:.2f} to {dense:.2f} the curves of {each.first} and {each.second}"
    if each.unstated:
        half = found.half_width
        known = "" if half is None else f", to {half:.2f} stops"
        return f"{where} are laid on each other{known}. Their records state nothing to hold that against."
    verdict = "contradicts" if each.contradicts else "agrees with"
    ends = f" ({interval(found, 2)})" if interval(found, 2) else ""
    return f"{where} show an offset of {value(found, 2)} stops{ends} beyond that of the records; this {verdict} them."
