"""Two strips in the terminal: how they differ, worst news first."""

from __future__ import annotations

from collections.abc import Iterable

from curves.sensitometry.comparison.differences import NumberDifference, StripComparison, Tolerances, Verdict
from curves.sensitometry.comparison.numbers import OPPOSITES, Scale
from curves.sensitometry.measures.table import SPEEDS
from curves.views.words.digits import decimals, interval, value
from curves.views.words.wrapping import wrapped

HEADINGS: dict[Verdict, str] = {
    "differs": "These differ",
    "open": "It cannot be told yet whether these differ",
    "slight": "These differ by less than matters",
    "alike": "These do not differ by as much as matters",
    "not known": "These are not known on both strips",
}
UNITS: dict[Scale, str] = {"stops": "stops", "density": "density", "gradient": "gradient"}
_LEADING = {"ei", *(rule.key for rule in SPEEDS), "dmin", "dmax", "gamma", "T", "speed"}
"""Numbers shown in full where it cannot be told whether they differ; the others are named."""

_THIRD = 1.0 / 3.0


def comparison_text(found: StripComparison, tolerances: Tolerances, *, full: bool = False) -> str:
    """Return a comparison as text: the numbers that differ, or may, and what stands behind their intervals.

    Args:
        found: the comparison.
        tolerances: the differences that do not matter.
        full: True to show every difference with its interval.
    """
    lines = [*wrapped(f"1: {found.first.strip.title}"), *wrapped(f"2: {found.second.strip.title}")]
    for verdict, heading in HEADINGS.items():
        some = [one for one in found.differences if one.verdict == verdict]
        shown = [one for one in some if full or _in_full(one)]
        named = [one for one in some if one not in shown]
        if not some:
            continue
        lines += ["", *wrapped(heading + (f" ({matters(tolerances)}):" if verdict == "alike" else ":"))]
        lines += [line for one in shown for line in _difference(one)]
        if named:
            lines += wrapped(f"{'also ' if shown else ''}{_by_name(named)}", indent=2)
    return "\n".join([*lines, "", *(line for note in comparison_notes(found) for line in wrapped(note))]) + "\n"


def _in_full(one: NumberDifference) -> bool:
    """Return True if a difference is shown with its interval: it is there, or a leading number cannot be told yet."""
    return one.verdict in ("differs", "slight") or (one.verdict == "open" and one.first.key[0] in _LEADING)


def matters(tolerances: Tolerances) -> str:
    """Return the differences that do not matter, in words."""
    stops = "a third of a stop" if abs(tolerances.stops - _THIRD) < 1e-9 else f"{tolerances.stops:g} stops"
    return f"{stops}, {tolerances.density:g} density, {tolerances.gradient:g} gradient"


def number_name(one: NumberDifference) -> str:
    """Return the name of a number with its channel."""
    channel = one.first.key[1]
    return one.first.label if channel is None else f"{one.first.label}, {channel}"


def difference_words(one: NumberDifference) -> str:
    """Return a difference in words: "1.1 stops slower (0.7 to 1.4)", "over 0.3 stops faster", "not known"."""
    found, unit = one.difference, UNITS[one.first.scale] + " "
    if one.first.scale == "gradient":
        unit = ""
    if found.value is None:
        if one.verdict == "not known" or found.bound is None:
            return "not known"
        side, end = found.bound
        word = one.first.more if side == ">" else OPPOSITES[one.first.more]
        return f"over {abs(end):.2g} {unit}{word}"
    word = one.first.more if found.value >= 0 else OPPOSITES[one.first.more]
    unit = "" if one.first.scale == "density" else unit
    size = found if found.value >= 0 else -found
    ends = interval(size)
    return f"{value(size)} {unit}{word}" + (f" ({ends})" if ends else "")


def remedy_words(one: NumberDifference) -> str:
    """Return the readings or strips that would tell whether a number differs; an empty text where that is told."""
    if one.verdict != "open":
        return ""
    ways = []
    if one.readings is not None:
        ways.append(f"{one.readings} readings of everything")
    if one.strips is not None:
        ways.append(f"{one.strips} strips of each")
    if not ways:
        return "more readings or strips alone would not tell"
    return f"{' or '.join(ways)} would tell"


def comparison_notes(found: StripComparison) -> Iterable[str]:
    """Give what an interval of a comparison holds and what it does not, each a sentence or two."""
    for strip in (found.first.strip, found.second.strip):
        if strip.match is not None:
            yield f"Densities of {strip.title} are a scan's, {strip.match.sentence}."
    if found.shared:
        yield f"Shared by both strips, so that it cancels: {', '.join(found.shared)}."
    if found.again > 0.0:
        yield (
            f"One light exposed both: one exposure against the other is taken to be sure to {found.again:.2f} stops"
            " (standard uncertainty, assumed)."
        )
    yield (
        "Not in the intervals: how much a process differs from one strip to the next. Two strips of one process, from"
        " two runs, show it."
    )


def _difference(one: NumberDifference) -> list[str]:
    """Return the lines of one difference."""
    first, second = one.first.shown, one.second.shown
    places = min(decimals(first), decimals(second))
    both = f"{value(first, places)} → {value(second, places)}"
    told = difference_words(one) + (f"; {remedy}" if (remedy := remedy_words(one)) else "")
    return wrapped(f"{number_name(one):<21} {both:<14} {told}", indent=2, hanging=39)


def _by_name(some: Iterable[NumberDifference]) -> str:
    """Return the names of numbers, each once with its channels."""
    channels: dict[str, list[str]] = {}
    for one in some:
        channels.setdefault(one.first.label, []).extend([one.first.key[1]] if one.first.key[1] else [])
    return "; ".join(f"{label} ({', '.join(of)})" if of else label for label, of in channels.items())
