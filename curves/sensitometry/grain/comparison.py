"""Films compared by their grain, at one aperture and one density."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

from scipy.special import ndtri

from curves.errors import GrainError
from curves.sensitometry.core.quantity import ENDS, NORMAL, Quantity
from curves.sensitometry.grain.aperture import UM_PER_INCH
from curves.sensitometry.grain.film_grain import DENSITY, Film, FilmGrain, measure_film
from curves.sensitometry.grain.granularity import APERTURE
from curves.sensitometry.uncertainty.results import Notice

_PITCH_APART = 1.02
"""Ratio of two scans' pixels above which their resolutions are different [unitless]: our own choice."""


@dataclass(frozen=True)
class Verdict:
    """The verdict on the grain of two films.

    Attributes:
        films: names of the two films.
        finer: name of the film with finer grain; None if the films cannot be told apart.
        ratio: granularity of the second film over that of the first [unitless], or the reason why it is missing.
        sentence: the verdict in words.
    """

    films: tuple[str, str]
    finer: str | None
    ratio: Quantity
    sentence: str


@dataclass(frozen=True)
class Comparison:
    """The grain of several films.

    Attributes:
        aperture: diameter of the aperture [um].
        density: visual density at which films are compared [density].
        films: grain of each film.
        verdicts: verdict on each pair.
        warnings: notices about each film, and about films side by side.
    """

    aperture: float
    density: float
    films: tuple[FilmGrain, ...]
    verdicts: tuple[Verdict, ...]
    warnings: tuple[Notice, ...]


def compare_films(films: Sequence[Film], aperture: float = APERTURE, density: float = DENSITY) -> Comparison:
    """Return the grain of films through one aperture, and a verdict for each pair at one visual density.

    Two films differ if the interval of the ratio of their granularities leaves out 1. This interval combines the
    intervals of the two films in the logarithm (method of variance estimates recovery, from memory), widened so that
    all pairs together are right with 95 % (Bonferroni). A film that looks coarser only because the scanner's noise is
    in its number, and not in the other film's, is not called coarser.

    Args:
        films: one or more films, of different names.
        aperture: diameter of the aperture [um].
        density: visual density [density].

    Raises:
        GrainError: two films have the same name, or grain cannot be measured on one of them.
    """
    names = [film.name for film in films]
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice is not None:
        raise GrainError("two films have this name", where=twice, needed="a different name for each film")
    measured = tuple(measure_film(film, aperture, density) for film in films)
    pairs = list(itertools.combinations(measured, 2))
    verdicts = tuple(verdict_on(one, other, pairs=len(pairs)) for one, other in pairs)
    warnings = (*(n for film in measured for n in film.warnings), *_side_by_side(measured))
    return Comparison(aperture, density, measured, verdicts, warnings)


def verdict_on(one: FilmGrain, other: FilmGrain, *, pairs: int = 1) -> Verdict:
    """Return the verdict on two films; ``pairs`` is the number of verdicts that hold together."""
    first, second = (film.channels["visual"].at for film in (one, other))
    names = (one.name, other.name)
    if (one.signs is None) != (other.signs is None):
        touched = one if one.signs is not None else other
        why = f"{touched.name} shows signs of the scanner's own processing: {touched.signs}"
        return Verdict(names, None, Quantity.missing(why), f"{names[0]} and {names[1]} cannot be compared: {why}")
    if first.value is None or second.value is None:
        return _by_bound(names, first, second)
    widened = float(-ndtri(ENDS[0] / pairs) / NORMAL)
    ratio = _ratio(first, second, widened)
    assert ratio.value is not None
    assert ratio.low is not None
    assert ratio.high is not None
    if ratio.low <= 1.0 <= ratio.high:
        span = f"{ratio.low:.2f} and {ratio.high:.2f}"
        return Verdict(
            names, None, ratio,
            f"{one.name} and {other.name} cannot be told apart: the granularity of {other.name} is between {span} times"
            f" that of {one.name}",
        )  # fmt: skip
    finer, coarser = (one.name, other.name) if ratio.low > 1.0 else (other.name, one.name)
    coarse = one if coarser == one.name else other
    if coarse.noise_known == "nothing" and one.noise_known != other.noise_known:
        return Verdict(
            names, None, ratio,
            f"{one.name} and {other.name} cannot be told apart: {coarser} looks coarser, but the scanner's noise counts"
            " as its grain; give a clear frame of its scan",
        )  # fmt: skip
    shown = ratio if ratio.low > 1.0 else Quantity(1.0 / ratio.value, 1.0 / ratio.high, 1.0 / ratio.low)
    times = f"{shown.value:.2f} times ({shown.low:.2f} to {shown.high:.2f})"
    same = "; the scanner's noise is in both, and hides some of it" if coarse.noise_known == "nothing" else ""
    return Verdict(names, finer, ratio, f"{finer} is finer than {coarser}: {coarser} has {times} its granularity{same}")


