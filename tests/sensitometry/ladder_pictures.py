"""Small pictures drawn to mislead a search for a ladder of steps: each with the truth of where the steps are.

Densities are drawn on a plain canvas, the strip along x, and seen through a little blur and noise. What misleads is
drawn around and over the strip.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Self

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import ndimage

from curves.sensitometry.core.units import Kind
from curves.sensitometry.scan.ladder import Ladder

Array = NDArray[np.float64]
HOLDER, GATE, NOISE = 3.8, 0.0, 3e-4


def in_turns(number: int, of: int = 2) -> list[pytest.MarkDecorator]:
    """Return the marks of a case: one of two, or of so many, has its turn; the others wait for a release."""
    return [pytest.mark.slow] if number % of else []


def densities(kind: Kind, steps: int, spread: float = 1.0) -> Array:
    """Return densities of steps from step 1: an S, steepest in its middle, toe and shoulder at its ends, (steps,)."""
    exposure = np.linspace(spread, -spread, steps)
    share = 0.5 * (1.0 + np.tanh(1.6 * exposure))
    return 0.15 + 2.2 * (share if kind == "negative" else 1.0 - share)


@dataclass
class Drawing:
    """A strip on a canvas.

    Attributes:
        kind: of the film.
        steps: how many there are.
        pitch: length of a step [pixels].
        left, top, bottom: where step 1 begins, and the strip's sides [pixels].
        width, height: of the canvas [pixels].
        around: density of all the rest; that of unexposed film if None.
        spread: how far the steps reach into toe and shoulder [unitless].
    """

    kind: Kind = "negative"
    steps: int = 11
    pitch: float = 17.0
    left: float = 52.0
    top: int = 34
    bottom: int = 92
    width: int = 300
    height: int = 126
    around: float | None = None
    spread: float = 1.0
    canvas: Array = field(init=False)

    def __post_init__(self) -> None:
        self.canvas = np.full((self.height, self.width), self.film if self.around is None else self.around)
        self.add(self.left, self.top, self.bottom, self.pitch, self.densities)

    @property
    def densities(self) -> Array:
        """Density of each step."""
        return densities(self.kind, self.steps, self.spread)

    @property
    def film(self) -> float:
        """Density of unexposed film: a little beyond the toe's or the shoulder's end."""
        return 0.12 if self.kind == "negative" else 2.45

    @property
    def right(self) -> float:
        """Where the last step ends [pixels]."""
        return self.left + self.steps * self.pitch

    def add(self, left: float, top: int, bottom: int, pitch: float, values: Array) -> Self:
        """Draw a row of patches of equal length."""
        for k, value in enumerate(values):
            self.box(left + k * pitch, top, left + (k + 1) * pitch, bottom, value)
        return self

    def box(self, left: float, top: float, right: float, bottom: float, value: float) -> Self:
        """Draw a rectangle."""
        self.canvas[max(round(top), 0) : max(round(bottom), 0), max(round(left), 0) : max(round(right), 0)] = value
        return self

    def outside(self, left: float, right: float, value: float) -> Self:
        """Draw what lies left of one place and right of another, from top to bottom."""
        return self.box(0, 0, left, self.height, value).box(right, 0, self.width, self.height, value)

    def seen(self, seed: int = 0) -> Array:
        """Return the light of the picture, (rows, columns, 1) [of full scale]."""
        light = ndimage.gaussian_filter(10.0**-self.canvas, 0.5)
        noisy = light + NOISE * np.random.default_rng((7, seed)).standard_normal(light.shape)
        return np.clip(0.9 * noisy, 0.0, 1.0)[..., None]


def off_by(ladder: Ladder, drawing: Drawing) -> float:
    """Return how far the worst step is off, among those that both have [steps]; many if the ladder runs back."""
    ends = 0.5 * (ladder.corners[[0, 2]] + ladder.corners[[1, 3]])
    number = np.arange(min(ladder.steps, drawing.steps))[:, None] + 0.5
    found = ends[0] + (ends[1] - ends[0]) * number / ladder.steps
    true = np.column_stack([drawing.left + number * drawing.pitch, np.full(number.size, found[:, 1].mean())])
    return float(np.abs((found - true)[:, 0]).max() / drawing.pitch)
