"""A ruler of exposure indexes, as HTML: each criterion with its interval, and the usable range."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import STOP, degrees, exact_ei, nominal_speed, two_digits
from curves.sensitometry.uncertainty.results import WorkingEI
from curves.views.page.tables import esc
from curves.views.words.meters import basis_name

_MARGIN = 1.5 * STOP / 3
_MOST_NAMED = 15
"""Most usual numbers that are all written out; a narrow screen shows every third only."""

_ROOM = 14.0
"""Part of the length that a number beside a mark needs on a phone [per cent]."""


def ei_scale(ei: WorkingEI) -> str:
    """Return the ruler; an empty text where no index is known.

    The ruler repeats the table of criteria for the eye, so it is hidden from screen readers.
    """
    known = [x for q in (ei.recommended, *ei.range, *(c.ei for c in ei.criteria.values())) for x in _numbers(q)]
    if not known:
        return ""
    ruler = _Ruler(math.log10(min(known)) - _MARGIN, math.log10(max(known)) + _MARGIN)
    rows = []
    low, high = (end.value for end in ei.range)
    if ei.shortfall is None and (low is not None or high is not None):
        start = 0.0 if low is None else ruler.at(low)
        end = 100.0 if high is None else ruler.at(high)
        ends = ("" if low is not None else " open-low") + ("" if high is not None else " open-high")
        bar = f'{_fade(ruler, ei)}<i class="usable{ends}" style="left:{start:.2f}%;width:{end - start:.2f}%"></i>'
        named = [_end(x, at, before) for x, at, before in ((low, start, True), (high, end, False)) if x is not None]
        rows.append(("usable", bar + "".join(named)))
    rows += [(name, _mark(ruler, c.ei, "dot")) for name, c in ei.criteria.items()]
    if ei.nominal is not None:
        rows.append((f"set, by {basis_name(ei.basis)}", _set(ei.nominal, ruler.at(float(exact_ei(ei.nominal))))))
    tracks = "".join(
        f'<div class="name">{esc(name)}</div><div class="track">{"".join(ruler.lines())}{marks}</div>'
        for name, marks in rows
    )
    return (
        f'<div class="ruler" aria-hidden="true">{tracks}<div class="name">EI</div>'
        f'<div class="numbers">{"".join(ruler.numbers())}</div>'
        '<div class="name"></div>'
        '<div class="sense"><span>← more exposure</span><span>less exposure →</span></div></div>'
    )


def _fade(ruler: _Ruler, ei: WorkingEI) -> str:
    """Return the colour of the usable range: it fades over the interval of each end; an open end does not fade."""
    low, high = (
        (ruler.at(q.low), ruler.at(q.high)) if q.low is not None and q.high is not None else None for q in ei.range
    )
    outer, inner = low or ((0.0, 0.0) if ei.range[0].value is None else (ruler.at(ei.range[0].value),) * 2)
    last, end = high or ((100.0, 100.0) if ei.range[1].value is None else (ruler.at(ei.range[1].value),) * 2)
    if inner > last:
        # Two intervals that overlap: nowhere is the range sure.
        inner = last = 0.5 * (inner + last)
    width = max(end - outer, 0.01)
    sure, unsure = (100.0 * (at - outer) / width for at in (inner, last))
    return (
        f'<i class="fade" style="left:{outer:.2f}%;width:{width:.2f}%;--sure:{sure:.1f}%;--unsure:{unsure:.1f}%"></i>'
    )


def _end(ei: float, at: float, before: bool) -> str:
    """Return the number at an end of the usable range, outside the bar where there is room for it.

    Args:
        ei: the index, as it is [unitless].
        at: its place [per cent of the length].
        before: True at the low end.
    """
    outside = at > _ROOM if before else at < 100.0 - _ROOM
    return f'<b class="end {"left" if before == outside else "right"}" style="left:{at:.2f}%">{two_digits(ei)}</b>'


def _set(nominal: float, at: float) -> str:
    side = "left" if at > 100.0 - _ROOM else "right"
    return f'<i class="set" style="left:{at:.2f}%"></i><b class="{side}" style="left:{at:.2f}%">{nominal:g}</b>'


@dataclass(frozen=True)
class _Ruler:
    """A part of the logarithmic scale, from ``low`` to ``high`` [log10 EI]."""

    low: float
    high: float

    def at(self, ei: float) -> float:
        """Return the place of an index [per cent of the length]."""
        return min(max(100.0 * (math.log10(ei) - self.low) / (self.high - self.low), 0.0), 100.0)

    def marks(self) -> list[tuple[float, str]]:
        """Return the usual numbers on the ruler with the class of each: "named", "fine" (where there is room) or ""."""
        every = range(degrees(10.0**self.low) + 1, degrees(10.0**self.high) + 1)
        fine = "fine" if len(every) <= _MOST_NAMED else ""
        numbers = [(nominal_speed(10.0 ** ((n - 1) / 10)), fine if n % 3 else "named") for n in every]
        return [(ei, how) for ei, how in numbers if self.low <= math.log10(ei) <= self.high]

    def lines(self) -> Iterator[str]:
        """Yield a thin line for each usual number, as HTML."""
        for ei, how in self.marks():
            yield f'<s class="{how}" style="left:{self.at(ei):.2f}%"></s>'

    def numbers(self) -> Iterator[str]:
        """Yield the usual numbers that are written out, as HTML."""
        for ei, how in self.marks():
            if how:
                yield f'<span class="{how}" style="left:{self.at(ei):.2f}%">{ei:g}</span>'


def _numbers(q: Quantity) -> list[float]:
    found = [x for x in (q.low, q.value, q.high) if x is not None and x > 0]
    if not found and q.bound is not None and q.bound[1] > 0:
        found = [q.bound[1]]
    return found


def _mark(ruler: _Ruler, q: Quantity, shape: str) -> str:
    """Return a dot with its interval, or for a bound the part of the ruler in which the index must lie."""
    if q.value is not None:
        low, high = (ruler.at(q.value if x is None else x) for x in (q.low, q.high))
        return (
            f'<i class="interval" style="left:{low:.2f}%;width:{high - low:.2f}%"></i>'
            f'<i class="{shape}" style="left:{ruler.at(q.value):.2f}%"></i>'
        )
    if q.bound is None:
        return "<em>not known</em>"
    at = ruler.at(q.bound[1])
    left, width, side = (0.0, at, "below") if q.bound[0] == "<" else (at, 100.0 - at, "above")
    return f'<i class="bound {side}" style="left:{left:.2f}%;width:{width:.2f}%"></i>'
