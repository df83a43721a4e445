"""A joined strip in the terminal: how its exposures lie to each other, and what to know of them."""

from __future__ import annotations

from collections.abc import Iterator

from curves.sensitometry.combining.joining import JoinedStrip
from curves.sensitometry.combining.overlap import Overlap
from curves.views.words.digits import interval, value
from curves.views.words.wrapping import listed, row, wrapped


def joining_text(joined: JoinedStrip) -> str:
    """Return a joined strip in words: each exposure with the log H it covers, the overlaps, the remarks."""
    strip = joined.strip
    span = f"log H {strip.log_h.min():.2f} to {strip.log_h.max():.2f} ({strip.log_h_unit})"
    lines = [*wrapped(strip.title), *wrapped(f"{strip.position.size} readings, {span}."), ""]
    lines += [line for sentence in _exposures(joined) for line in sentence]
    lines += [line for each in joined.overlaps for line in wrapped(overlap_words(each))]
    return "\n".join([*lines, *listed("Remarks:", joined.remarks)]) + "\n"


def _exposures(joined: JoinedStrip) -> Iterator[list[str]]:
    """Yield a row for each exposure: by how much it was moved from where its record has it."""
    for name, moved in zip(joined.names, joined.moved, strict=True):
        if moved.value is None:
            yield row(name, f"laid where its curve fits: {moved.why}")
            continue
        yield row(name, f"{round(moved.value, 2) + 0.0:+.2f} stops from its record ({interval(moved, 2)})")
    yield [""]


def overlap_words(each: Overlap) -> str:
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