def _ratio(first: Quantity, second: Quantity, widened: float) -> Quantity:
    """Return second over first with its interval, for films with independent errors."""
    below, above = (_reaches(q, widened) for q in (second, first))
    value = (second.value or 0.0) / (first.value or 1.0)
    low = value * math.exp(-math.hypot(below[0], above[1]))
    high = value * math.exp(min(math.hypot(below[1], above[0]), 50.0))
    return Quantity(value, low, high, "estimated", note="interval widened for all pairs together")


def _reaches(q: Quantity, widened: float) -> tuple[float, float]:
    """Return the length of an interval below and above its value, in the logarithm."""
    assert q.value is not None
    low = q.value if q.low is None else q.low
    high = q.value if q.high is None else q.high
    down = math.log(q.value / low) if low > 0.0 else math.inf
    return widened * down, widened * math.log(high / q.value)


def _by_bound(names: tuple[str, str], first: Quantity, second: Quantity) -> Verdict:
    """Return the verdict where one film has no number: a bound may decide."""
    for finer, coarser, bounded, other in ((*names, first, second), (*names[::-1], second, first)):
        if bounded.bound is None or bounded.bound[0] != "<" or other.low is None:
            continue
        if bounded.bound[1] < other.low:
            least = other.low / bounded.bound[1]
            above, below = (least, None) if first is bounded else (None, 1.0 / least)
            ratio = Quantity.missing(bounded.why or "", above=above, below=below)
            return Verdict(
                names, finer, ratio,
                f"{finer} is finer than {coarser}: {coarser} has more than {least:.2f} times its granularity",
            )  # fmt: skip
    lost = [f"{name}: {q.why}" for name, q in zip(names, (first, second), strict=True) if q.value is None]
    why = "; ".join(lost)
    return Verdict(names, None, Quantity.missing(why), f"{names[0]} and {names[1]} cannot be compared: {why}")


def _side_by_side(films: Sequence[FilmGrain]) -> list[Notice]:
    """Return the notices about films that were scanned or evaluated in different ways."""
    found = []
    if len(films) > 1 and max(f.dpi for f in films) > _PITCH_APART * min(f.dpi for f in films):
        each = ", ".join(f"{f.name} {f.dpi:.0f} dpi" for f in films)
        coarsest = UM_PER_INCH / min(f.dpi for f in films)
        found.append(
            Notice(
                "resolution",
                f"Scans of different resolution: {each}; the aperture is corrected for pixels of"
                f" {coarsest:.1f} um, but not for what the scanner's lens blurs",
            )
        )
    if 0 < sum(f.signs is not None for f in films) < len(films):
        touched = " and ".join(f.name for f in films if f.signs is not None)
        found.append(
            Notice(
                "processing",
                f"{touched} was processed by the scanner, other films were not;"
                " a verdict between them would be one on the scans, not on the films",
            )
        )
    if len({f.estimated for f in films}) > 1:
        found.append(
            Notice(
                "colour",
                "Grey scans stand beside coloured ones: the scanner's own grey is compared with visual density mixed of"
                " red, green and blue",
            )
        )
    if len({f.noise_known for f in films}) > 1:
        found.append(Notice("noise", "The scanner's noise was not taken off in the same way from all films"))
    return found
