"""Remarks on strips that were joined: where curves and records disagree, and what differs besides."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from curves.sensitometry.combining.likeness import other_processes
from curves.sensitometry.combining.overlap import LEAST_SPAN, Overlap
from curves.sensitometry.core.streams import identity
from curves.sensitometry.strip.strip import Strip
from curves.sensitometry.uncertainty.sources import sources_of

_LONGER = 4.0
"""Ratio of two exposure times from which reciprocity is worth a word: our own choice [unitless]."""


def joining_remarks(strips: Sequence[Strip], names: Sequence[str], overlaps: Sequence[Overlap]) -> Iterator[str]:
    """Yield the remarks on joined strips, each a sentence or two, the gravest first.

    Args:
        strips: the strips.
        names: what their exposures are called.
        overlaps: the overlaps that hold them together.
    """
    yield from (_contradiction(each) for each in overlaps if each.contradicts)
    yield from (_bend(each) for each in overlaps if each.bends)
    if len(overlaps) < len(strips) - 1:
        yield (
            f"Not all strips share {LEAST_SPAN:.2f} of density where the curve is steep: those that do not lie where"
            " their records have them, and nothing checks it."
        )
    wedges = {identity(strip.wedge.density) for strip in strips if strip.wedge is not None}
    if len(wedges) > 1:
        yield "They were exposed through different wedges: what one wedge is off by, the other is not."
    if len({strip.reader for strip in strips}) > 1:
        yield "They were read on different readers: a difference of their zeros looks like one of exposure."
    if matched := {strip.match.sentence for strip in strips if strip.match is not None}:
        yield (
            f"Densities of a scan were {'; '.join(sorted(matched))}. The joined strip keeps what this leaves open as an"
            " error of the reader's zero."
        )
    if len(processes := other_processes(strips)) > 1:
        yield f"Their records name different processes: {'; '.join(processes)}."
    yield from _times(strips, names)
    assumed = dict.fromkeys(s.name for strip in strips for s in sources_of(strip).values() if s.assumed)
    if assumed:
        yield f"Sizes of errors that a record does not give were assumed: {'; '.join(assumed)}."


def _contradiction(each: Overlap) -> str:
    """Return the disagreement of curves and records in words, with its usual reasons."""
    stops, apart = each.found, each.discrepancy
    value, half = stops.value or 0.0, 0.5 * ((apart.high or 0.0) - (apart.low or 0.0))
    more = "more" if value > 0.0 else "less"
    return (
        f"The curves contradict the records: {each.second} got {abs(value):.2f} stops {more} than its record"
        f" has it, against {each.first}; the stated errors allow {half:.2f}. The curves are followed, and the"
        " exposures count as less sure. Usual reasons (common practice): a time or a light written down wrong, a lamp"
        " or a shutter that was not as marked, an exposure so long that the film lost speed, another development."
    )


def _bend(each: Overlap) -> str:
    """Return a difference of the two curves' shapes in words."""
    return (
        f"Where {each.first} and {each.second} overlap their curves differ in shape, by"
        f" {abs(each.bend.value or 0.0):.2f} stops from the dense to the thin half: they were hardly developed alike,"
        " or one was read wrong. One curve of both means little there."
    )


def _times(strips: Sequence[Strip], names: Sequence[str]) -> Iterator[str]:
    """Yield a remark on exposure times that lie far apart."""
    known = {name: s.exposure.seconds for name, s in zip(names, strips, strict=True) if s.exposure.seconds is not None}
    if known and max(known.values()) > _LONGER * min(known.values()):
        listed = ", ".join(f"{name} {seconds:g} s" for name, seconds in known.items())
        yield f"Their exposure times lie far apart ({listed}): what the film loses at long times is in the offset."
