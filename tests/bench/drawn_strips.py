"""Strips drawn at random, as they are and as they are read: to count what is told of them, and what of clean ones.

Eight families of curves, both kinds, one to four channels, 11 to 41 steps and scatters of 0.005 to 0.03, with an even
wedge and with uneven ones, a third of them read twice, half of them with the scatter stated.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from curves.sensitometry.core.units import STOP, Channel, FloatArray, Kind
from curves.sensitometry.strip.exposure import Contact, Frames
from curves.sensitometry.strip.strip import Strip
from curves.sensitometry.strip.wedge import Wedge
from curves.sensitometry.uncertainty.sources import ASSUMED_SHUTTER
from tests.bench.shapes import FAMILIES, Rise

SPAN = 3.0
CHANNELS: Mapping[int, tuple[Channel, ...]] = {
    1: ("visual",),
    3: ("red", "green", "blue"),
    4: ("red", "green", "blue", "visual"),
}


def arctan(rng: np.random.Generator, middle: float) -> Rise:
    """Return a curve that flattens slowly at both ends."""
    width = rng.uniform(0.18, 0.35)
    return lambda x: np.asarray(0.5 + np.arctan((x - middle) / width) / np.pi)


def corner(rng: np.random.Generator, middle: float) -> Rise:
    """Return a straight line between two levels."""
    length = rng.uniform(1.2, 1.8)
    return lambda x: np.clip((x - middle) / length + 0.5, 0.0, 1.0)


def soft_toe(rng: np.random.Generator, middle: float) -> Rise:
    """Return a long toe, a short straight line and a shoulder."""
    length, soft, hard = rng.uniform(1.3, 1.9), rng.uniform(0.25, 0.40), 0.08

    def rise(x: FloatArray) -> FloatArray:
        start = soft * np.logaddexp(0.0, (x - middle + length / 2) / soft)
        return np.asarray((start - hard * np.logaddexp(0.0, (start - length) / hard)) / length)

    return rise


def photons(rng: np.random.Generator, middle: float) -> Rise:
    """Return the curve of grains of one size that one photon develops, spread by a power."""
    power = rng.uniform(1.0, 2.0)
    return lambda x: np.asarray(1.0 - np.exp(-np.log1p(0.7 * 10.0 ** (power * (x - middle + 0.2)))))


Shapes = Mapping[str, Callable[[np.random.Generator, float], Rise]]

SHAPES: Shapes = {**FAMILIES, "arctan": arctan, "corner": corner, "soft toe": soft_toe, "photons": photons}


@dataclass(frozen=True, eq=False)
class Case:
    """One strip as it is: step 1, the most exposed, first.

    Attributes:
        family: of its curves.
        kind, steps, noise, wedge: of the strip, with the scatter of a reading, or of the mean of two; uncertainty of a
            step of its wedge [density].
        stated: whether the record states the scatter.
        even: true densities of all steps and of film beyond the last, (c, steps + 1), on the wedge as stated [density].
        exact, read: on the wedge as it is; the same with scatter [density].
        half: half the difference of two readings, (c, steps) [density]; None if all was read once.
        decimals: of a reading.
    """

    family: str
    kind: Kind
    steps: int
    noise: float
    wedge: float
    stated: bool
    even: FloatArray
    exact: FloatArray
    read: FloatArray
    half: FloatArray | None = None
    decimals: int = 2

    def strip(self, readings: FloatArray) -> Strip:
        """Return the strip with readings as entered, (c, steps)."""
        names, position, one = CHANNELS[len(readings)], np.arange(1.0, self.steps + 1), self.noise
        if self.half is not None:
            half = self.half[: len(readings)]
            readings = np.asarray(np.round(np.hstack([readings - half, readings + half]), 2), dtype=np.float64)
            position = np.tile(position, 2)
            one *= math.sqrt(2.0)
        return Strip(
            "invented", self.kind, "status A", Contact(50.0, 0.02), position,
            dict(zip(names, readings, strict=True)),
            Wedge.nominal(self.steps, SPAN / (self.steps - 1), 0.0, self.wedge),
            repeatability=one if self.stated else None,
        )  # fmt: skip

    def read_with(self, exact: FloatArray) -> FloatArray:
        """Return other true densities with the same scatter, as entered, (c, steps)."""
        return np.asarray(np.round(exact + (self.read - self.exact), self.decimals)[:, : self.steps])


def draw(rng: np.random.Generator, kind: Kind | None = None, shapes: Shapes = SHAPES, **fixed: float) -> Case:
    """Return a strip at random, its layers apart in speed, contrast and base.

    Args:
        rng: random numbers.
        kind: of film; drawn if None.
        shapes: the families of curves.
        fixed: noise, steps, channels, wedge, repeats, where they are not to be drawn; steepness, 1 as a rule: with more
            of it, more of the strip is level; shift of the curves along the strip, 0 as a rule [log10].
    """
    name = str(rng.choice(list(shapes)))
    family = shapes[name]
    drawn: Kind = "reversal" if rng.random() < 0.5 else "negative"
    kind = kind or drawn
    steps = int(fixed.get("steps", rng.choice([11, 21, 31, 41])))
    channels = int(fixed.get("channels", rng.choice([1, 3, 4])))
    noise = float(fixed.get("noise", rng.choice([0.005, 0.010, 0.015, 0.020, 0.030])))
    wedge = float(fixed.get("wedge", rng.choice([0.0, 0.008, 0.020])))
    increment = SPAN / (steps - 1)
    log_h = -increment * np.arange(steps + 1) - np.array([[0.0], [wedge]]) * rng.standard_normal(steps + 1)
    middle = -SPAN / 2 + rng.uniform(-0.15, 0.15) + fixed.get("shift", 0.0)
    both = np.empty((channels, 2, steps + 1))
    height = rng.uniform(2.1, 3.4)
    for layer in both:
        centre = middle + rng.uniform(-0.25, 0.25)
        rise = family(rng, centre)
        off = fixed.get("steepness", 1.0) * (log_h - centre)
        seen = centre + (off if kind == "negative" else -off)
        layer[:] = rng.uniform(0.1, 0.6) + height * rng.uniform(0.85, 1.15) * rise(seen)
    even, exact = both[:, 0], both[:, 1]
    read = exact + noise * rng.standard_normal(exact.shape)
    stated, again = bool(rng.random() < 0.5), fixed.get("repeats", 1.0 + (rng.random() < 1.0 / 3.0)) > 1.0
    half = noise * rng.standard_normal((channels, steps)) if again else None
    return Case(name, kind, steps, noise, max(wedge, 0.008), stated, even, exact, read, half)


def bracket(seed: int, stops: float) -> Strip:
    """Return a bracket of frames whose exposures are off as much as is assumed of them."""
    rng = np.random.default_rng((98, seed))
    case = draw(rng, "reversal", channels=3, wedge=0.0, steps=21, repeats=1)
    count = round(9 / stops) + 1
    asked = np.asarray(-stops * np.arange(count), dtype=np.float64)
    given = (asked + ASSUMED_SHUTTER * rng.standard_normal(count)) * STOP - 0.15
    log_h = -SPAN / 20 * np.arange(22)
    readings = [np.interp(-given, -log_h, layer) + case.noise * rng.standard_normal(count) for layer in case.exact]
    strip = case.strip(case.read_with(case.exact))
    named = {c: np.round(r, 2) for c, r in zip(CHANNELS[3], readings, strict=True)}
    return replace(strip, exposure=Frames(50.0), position=asked, readings=named, wedge=None, labels=())
