"""The colour cast of a grey: each layer less the mean of the three, and the hue as a printer names it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import LAYERS, Channel, FloatArray
from curves.sensitometry.uncertainty.intervals import summarise

TONES = ("white", "grey", "shadow")

TONE_WEIGHTS = {"white": 0.25, "grey": 0.50, "shadow": 0.25}
"""What each tone's cast counts for in the cast left by a stack: our own choice [unitless]."""

HUES = (
    "cyan", "cyan-blue", "blue", "blue-magenta", "magenta", "magenta-red",
    "red", "orange", "yellow", "yellow-green", "green", "blue-green",
)  # fmt: skip
"""Twelve hues around the circle: a surplus of red density is cyan, of green density magenta, of blue density yellow."""

_NEUTRAL_AT_95 = 5.991
"""95 % point of chi-square with two degrees of freedom: a cast has two coordinates."""


@dataclass(frozen=True)
class Cast:
    """The cast of one tone.

    Attributes:
        layers: each layer's density less the mean of the three [density].
        amount: density of the single filter of that hue through which a neutral grey would look the same [density].
        hue: the nearest of `HUES`.
        neutral: True if the cast is not larger than its uncertainty.
    """

    layers: Mapping[Channel, Quantity]
    amount: Quantity
    hue: str
    neutral: bool

    @property
    def words(self) -> str:
        """The cast in a printer's words: "0.22 too blue-green"."""
        if self.amount.value is None:
            return f"not known: {self.amount.why}"
        if self.amount.value < 0.005:
            return "neutral"
        text = f"{self.amount.value:.2f} too {self.hue}"
        return f"{text}, within its uncertainty" if self.neutral else text


def amounts(densities: FloatArray) -> FloatArray:
    """Return the amount of the cast of each triple of layer densities [density].

    A grey behind a filter that adds density a to one layer, or to two layers, has amount a whatever its hue; density
    common to all layers does not count.

    Args:
        densities: the last axis holds red, green and blue [density].
    """
    apart = densities - densities.mean(axis=-1, keepdims=True)
    return np.asarray(np.sqrt(1.5 * (apart**2).sum(axis=-1)))


def hue(densities: FloatArray) -> str:
    """Return the name of the hue of a grey with layer densities (3,) [density]."""
    angle = np.angle((densities * np.exp(2j * math.pi * np.arange(3) / 3.0)).sum())
    return HUES[round(float(angle) / (math.pi / 6.0)) % 12]


def cast_of(densities: FloatArray) -> Cast:
    """Return the cast of one tone.

    Args:
        densities: red, green and blue of every row, (r, 3); row 0 is the estimate and must be numbers [density].
    """
    apart = densities - densities.mean(axis=1, keepdims=True)
    amount = summarise(amounts(densities))
    neutral = _may_be_neutral(apart)
    if neutral and amount.low is not None:
        # An amount cannot be negative, so draws about zero lie above zero: zero is then the low end.
        amount = replace(amount, low=0.0)
    layers = {c: summarise(apart[:, i]) for i, c in enumerate(LAYERS)}
    return Cast(layers, amount, hue(densities[0]), neutral)


def unknown_cast(why: str) -> Cast:
    """Return a cast without a value, with the reason."""
    missing = Quantity.missing(why)
    return Cast(dict.fromkeys(LAYERS, missing), missing, "", neutral=False)


def _may_be_neutral(apart: FloatArray) -> bool:
    """Return True if a neutral grey lies within the 95 % region of the draws about the estimate."""
    draws = apart[1:][np.isfinite(apart[1:]).all(axis=1)][:, :2]
    if len(draws) < 3:
        return False
    covariance = np.cov(draws.T) + 1e-12 * np.eye(2)
    distance = float(apart[0, :2] @ np.linalg.solve(covariance, apart[0, :2]))
    return distance < _NEUTRAL_AT_95


def total_cast(amounts: FloatArray) -> FloatArray:
    """Return the cast left, from the amounts at white, grey and shadow on the last axis [density]."""
    return np.asarray(np.sqrt((amounts**2) @ np.array([TONE_WEIGHTS[t] for t in TONES])))
