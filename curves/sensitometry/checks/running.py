"""A reading that breaks the run, noticed while the person still stands at the instrument.

A strip's densities run one way along the wedge, smoothly, and its channels run together. From the third step on, each
new reading is held against that: against its neighbours, the other channels and the wedge. What is noticed is only
asked about; the person decides.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from curves.sensitometry.core.units import Channel, Kind, sign_of

FEWEST = 3
"""Steps that must be read before a new one is questioned [unitless]."""

_BACKWARD = 0.07
"""How far a reading may run against its neighbour: scatter of two readings and a flat end, own choice [density]."""

_SCATTER = 0.09
"""How far a reading may stand off the line through its neighbours by scatter alone: own choice [density]."""

_BEND = 4.5
"""Strongest curvature of a film's curve that is let pass: own choice [density per squared log10 H]."""

_SHARED = 0.5
"""Share of those two that is allowed between a channel's surprise and the other channels': own choice [unitless]."""

_STEEPEST = 6.0
"""Gradient beyond which no pictorial film goes: common practice [density per log10 H]."""

_ALIKE, _STEEP = 0.02, 0.10
"""Two patches read alike, where the strip had just moved by more than that: own choice [density]."""

_SWAP = 0.4
"""What is left of the surprise, as a share, if two channels change places [unitless]."""

Readings = Mapping[Channel, Mapping[int, float]]
"""Density by channel and step [density]."""


@dataclass(frozen=True)
class _Surprise:
    """How one channel's reading stands to the readings nearest to it.

    Attributes:
        near: the step nearest in exposure; further: the next on the same side.
        off: distance from the line through the two, in the direction of rising exposure [density].
        allowed: how large that distance may be [density].
        move, slope: change from the nearest step [density], the same per log10 H; before: change before that [density].
    """

    near: int
    further: int
    off: float
    allowed: float
    move: float
    slope: float
    before: float


def doubts(kind: Kind, log_h: Sequence[float], read: Readings, step: int, new: Mapping[Channel, float]) -> list[str]:
    """Return what speaks against a new reading, each a clause; empty where nothing does.

    Args:
        kind: which way density runs.
        log_h: log exposure of every step, step 1 first [log10].
        read: what has been read, by channel and step, without readings already questioned and kept [density].
        step: number of the step now read, from 1.
        new: its reading by channel [density].
    """
    known = {c: {s: d for s, d in read.get(c, {}).items() if s != step} for c in new}
    found = {c: _surprise(kind, log_h, known[c], step, d) for c, d in new.items() if len(known[c]) >= FEWEST}
    surprises = {c: s for c, s in found.items() if s is not None}
    # 1. The same patch read twice: that says more than that each channel breaks the run.
    if twice := _read_twice(surprises):
        return twice
    # 2. Each channel against its own neighbours.
    said = [text for c in new if (text := _against_neighbours(kind, log_h, known[c], step, c, new[c], surprises))]
    # 3. Each channel against the others.
    said = said or [text for c in surprises if (text := _against_others(c, surprises))]
    # 4. Two channels typed in each other's place explain more than either alone.
    swapped = _swapped(kind, log_h, known, step, new, surprises)
    if swapped and any(abs(s.off) > 0.5 * s.allowed for s in surprises.values()):
        return [swapped]
    return said


def patch_doubts(kind: Kind, name: str, patch: Mapping[Channel, float], read: Readings) -> list[str]:
    """Return what speaks against the reading of a patch beside the wedge, each a clause.

    Args:
        kind: which way density runs.
        name: "base", "unexposed" or "fully_exposed".
        patch: its reading by channel [density].
        read: the strip's readings [density].
    """
    said = []
    thin = name == "base" or (name == "unexposed") == (kind == "negative")
    for channel, density in patch.items():
        readings = read.get(channel, {}).values()
        if not readings:
            continue
        if thin and density > min(readings) + _BACKWARD:
            said.append(f"{channel} {density:.2f} is denser than the strip's thinnest step, {min(readings):.2f}")
        if not thin and density < max(readings) - _BACKWARD:
            said.append(f"{channel} {density:.2f} is thinner than the strip's densest step, {max(readings):.2f}")
    return said


