"""How often are strips that were entered wrongly told, and clean ones left in peace?

``python -m tests.bench.misreadings --strips 400 --clean 2000``. Strips of eight families of curves, both kinds, one to
four channels, 11 to 41 steps and scatters of 0.005 to 0.03, with an even wedge and with uneven ones, a third of them
read twice, half of them with the scatter stated, are entered wrongly in every way a person does. A mistake counts where
it moves the index by a tenth of a stop or more. How clearly it shows is its size in scatters of a reading, all channels
together: what lies in the scatter, or where the strip is level, cannot be seen by anybody.
"""

from __future__ import annotations

import argparse
import itertools
import math
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from curves import Choices, analyse
from curves.errors import CurvesError
from curves.sensitometry.checks.suspicion import suspicions
from curves.sensitometry.core.units import STOP, Channel, FloatArray, Kind, sign_of, visual_density
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
MOVES = 0.10
"""Change of the index from which a mistake counts [stops]."""

CLEAR = 8.0
"""Size of a mistake, in scatters of a reading, that a person sees on a drawn curve [unitless]."""

SOLARISED = 0.05
"""How far the most exposed step stands on the wrong side of the least (or greatest) density [density]."""


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


SHAPES = {**FAMILIES, "arctan": arctan, "corner": corner, "soft toe": soft_toe, "photons": photons}


@dataclass(frozen=True, eq=False)
class Case:
    """One strip as it is: step 1, the most exposed, first.

    Attributes:
        kind, steps, noise, wedge: of the strip, with the scatter of a reading, or of the mean of two; uncertainty of a
            step of its wedge [density].
        stated: whether the record states the scatter.
        even: true densities of all steps and of film beyond the last, (c, steps + 1), on the wedge as stated [density].
        exact, read: on the wedge as it is; the same with scatter [density].
        half: half the difference of two readings, (c, steps) [density]; None if all was read once.
        decimals: of a reading.
    """

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


def draw(rng: np.random.Generator, kind: Kind | None = None, **fixed: float) -> Case:
    """Return a strip at random, its layers apart in speed, contrast and base.

    Args:
        rng: random numbers.
        kind: of film; drawn if None.
        fixed: noise, steps, channels, wedge, repeats, where they are not to be drawn; steepness, 1 as a rule: with more
            of it, more of the strip is level.
    """
    family = SHAPES[str(rng.choice(list(SHAPES)))]
    drawn: Kind = "reversal" if rng.random() < 0.5 else "negative"
    kind = kind or drawn
    steps = int(fixed.get("steps", rng.choice([11, 21, 31, 41])))
    channels = int(fixed.get("channels", rng.choice([1, 3, 4])))
    noise = float(fixed.get("noise", rng.choice([0.005, 0.010, 0.015, 0.020, 0.030])))
    wedge = float(fixed.get("wedge", rng.choice([0.0, 0.008, 0.020])))
    increment = SPAN / (steps - 1)
    log_h = -increment * np.arange(steps + 1) - np.array([[0.0], [wedge]]) * rng.standard_normal(steps + 1)
    middle = -SPAN / 2 + rng.uniform(-0.15, 0.15)
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
    return Case(kind, steps, noise, max(wedge, 0.008), stated, even, exact, read, half)


@dataclass(frozen=True, eq=False)
class Entered:
    """Readings as entered, (c, steps), and the size of what is wrong with them, in scatters of a reading."""

    readings: FloatArray
    clear: float


IntArray = NDArray[np.intp]

Mistake = Callable[[np.random.Generator, Case], Entered | None]


def _rows(case: Case, one: int, other: int, channels: list[int]) -> Entered:
    readings = case.read_with(case.exact)
    readings[np.ix_(channels, [one, other])] = readings[np.ix_(channels, [other, one])]
    return Entered(readings, _size(case, case.exact[channels, one] - case.exact[channels, other]))


def _size(case: Case, difference: FloatArray) -> float:
    return float(np.sqrt((difference**2).sum()) / case.noise)


def neighbours(rng: np.random.Generator, case: Case) -> Entered:
    """Exchange two neighbouring rows."""
    row = int(rng.integers(case.steps - 1))
    return _rows(case, row, row + 1, list(range(len(case.exact))))


def neighbours_in_one(rng: np.random.Generator, case: Case) -> Entered:
    """Exchange two neighbouring readings of one channel."""
    row = int(rng.integers(case.steps - 1))
    return _rows(case, row, row + 1, [int(rng.integers(len(case.exact)))])


