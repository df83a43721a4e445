"""The agreement of several strips in words: whether they agree, which of them is off, and the usual reasons."""

from __future__ import annotations

from collections.abc import Iterator

from curves.sensitometry.combining.likeness import other_processes
from curves.sensitometry.combining.together import CommonIndex
from curves.sensitometry.core.quantity import Quantity
from curves.views.words import digits
from curves.views.words.digits import value


def agreement_words(found: CommonIndex) -> Iterator[str]:
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
            yield f"{share.analysis.strip.title} contradicts the common index: its own lies {value(share.index)}."
    processes = other_processes([share.analysis.strip for share in found.strips])
    if len(processes) > 1:
        yield f"The records name different processes: {'; '.join(processes)}."


def _odd_words(found: CommonIndex) -> Iterator[str]:
    """Yield the strip that is off."""
    odd, part = found.odd, found.taking_part
    if odd is not None:
        yield f"One alone is off: {odd.analysis.strip.title}, {apart_words(odd.apart)} than the others together."
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


def apart_words(apart: Quantity) -> str:
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