def _surprise(
    kind: Kind, log_h: Sequence[float], known: Mapping[int, float], step: int, density: float
) -> _Surprise | None:
    """Return how a reading stands to the line through its two nearest neighbours; None where they are no help."""
    x = log_h[step - 1]
    sign = sign_of(kind)
    order = sorted(known, key=lambda s: (abs(log_h[s - 1] - x), s))
    near = order[0]
    if log_h[near - 1] == x:
        return None
    further = next((s for s in order[1:] if log_h[s - 1] != log_h[near - 1]), None)
    if further is None:
        return None
    near_x, far_x = log_h[near - 1], log_h[further - 1]
    slope_before = (known[near] - known[further]) / (near_x - far_x)
    gap = x - near_x
    off = density - known[near] - slope_before * gap
    allowed = _SCATTER + 0.5 * _BEND * abs(gap) * abs(x - far_x)
    move = density - known[near]
    return _Surprise(near, further, sign * off, allowed, move, sign * move / gap, known[near] - known[further])


def _against_neighbours(
    kind: Kind,
    log_h: Sequence[float],
    known: Mapping[int, float],
    step: int,
    channel: Channel,
    density: float,
    surprises: Mapping[Channel, _Surprise],
) -> str:
    """Return what a channel's own neighbours, and the wedge, say against its reading; empty if nothing."""
    if channel not in surprises:
        return ""
    x, sign = log_h[step - 1], sign_of(kind)
    below = [s for s in known if log_h[s - 1] < x]
    above = [s for s in known if log_h[s - 1] > x]
    for side, neighbours in ((1.0, below), (-1.0, above)):
        if not neighbours:
            continue
        nearest = min(neighbours, key=lambda s: abs(log_h[s - 1] - x))
        if side * sign * (density - known[nearest]) < -_BACKWARD:
            word = "thinner" if density < known[nearest] else "denser"
            return (
                f"{channel} {density:.2f} is {word} than step {nearest}, {known[nearest]:.2f}:"
                f" against the run of the wedge for a {kind}"
            )
    surprise = surprises[channel]
    if surprise.slope > _STEEPEST and abs(surprise.move) > 2 * _SCATTER:
        return (
            f"{channel} {density:.2f} lies {abs(surprise.move):.2f} from step {surprise.near}: steeper than film goes"
            f" over {abs(x - log_h[surprise.near - 1]):.2f} of the wedge"
        )
    if abs(surprise.off) > surprise.allowed:
        expected = density - sign * surprise.off
        first, second = sorted((surprise.near, surprise.further))
        return (
            f"{channel} {density:.2f} breaks the run of steps {first} and {second}:"
            f" near {expected:.2f} was to be expected"
        )
    return ""


def _against_others(channel: Channel, surprises: Mapping[Channel, _Surprise]) -> str:
    """Return what the other channels say against one channel's reading; empty if nothing."""
    own = surprises[channel]
    others = sorted(s.off for c, s in surprises.items() if c != channel)
    if len(others) < 2:
        return ""
    middle = 0.5 * (others[(len(others) - 1) // 2] + others[len(others) // 2])
    apart = own.off - middle
    if abs(apart) > max(_SCATTER, _SHARED * (own.allowed + _SCATTER)) and abs(own.off) > abs(middle):
        return f"{channel} leaves the other channels by {abs(apart):.2f} at this step"
    return ""


def _swapped(
    kind: Kind,
    log_h: Sequence[float],
    known: Mapping[Channel, Mapping[int, float]],
    step: int,
    new: Mapping[Channel, float],
    surprises: Mapping[Channel, _Surprise],
) -> str:
    """Return that two channels look typed in each other's place; empty if none do."""
    names = list(surprises)
    for i, one in enumerate(names):
        for other in names[i + 1 :]:
            typed = abs(surprises[one].off) + abs(surprises[other].off)
            changed = (
                _surprise(kind, log_h, known[one], step, new[other]),
                _surprise(kind, log_h, known[other], step, new[one]),
            )
            left = sum(abs(s.off) for s in changed if s is not None)
            if typed > 2 * _SCATTER and left < _SWAP * typed and abs(new[one] - new[other]) > _SCATTER:
                return f"{one} and {other} look as if each stood in the other's place"
    return ""


def _read_twice(surprises: Mapping[Channel, _Surprise]) -> list[str]:
    """Return that a step reads as its neighbour does although the strip was steep there."""
    moves = list(surprises.values())
    if not moves or any(abs(s.move) > _ALIKE for s in moves):
        return []
    if max(abs(s.before) for s in moves) < _STEEP:
        return []
    return [f"it reads as step {moves[0].near} does, where the strip is steep: the same patch again?"]
