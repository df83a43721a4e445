"""The roll of a bracket: the frames that choose between candidate stacks of filters and their exposure indexes.

The rule (our own choice): where an index is known to a stop either way or better, its frames lie a third of a stop
apart over its interval and two thirds beyond each end, where a frame looks right no longer; two thirds or a whole stop
apart if the frames do not suffice. Where the index is known less well, they lie whole stops apart. Every stack gets as
many frames as the others, so that frames of the same placement can be laid side by side.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from curves.errors import StripError
from curves.sensitometry.brackets.evidence import Evidence
from curves.sensitometry.core.quantity import ENDS, Quantity
from curves.sensitometry.core.units import STOP, Kind, degrees, nominal_speed
from curves.sensitometry.strip.exposure import JUDGEMENTS, Eye, side_of
from curves.sensitometry.uncertainty.sources import ASSUMED_SHUTTER

FEWEST, MOST = 3, 72
"""Frames that a stack needs to be bracketed, and frames that a roll holds at most: common practice."""

_THIRD = STOP / 3.0
_KNOWN = 3
"""Half the width of an interval up to which an index counts as known [thirds of a stop]."""

_BEYOND = 2
"""Distance beyond the interval to which frames go [thirds of a stop]."""

_SPACINGS = (1, 2, 3)
"""Distances of frames [thirds of a stop]."""

_FROM_BOUND = 5
"""Frames from a bound on, whole stops apart, at most."""


@dataclass(frozen=True)
class Candidate:
    """A stack of filters that a roll may choose.

    Attributes:
        stack: names of its filters, joined by " + "; empty for no filter.
        index: the index behind the stack for a meter that does not see the filters [unitless]; a bound where the strip
            does not show it.
        factor: the stack's factor for a meter that looks through it [unitless].
        worth: what is expected of the stack, in words; empty where nothing is known.
    """

    stack: str
    index: Quantity
    factor: float
    worth: str = ""


@dataclass(frozen=True)
class RollFrame:
    """One frame of a roll.

    Attributes:
        number: of the frame, from 1.
        stack: the stack in front of the lens; empty for no filter.
        hand_held: setting of a meter that does not see the filters, on the dial.
        through: setting of a meter that looks through them, on the dial.
        thirds: exposure beyond that of the middle frame of the stack [thirds of a stop].
    """

    number: int
    stack: str
    hand_held: float
    through: float
    thirds: int


@dataclass(frozen=True)
class Bracket:
    """The frames of one stack.

    Attributes:
        candidate: the stack.
        middle: index of the middle frame, on the dial.
        spacing: distance of the frames [thirds of a stop].
        frames: from the least exposed to the most exposed.
        covers: the chance that the right exposure lies between the outer frames [unitless]; None where the index is
            only a bound.
        expected: half the interval that judgements of these frames alone leave, if the middle frame is right [stops].
    """

    candidate: Candidate
    middle: float
    spacing: int
    frames: tuple[RollFrame, ...]
    covers: float | None
    expected: float


def plan_roll(candidates: tuple[Candidate, ...], kind: Kind, most: int, eye: Eye) -> tuple[Bracket, ...]:
    """Return the frames that choose between stacks and indexes, stack by stack.

    Args:
        candidates: the stacks.
        kind: of the film.
        most: frames that the roll may take.
        eye: the reliability of the eye that will judge.

    Raises:
        StripError: there are too few frames for so many stacks, or an index is not known at all.
    """
    each = most // len(candidates)
    if each < FEWEST:
        raise StripError(
            f"{most} frames are too few for {len(candidates)} stacks",
            where="frames",
            needed=f"at least {FEWEST} for each stack, {FEWEST * len(candidates)} in all",
            hint="name fewer stacks, or allow more frames",
            settings=("frames",),
        )
    brackets, number = [], 0
    for candidate in candidates:
        bracket = _bracket(candidate, each, number, kind, eye)
        number += len(bracket.frames)
        brackets.append(bracket)
    return tuple(brackets)


def _bracket(candidate: Candidate, most: int, number: int, kind: Kind, eye: Eye) -> Bracket:
    """Return the frames of one stack, numbered after ``number``."""
    index = candidate.index
    if index.value is None:
        spacing, below = _SPACINGS[-1], min(most, _FROM_BOUND) // 2
        above = min(most, _FROM_BOUND) - 1 - below
        middle = _beyond_bound(index, spacing * below, spacing * above)
    else:
        middle, reach = degrees(index.value), _half_thirds(index) + _BEYOND
        fits = (s for s in _SPACINGS if 2 * math.ceil(reach / s) + 1 <= most)
        spacing = next(fits, _SPACINGS[-1]) if reach <= _KNOWN + _BEYOND else _SPACINGS[-1]
        below = above = max(1, min(math.ceil(reach / spacing), (most - 1) // 2))
    thirds = [spacing * place for place in range(-below, above + 1)]
    frames = tuple(
        RollFrame(number + count, candidate.stack, _dial(middle - t), _dial(middle - t, candidate.factor), t)
        for count, t in enumerate(thirds, start=1)
    )
    return Bracket(
        candidate, _dial(middle), spacing, frames, _covered(index, middle, thirds), _expected(thirds, kind, eye)
    )


def _beyond_bound(index: Quantity, below: int, above: int) -> int:
    """Return the middle of a bracket that begins at a bound and goes away from it [degrees].

    Args:
        index: only a bound.
        below, above: how far the frames go to less and to more exposure than the middle [thirds of a stop].
    """
    if index.bound is None:
        raise StripError(
            f"nothing is known of the index: {index.why}",
            where="bracket",
            needed="a guess of the index, and how far it may be wrong, in place of the strip",
            settings=("box=80", "off=3"),
        )
    side, end = index.bound
    return degrees(end) - below if side == "<" else degrees(end) + above


def _half_thirds(index: Quantity) -> int:
    """Return half the width of an index's interval, its wider side, rounded up [thirds of a stop].

    An index without an interval counts as one that is not known.
    """
    assert index.value is not None
    if not index.low or not index.high:
        return _KNOWN + 1
    wider = max(math.log10(index.value / index.low), math.log10(index.high / index.value))
    return math.ceil(wider / _THIRD - 1e-6)


def _covered(index: Quantity, middle: int, thirds: list[int]) -> float | None:
    """Return the chance that the right exposure lies between the outer frames."""
    if index.value is None:
        return None
    if index.rows is None or index.rows.size < 2:
        half = max(_half_thirds(index), 1)
        # A guess within so much either way is taken to be rectangular.
        return float(min(1.0, (thirds[-1] - thirds[0]) / (2.0 * half)))
    at = (middle - 1) / 10.0 - np.log10(index.rows[1:])
    return float(np.mean((at >= thirds[0] * _THIRD) & (at <= thirds[-1] * _THIRD)))


def _expected(thirds: list[int], kind: Kind, eye: Eye) -> float:
    """Return half the interval that the likeliest judgements leave, if the middle frame is right [stops]."""
    stops = np.array(thirds) / 3.0
    words = np.array([side_of(word, kind) for word in JUDGEMENTS], dtype=np.float64)
    chances = np.array([eye.chance(np.full_like(stops, side), stops, ASSUMED_SHUTTER) for side in words])
    sides = words[chances.argmax(axis=0)]
    evidence = Evidence(stops, sides, ("",) * stops.size, eye, ASSUMED_SHUTTER, {})
    low, high = evidence.quantiles(np.array(ENDS))
    return float(high - low) / 2.0


def _dial(third: int, factor: float = 1.0) -> float:
    """Return the number on the dial that has so many degrees, times a factor [unitless]."""
    return nominal_speed(10.0 ** ((third - 1) / 10.0) * factor)
