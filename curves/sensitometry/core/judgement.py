"""Judgements of frames by eye: the words, and the chance of each at a distance from the right exposure.

An eye that looks at one frame of a grey card or a scene places the frame within half a stop: common practice. Half of
that variance is the eye's own taste, the same in every frame that the eye judges; the other half differs from frame to
frame (our own choice). A frame within a stated distance of the right exposure looks right.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np
from scipy.special import ndtr

from curves.sensitometry.core.units import FloatArray, Kind
from curves.sensitometry.core.values import STOPS, Bounds, check_fields, short_repr

Judgement = Literal["too dark", "right", "too light"]
JUDGEMENTS: tuple[Judgement, ...] = get_args(Judgement)

ASSUMED_EYE = 0.5
"""Standard uncertainty of the exposure of one frame as the eye judges it: half a stop, common practice [stops]."""

ASSUMED_RIGHT = 0.5
"""Distance from the right exposure up to which a frame looks right: our own choice, since frames a stop apart are
usually told apart [stops]."""

TASTE_SHARE = 0.5
"""Share of the eye's variance that is the same in every frame, the taste of the eye: our own choice [unitless]."""

SLIPS = 0.02
"""Chance that a judgement stands beside the wrong frame, and may be any word: our own choice [unitless]."""

RIGHT_WITHIN = Bounds(above=0.0, below=3.0)
"""A distance from the right exposure up to which a frame looks right [stops]."""


@dataclass(frozen=True)
class Eye:
    """The reliability of the eye that judged frames.

    Attributes:
        uncertainty_stops: standard uncertainty of the exposure of one frame as the eye judges it; None if not given
            [stops].
        right_within_stops: distance from the right exposure up to which a frame looks right; None if not given [stops].

    Raises:
        StripError: a number is out of range.
    """

    uncertainty_stops: float | None = None
    right_within_stops: float | None = None
    __repr__ = short_repr

    def __post_init__(self) -> None:
        check_fields(self, uncertainty_stops=STOPS, right_within_stops=RIGHT_WITHIN)

    @property
    def assumed(self) -> bool:
        """True if the reliability of the eye is assumed, not given."""
        return self.uncertainty_stops is None

    @property
    def uncertainty(self) -> float:
        """Standard uncertainty of one judgement, given or assumed [stops]."""
        return ASSUMED_EYE if self.uncertainty_stops is None else self.uncertainty_stops

    @property
    def taste(self) -> float:
        """Standard uncertainty of what the eye takes for right, common to all of its judgements [stops]."""
        return float(self.uncertainty * np.sqrt(TASTE_SHARE))

    @property
    def each(self) -> float:
        """Standard uncertainty of a judgement that differs from frame to frame [stops]."""
        return float(self.uncertainty * np.sqrt(1.0 - TASTE_SHARE))

    @property
    def right_within(self) -> float:
        """Distance from the right exposure up to which a frame looks right, given or assumed [stops]."""
        return ASSUMED_RIGHT if self.right_within_stops is None else self.right_within_stops

    def chance(self, side: FloatArray, surplus: FloatArray, frame_error: float) -> FloatArray:
        """Return the chance of judgements, any shape [unitless].

        Args:
            side: -1 for too little exposure, 0 for right, 1 for too much, as `side_of` returns them.
            surplus: exposure of the frame beyond what the eye takes for right [stops].
            frame_error: standard uncertainty of the exposure of one frame against the next [stops].
        """
        spread = max(float(np.hypot(self.each, frame_error)), 1e-3)
        over = ndtr((surplus - self.right_within) / spread)
        under = ndtr((-surplus - self.right_within) / spread)
        chance = np.where(side > 0, over, np.where(side < 0, under, 1.0 - over - under))
        return np.asarray(SLIPS / len(JUDGEMENTS) + (1.0 - SLIPS) * chance)


def side_of(judgement: Judgement, kind: Kind) -> int:
    """Return the side of the right exposure that a judgement names: -1 too little, 0 right, 1 too much.

    The film itself is judged, on the light table or projected: a reversal that is too light had too much exposure, a
    negative that is too light had too little.
    """
    side = JUDGEMENTS.index(judgement) - 1
    return side if kind == "reversal" else -side