def distant(rng: np.random.Generator, case: Case) -> Entered:
    """Exchange two rows with others between them."""
    row = int(rng.integers(case.steps - 2))
    return _rows(case, row, int(rng.integers(row + 2, case.steps)), list(range(len(case.exact))))


def moved(rng: np.random.Generator, case: Case) -> Entered:
    """Move a row past two others or more: a block is shifted by a row."""
    one, other = sorted(rng.choice(case.steps - 2, 2, replace=False) + np.array([0, 2]))
    readings = case.read_with(case.exact)
    by = int(rng.choice([-1, 1]))
    readings[:, one : other + 1] = np.roll(readings[:, one : other + 1], by, axis=1)
    exact = case.exact[:, one : other + 1]
    return Entered(readings, _size(case, (np.roll(exact, by, axis=1) - exact)[:, 0 if by == 1 else -1]))


def slipped(rng: np.random.Generator, case: Case) -> Entered:
    """Read a patch twice and skip another, or the other way round: what lies between is shifted by a row."""
    one, other = sorted(rng.choice(case.steps - 2, 2, replace=False) + np.array([0, 2]))
    readings = case.read_with(case.exact)
    if rng.random() < 0.5:
        readings[:, one:other] = readings[:, one + 1 : other + 1]
    else:
        readings[:, one + 1 : other + 1] = readings[:, one:other]
    ends = [case.exact[:, row + 1] - case.exact[:, row] for row in (one, other - 1)]
    return Entered(readings, max(_size(case, end) for end in ends))


def channels_from_a_step(rng: np.random.Generator, case: Case) -> Entered | None:
    """Exchange two channels from a step on."""
    if len(case.exact) < 2:
        return None
    one, other = rng.choice(len(case.exact), 2, replace=False)
    row = int(rng.integers(1, case.steps))
    readings = case.read_with(case.exact)
    readings[[one, other], row:] = readings[[other, one], row:]
    border = (case.exact[one] - case.exact[other])[row - 1 : row + 1]
    return Entered(readings, float(np.sqrt(2.0) * np.abs(border).min() / case.noise))


def skipped(rng: np.random.Generator, case: Case, rows: IntArray | None = None) -> Entered:
    """Leave out one of ``rows``: all after it is one row too early, and film beyond the wedge is read at the end."""
    row = int(rng.choice(np.arange(1, case.steps) if rows is None else rows))
    readings = np.round(np.delete(case.read, row, axis=1), case.decimals)
    return Entered(readings, _size(case, case.exact[:, row] - case.exact[:, row - 1]))


def skipped_where_steep(rng: np.random.Generator, case: Case) -> Entered | None:
    """Leave out a step on the steep part: density moves as fast on both sides of it, nearly, as anywhere."""
    move = np.abs(np.diff(case.exact, axis=1)).sum(axis=0)
    steep = np.minimum(move[:-1], move[1:]) > 0.6 * move.max()
    rows = np.flatnonzero(steep[: case.steps - 1]) + 1
    return skipped(rng, case, rows) if rows.size else None


def solarised(rng: np.random.Generator, case: Case) -> Entered:
    """Let the most exposed end of the film turn back by 0.05; how clearly, as the clearest of two groups' means."""
    width = rng.uniform(0.3, 0.75)
    along = np.clip(1.0 - np.arange(case.steps + 1) * SPAN / (case.steps - 1) / width, 0.0, 1.0)
    rising = sign_of(case.kind) * case.exact
    for layer in rising:
        low, high = 0.0, 2.0
        for _ in range(40):
            size = 0.5 * (low + high)
            turned = layer - size * along
            low, high = (size, high) if turned.max() - turned[0] < SOLARISED else (low, size)
        layer -= high * along
    clear = 0.0
    for middle, end in itertools.combinations(range(1, min(case.steps, 12)), 2):
        back = rising[:, middle:end].mean(axis=1) - rising[:, :middle].mean(axis=1)
        clear = max(clear, back.sum() / math.sqrt(len(back) * (1.0 / middle + 1.0 / (end - middle))) / case.noise)
    return Entered(case.read_with(sign_of(case.kind) * rising), clear)


MISTAKES: Mapping[str, Mistake] = {
    "neighbouring rows exchanged": neighbours,
    "the same in one channel": neighbours_in_one,
    "distant rows exchanged": distant,
    "a row moved, a block shifted": moved,
    "read twice and skipped": slipped,
    "channels exchanged from a step on": channels_from_a_step,
    "a step skipped": skipped,
    "the same on the steep part": skipped_where_steep,
    "solarised end, 0.05": solarised,
}
CLEARLY = {"solarised end, 0.05": 4.5}
"""What counts as clear, if not `CLEAR`: a difference of means has no row of its own [unitless]."""


