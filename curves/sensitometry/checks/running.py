"""Doubts about a reading during entry, while the person still stands at the instrument.

A strip's densities run in one direction along the wedge, smoothly, and its channels run together. From the fourth step
on, each new reading is compared with its neighbours, with the other channels and with the wedge. A doubt is only asked
about; the person decides.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from curves.sensitometry.core.units import Channel, Kind, sign_of

FEWEST = 3
"""Steps that must have been read before a new step is questioned [unitless]."""

_BACKWARD = 0.07
"""Change against the direction of the strip that two readings' scatter allows: our own choice [density]."""

_SCATTER = 0.09
"""Distance from the line through the neighbours that scatter alone allows: our own choice [density]."""

_BEND = 4.5
"""Greatest curvature of a film's curve that is accepted: our own choice [density per squared log10 H]."""

_SHARED = 0.5
"""Share of an allowed distance by which a channel may leave the other channels: our own choice [unitless]."""

_STEEPEST = 6.0
"""Greatest gradient of a pictorial film: common practice [density per log10 H]."""

_ALIKE, _STEEP = 0.02, 0.10
"""Greatest change between two equal readings, and least change of the step before them: our own choice [density]."""

_SWAP = 0.4
"""Greatest share of the distances that may be left if two channels are exchanged [unitless]."""

Readings = Mapping[Channel, Mapping[int, float]]
"""Density by channel and step [density]."""


@dataclass(frozen=True)
class _Surprise:
    """The distance of one channel's reading from the line through the two readings nearest to it.

    Attributes:
        near: the step nearest in exposure; further: the next nearest step.
        off: distance from the line through the two, in the direction of rising exposure [density].
        allowed: the greatest distance that is accepted [density].
        move, slope: change from the nearest step [density], and the same per log10 H.
        before: change from the further to the nearest step [density].
    """

    near: int
    further: int
    off: float
    allowed: float
    move: float
    slope: float
    before: float


def doubts(kind: Kind, log_h: Sequence[float], read: Readings, step: int, new: Mapping[Channel, float]) -> list[str]:
    """Return the doubts about a new reading, each a clause; an empty list if there are none.

    Args:
        kind: kind of the strip.
        log_h: log exposure of every step, step 1 first [log10].
        read: the readings so far by channel and step, without readings that were questioned and kept [density].
        step: number of the new step, from 1.
        new: reading of the new step by channel [density].
    """
    known = {c: {s: d for s, d in read.get(c, {}).items() if s != step} for c in new}
    of_channel = {c: _surprise(kind, log_h, known[c], step, d) for c, d in new.items() if len(known[c]) >= FEWEST}
    surprises = {c: s for c, s in of_channel.items() if s is not None}
    # 1. The same patch read twice: this explains more than a doubt in each channel.
    if twice := _read_twice(surprises):
        return twice
    # 2. Each channel against its own neighbours.
    found = [text for c in new if (text := _against_neighbours(kind, log_h, known[c], step, c, new[c], surprises))]
    # 3. Each channel against the others.
    found = found or [text for c in surprises if (text := _against_others(c, surprises))]
    # 4. Two channels typed in each other's place explain more than either alone.
    swapped = _swapped(kind, log_h, known, step, new, surprises)
    if swapped and any(abs(s.off) > 0.5 * s.allowed for s in surprises.values()):
        return [swapped]
    return found


def patch_doubts(kind: Kind, name: str, patch: Mapping[Channel, float], read: Readings) -> list[str]:
    """Return the doubts about the reading of a single patch beside the wedge, each a clause.

    Args:
        kind: kind of the strip.
        name: "base", "unexposed" or "fully_exposed".
        patch: reading of the patch by channel [density].
        read: readings of the strip by channel and step [density].
    """
    found = []
    thin = name == "base" or (name == "unexposed") == (kind == "negative")
    for channel, density in patch.items():
        readings = read.get(channel, {}).values()
        if not readings:
            continue
        if thin and density > min(readings) + _BACKWARD:
            found.append(f"{channel} {density:.2f} is denser than the strip's thinnest step, {min(readings):.2f}")
        if not thin and density < max(readings) - _BACKWARD:
            found.append(f"{channel} {density:.2f} is thinner than the strip's densest step, {max(readings):.2f}")
    return found


def _surprise(
    kind: Kind, log_h: Sequence[float], known: Mapping[int, float], step: int, density: float
) -> _Surprise | None:
    """Return the distance of a reading from the line through its two nearest neighbours; None without such a line."""
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
    """Return the doubt about a channel's reading from its neighbours and the wedge; an empty text if there is none."""
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
        return f"{channel} {density:.2f} breaks the run of steps {first} and {second}: expected about {expected:.2f}"
    return ""


def _against_others(channel: Channel, surprises: Mapping[Channel, _Surprise]) -> str:
    """Return the doubt about a channel's reading from the other channels; an empty text if there is none."""
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
    """Return the doubt that two channels were typed in each other's place; an empty text if there is none."""
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
    """Return the doubt that a patch was read twice: a step reads as its neighbour does where the strip is steep."""
    moves = list(surprises.values())
    if not moves or any(abs(s.move) > _ALIKE for s in moves):
        return []
    if max(abs(s.before) for s in moves) < _STEEP:
        return []
    return [f"the reading is that of step {moves[0].near}, where the strip is steep: the same patch again?"]