def index(case: Case, readings: FloatArray) -> float | None:
    """Return the index to set by the channel that the eye sees, in stops; None where there is only a bound."""
    eye = readings[-1] if len(readings) != 3 else readings[1]
    if len(readings) == 3 and case.kind == "reversal":
        eye = visual_density(*readings)
    try:
        ei = analyse(case.strip(eye[None, :]), Choices(draws=0)).working_ei
    except CurvesError:
        return None
    return None if ei.recommended.value is None else math.log2(ei.recommended.value)


def moves(case: Case, entered: Entered) -> bool:
    """Return whether a mistake moves the index by a tenth of a stop or more."""
    right, wrong = index(case, case.read_with(case.exact)), index(case, entered.readings)
    return right is not None and wrong is not None and abs(wrong - right) >= MOVES


def told(case: Case, readings: FloatArray) -> list[str]:
    """Return the codes of what is told of a strip before anything is fitted."""
    return [notice.code for notice in suspicions(case.strip(readings))]


@dataclass(frozen=True)
class Trial:
    """One mistake that moves the index: how clear it is, in scatters, what was told, and on which strip."""

    clear: float
    codes: tuple[str, ...]
    case: Case


def trials(name: str, count: int, kind: Kind | None = None, **fixed: float) -> Iterator[Trial]:
    """Yield what is told of mistakes of one kind that move the index, out of ``count`` made."""
    for seed in range(count):
        rng = np.random.default_rng((sorted(MISTAKES).index(name), seed))
        case = draw(rng, kind, **fixed)
        entered = MISTAKES[name](rng, case)
        if entered is not None and moves(case, entered):
            yield Trial(entered.clear, tuple(told(case, entered.readings)), case)


def clean(count: int) -> dict[str, Counter[str]]:
    """Return how many clean strips are suspected, by what was asked of them: all, by noise, by wedge, brackets."""
    found: dict[str, Counter[str]] = {}

    def note(group: str, codes: list[str]) -> None:
        found.setdefault(group, Counter()).update(["strips", *set(codes), *(["suspected"] if codes else [])])

    for seed in range(count):
        case = draw(np.random.default_rng((99, seed)))
        codes = told(case, case.read_with(case.exact))
        for group in (
            "all",
            f"noise {case.noise:g}",
            f"wedge {case.wedge:g}",
            f"{case.steps} steps",
            f"{len(case.exact)} channels",
            "read once" if case.half is None else "read twice",
        ):
            note(group, codes)
    for seed in range(count // 2):
        case = draw(np.random.default_rng((97, seed)), steepness=1.4)
        note("long flat ends", told(case, case.read_with(case.exact)))
    for stops, seed in itertools.product((1.0, 0.5, 1.0 / 3.0), range(count // 10)):
        note(f"bracket of {stops:.2f} stops", [n.code for n in suspicions(bracket(seed, stops))])
    return found


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


def report(strips: int, count: int) -> Iterator[str]:
    """Yield the tables: what is told of each mistake, by clarity and by scatter, and false alarms."""
    yield f"{strips} strips a mistake; told, of those whose index moves by {MOVES:g} stop or more"
    yield f"{'':36}{'all':>12}{'clear':>12}   by scatter 0.005 0.010 0.015 0.020 0.030"
    for name in MISTAKES:
        found = list(trials(name, strips))
        plain = [t for t in found if t.clear >= CLEARLY.get(name, CLEAR)]
        by_noise = [[t for t in found if t.case.noise == noise] for noise in (0.005, 0.010, 0.015, 0.020, 0.030)]
        yield f"{name:36}{_share(found)}{_share(plain)}   {''.join(_share(part) for part in by_noise)}"
    yield ""
    yield "clean strips suspected, per cent"
    for group, codes in clean(count).items():
        of = codes["strips"]
        each = ", ".join(f"{c} {n}" for c, n in codes.most_common() if c not in ("strips", "suspected"))
        yield f"  {group:24}{100 * codes['suspected'] / of:6.2f} of {of:5d}   {each}"


def _share(found: list[Trial]) -> str:
    if not found:
        return f"{'-':>12}"
    return f"{100 * np.mean([bool(t.codes) for t in found]):7.0f} /{len(found):3d}"


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--strips", type=int, default=400)
    parser.add_argument("--clean", type=int, default=2000)
    wanted = parser.parse_args()
    for line in report(wanted.strips, wanted.clean):
        print(line, flush=True)


if __name__ == "__main__":
    main()
