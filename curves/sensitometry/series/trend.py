"""The trend of one number against a varied condition, on all rows of the draws.

The number on each strip is the trend at the strip's setting, with the strip's own errors, and with a scatter from strip
to strip that is the process's. The trend is a straight line with a random bend (an integrated Wiener process, whose
posterior mean is a cubic smoothing spline: Wahba 1978, from memory). The size of the bend and the scatter are drawn
from what the strips say of both (restricted likelihood) and from what is usual. Each row fits the numbers of the same
row of every strip, so that an error that strips share moves a row's trend as a whole, and counts once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.optimize import isotonic_regression
from scipy.special import ndtr, ndtri

from curves.sensitometry.comparison.numbers import Scale
from curves.sensitometry.core import streams
from curves.sensitometry.core.quantity import ENDS, Quantity
from curves.sensitometry.core.units import FloatArray, IndexArray
from curves.sensitometry.core.values import POSITIVE, check_fields
from curves.sensitometry.uncertainty.intervals import summarise

FEWEST_SETTINGS = 3
"""Fewest settings between which a trend is drawn; between two only the ends are known [unitless]."""

_PLACES = 41
"""Places of a trend between its ends, beside the settings themselves."""

_TRIED = 14
"""Sizes of the bend, and of the scatter, that are weighed."""

_BEND = 0.25
"""Usual bend of a trend at its middle, as a share of its whole change: our own choice [unitless]."""

_SPREAD = 0.7
"""Standard deviation of the logarithm of a process's scatter about the usual one, a factor of two: our own choice."""

_SAG = 1.0 / 48.0
"""Variance of an integrated Wiener process on (0, 1) at the middle, about the line between its ends [unitless]."""

_DOUBT, _CERTAIN = 2.0, 3.0
"""Contradiction of the usual direction at which the first trend is left free, and from which all are [standard
uncertainties]: our own choice."""

_FEW, _ENOUGH = 0.01, 0.05
"""Share of the trends that agree with the bounds of strips up to which no trend heeds them, and from which all do: our
own choice [unitless]."""

ScatterFrom = Literal["stated", "assumed", "strips"]
"""How a scatter from strip to strip is known: stated, assumed since the strips say little, or from the strips."""


@dataclass(frozen=True)
class Repeatability:
    """The scatter of one process from strip to strip, put through one by one: standard deviations.

    Attributes:
        stops: of indexes, points and lengths [stops]; None for what the strips show, about a usual 0.08.
        density: of densities [density]; None for what the strips show, about a usual 0.02.
        gradient: of gradients [unitless]; None for what the strips show, about a usual 0.03.

    Raises:
        StripError: a size is not above 0.
    """

    stops: float | None = None
    density: float | None = None
    gradient: float | None = None

    def __post_init__(self) -> None:
        check_fields(self, stops=POSITIVE, density=POSITIVE, gradient=POSITIVE)

    def of(self, scale: Scale) -> float | None:
        """Return the stated scatter of one scale; None if it is not stated."""
        return {"stops": self.stops, "density": self.density, "gradient": self.gradient}[scale]


USUAL_SCATTER: dict[Scale, float] = {"stops": 0.08, "density": 0.02, "gradient": 0.03}
"""Usual scatter from strip to strip of a process in order: our own choice, the size of tanks at home."""


@dataclass(frozen=True, eq=False)
class StripNumbers:
    """One number on the strips of a series, at places from 0 to 1 between the first and the last setting.

    Attributes:
        place: of each strip, (n,) [unitless].
        rows: the number on its scale, row by row, (r, n).
        own: scatter that each strip has beside its rows and beside the process, (n,), standard uncertainties.
        reflected: True if the rows of all strips may lie to one side together, as where a curve's wiggle gains alike.
        bounds: bounds of strips that do not show the number: place, side and end.
    """

    place: FloatArray
    rows: FloatArray
    own: FloatArray
    reflected: bool
    bounds: Sequence[tuple[float, Literal["<", ">"], float]] = ()


@dataclass(frozen=True, eq=False)
class Trend:
    """A number against a condition.

    Attributes:
        place: from 0 to 1 between the first and the last setting, (g,) [unitless].
        rows: the number at each place, row by row, (r, g); row 0 is the estimate.
        low, high: ends of the 95 % interval at each place, (g,), all errors and the scatter of the strips included.
        scatter: scatter from strip to strip, standard deviation.
        scatter_from: how the scatter is known.
        against: how far the strips contradict the usual direction [standard uncertainties]; 0 where there is none.
        drawn: True if the trend is known between the settings; with two settings only its ends are.
        heeded: True if the bounds of strips that do not show the number agree with the trend, which then heeds them.
    """

    place: FloatArray
    rows: FloatArray
    low: FloatArray
    high: FloatArray
    scatter: Quantity
    scatter_from: ScatterFrom
    against: float
    drawn: bool
    heeded: bool

    @property
    def estimate(self) -> FloatArray:
        """The number at each place, (g,)."""
        return np.asarray(self.rows[0])

    @property
    def change(self) -> Quantity:
        """The number at the last setting less the number at the first."""
        return summarise(self.rows[:, -1] - self.rows[:, 0])


def fit_trend(
    numbers: StripNumbers, scale: Scale, matters: float, stated: float | None, way: int, seed: int, *belongs_to: str
) -> Trend:
    """Return the trend of one number.

    Args:
        numbers: the number on the strips, two or more at different places.
        scale: the number's scale.
        matters: difference that does not matter, on the scale.
        stated: scatter from strip to strip where it is stated, on the scale; None to learn it.
        way: usual direction of the number: 1 up, -1 down, 0 not known.
        seed: of the draws.
        belongs_to: what the draws belong to, such as the name of the number.
    """
    drawn = np.unique(numbers.place).size >= FEWEST_SETTINGS
    between = np.linspace(0.0, 1.0, _PLACES) if drawn else np.array([0.0, 1.0])
    place = np.unique(np.concatenate([between, numbers.place]))
    model = _Model(numbers, place, bend=drawn)
    sizes = _sizes(model, USUAL_SCATTER[scale], matters, stated)
    rng = streams.stream(seed, "trend", *belongs_to)
    rows, scatters = _drawn(model, sizes, rng)
    against = _contradiction(rows, np.searchsorted(place, np.unique(numbers.place)), way)
    rows = _directed(rows, way, against)
    rows, kept = _within_bounds(rows, scatters, numbers, place, way, rng)
    low, high = _band(rows, reflected=numbers.reflected)
    return Trend(
        place,
        rows,
        low,
        high,
        summarise(scatters),
        _known_from(scatters, stated),
        against,
        drawn,
        kept,
    )


class _Model:
    """The Gaussian model of one number on the strips: covariances at the strips and at the places of the trend."""

    def __init__(self, numbers: StripNumbers, place: FloatArray, *, bend: bool) -> None:
        self.rows, self.own, self.place = numbers.rows, numbers.own, place
        self.at = np.searchsorted(place, numbers.place)
        draws = numbers.rows[1:]
        self.errors = np.atleast_2d(np.cov(draws, rowvar=False)) + np.diag(numbers.own**2)
        self.bends = _wiener(place) if bend else np.zeros((place.size, place.size))
        self.line = np.stack([np.ones_like(place), place - place.mean()], axis=1)

    def likelihoods(self, bend: FloatArray, scatter: FloatArray) -> FloatArray:
        """Return the logarithm of the restricted likelihood of pairs of bend and scatter, (m,) each and (m,)."""
        covariance, line = self._covariance(bend, scatter), self.line[self.at]
        weight = np.asarray(np.linalg.inv(covariance), dtype=np.float64)
        information = line.T @ weight @ line
        left = self.rows[0] - self._lines(weight, self.rows[0]) @ line.T
        quadratic = (left[:, None, :] @ weight @ left[:, :, None])[:, 0, 0]
        logs = np.linalg.slogdet(covariance)[1] + np.linalg.slogdet(information)[1]
        return np.asarray(-0.5 * (logs + quadratic))

    def predictors(self, bend: FloatArray, scatter: FloatArray) -> FloatArray:
        """Return the matrices that make the trend at all places of the numbers on the strips, (m, g, n)."""
        weight = np.asarray(np.linalg.inv(self._covariance(bend, scatter)), dtype=np.float64)
        line = self.line[self.at]
        lines = self._lines(weight, np.eye(len(line))).swapaxes(1, 2)
        bent = bend[:, None, None] ** 2 * self.bends[:, self.at] @ weight
        return np.asarray(self.line @ lines + bent @ (np.eye(len(line)) - line @ lines))

    def _lines(self, weight: FloatArray, numbers: FloatArray) -> FloatArray:
        """Return the straight line through numbers, by each weight (m, n, n): (m, 2), or (m, n, 2) of (n, n)."""
        line = self.line[self.at]
        fit = np.linalg.solve(line.T @ weight @ line, line.T @ weight)
        return np.asarray((fit @ numbers).swapaxes(1, -1))

    def _covariance(self, bend: FloatArray, scatter: FloatArray) -> FloatArray:
        """Return the covariance of the numbers on the strips for each pair of bend and scatter, (m, n, n)."""
        bends, alone = self.bends[np.ix_(self.at, self.at)], np.eye(len(self.at))
        return np.asarray(self.errors + scatter[:, None, None] ** 2 * alone + bend[:, None, None] ** 2 * bends)


def _wiener(place: FloatArray) -> FloatArray:
    """Return the covariance of an integrated Wiener process whose bend at the middle has variance 1, (g, g)."""
    least, most = np.minimum.outer(place, place), np.maximum.outer(place, place)
    return np.asarray(least**2 * (3.0 * most - least) / 6.0 / _SAG)


@dataclass(frozen=True, eq=False)
class _Sizes:
    """Sizes of the bend and of the scatter that are weighed, with the weight of each pair, all (m,)."""

    bend: FloatArray
    scatter: FloatArray
    weight: FloatArray


def _sizes(model: _Model, usual: float, matters: float, stated: float | None) -> _Sizes:
    """Return the sizes of bend and scatter, with their weights: equally likely beforehand, then by the strips."""
    share = (np.arange(_TRIED) + 0.5) / _TRIED
    change = (model.predictors(np.zeros(1), np.array([usual]))[0] @ model.rows[0])[[0, -1]]
    # A half-Cauchy distribution: mostly little bend, now and then a great one.
    bends = _BEND * np.hypot(change[1] - change[0], matters) * np.tan(0.5 * np.pi * share)
    bends = bends if model.bends.any() else np.zeros(1)
    scatters = usual * np.exp(_SPREAD * ndtri(share)) if stated is None else np.array([stated])
    bend, scatter = (both.ravel() for both in np.meshgrid(bends, scatters))
    logs = model.likelihoods(bend, scatter)
    weight = np.exp(logs - logs.max())
    return _Sizes(bend, scatter, weight / weight.sum())


def _drawn(model: _Model, sizes: _Sizes, rng: np.random.Generator) -> tuple[FloatArray, FloatArray]:
    """Return the trend of every row, (r, g), and the scatter behind each, (r,); row 0 is the estimate."""
    count = len(model.rows) - 1
    chosen = np.searchsorted(np.cumsum(sizes.weight), streams.uniform(rng, count, 1)[:, 0])
    chosen = np.minimum(chosen, sizes.weight.size - 1)
    bends = sizes.bend[chosen, None] * (streams.normal(rng, count, model.place.size) @ _root(model.bends).T)
    scattered = sizes.scatter[chosen, None] * streams.normal(rng, count, len(model.at))
    own = model.own * streams.normal(rng, count, len(model.at))
    # A row of the posterior: a trend drawn beforehand, mended by what the strips say against it.
    numbers = model.rows[1:] - bends[:, model.at] - scattered - own
    predictors = model.predictors(sizes.bend, sizes.scatter)
    estimate = np.tensordot(sizes.weight, predictors, axes=1) @ model.rows[0]
    rows = np.vstack([estimate, bends + np.einsum("rgn,rn->rg", predictors[chosen], numbers)])
    weighed = float(np.exp(sizes.weight @ np.log(sizes.scatter)))
    return rows, np.concatenate([[weighed], sizes.scatter[chosen]])


def _root(covariance: FloatArray) -> FloatArray:
    """Return a matrix whose product with its transpose is a covariance, which may be singular."""
    values, vectors = np.linalg.eigh(covariance)
    return np.asarray(vectors * np.sqrt(np.maximum(values, 0.0)))


def _contradiction(rows: FloatArray, at: IndexArray, way: int) -> float:
    """Return the greatest change against the usual direction between two settings [standard uncertainties]."""
    if way == 0:
        return 0.0
    known = -way * rows[:, at]
    changes = known[:, None, :] - known[:, :, None]
    later = np.triu_indices(len(at), 1)
    estimates, spreads = changes[0][later], changes[1:].std(axis=0)[later]
    return max(0.0, float((estimates / spreads).max()))


def _directed(rows: FloatArray, way: int, against: float) -> FloatArray:
    """Return the trends made monotone in the usual direction, but for those that a contradiction leaves free."""
    if way == 0:
        return rows
    free = np.clip((against - _DOUBT) / (_CERTAIN - _DOUBT), 0.0, 1.0)
    turns = (way * np.diff(rows, axis=1) < 0.0).any(axis=1)
    made = rows.copy()
    for row in np.flatnonzero(turns):
        made[row] = isotonic_regression(rows[row], increasing=way > 0).x
    left = np.arange(len(rows)) > (1.0 - free) * (len(rows) - 1)
    found = np.where(left[:, None], rows, made)
    found[0] = free * rows[0] + (1.0 - free) * made[0]
    return np.asarray(found)


def _within_bounds(
    rows: FloatArray, scatters: FloatArray, numbers: StripNumbers, place: FloatArray, way: int, rng: np.random.Generator
) -> tuple[FloatArray, bool]:
    """Return the trends that agree with the bounds of strips that do not show the number, and True if most heed them.

    A trend stays with the probability that a strip at the bound's setting, scattered about the trend, keeps the bound.
    A bound beyond the ends counts at the end where the usual direction makes it one there too.
    """
    chance = np.ones(len(rows))
    for at, side, end in numbers.bounds:
        sign = 1.0 if side == ">" else -1.0
        beyond = 1 if at > 1.0 else -1 if at < 0.0 else 0
        between_two = place.size == 2 and 0.0 < at < 1.0
        if between_two or (beyond and sign * beyond * way >= 0.0):
            continue
        here = rows[:, int(np.abs(place - at).argmin())]
        chance *= ndtr(sign * (here - end) / scatters)
    share = float(chance[1:].mean())
    heed = float(np.clip((share - _FEW) / (_ENOUGH - _FEW), 0.0, 1.0))
    if not heed or chance.min() == 1.0:
        return rows, bool(heed)
    even = (np.arange(len(rows) - 1) + rng.random()) / (len(rows) - 1)
    places = np.searchsorted(np.cumsum(chance[1:]) / chance[1:].sum(), even)
    agreeing = rows[1:][np.minimum(places, len(rows) - 2)]
    held = rng.permutation(len(rows) - 1) < heed * (len(rows) - 1)
    kept = np.where(held[:, None], agreeing, rows[1:])
    estimate = heed * np.average(rows[1:], axis=0, weights=chance[1:]) + (1.0 - heed) * rows[0]
    return np.vstack([estimate, kept]), heed > 0.5


def _band(rows: FloatArray, *, reflected: bool) -> tuple[FloatArray, FloatArray]:
    """Return the ends of the 95 % interval at each place, (g,) each.

    Args:
        rows: (r, g).
        reflected: True to take at each end the wider of the draws and of the draws reflected about the estimate.
    """
    low, high = np.quantile(rows[1:], ENDS, axis=0)
    other = (2.0 * rows[0] - high, 2.0 * rows[0] - low) if reflected else (rows[0], rows[0])
    return np.minimum(low, other[0]), np.maximum(high, other[1])


def _known_from(scatters: FloatArray, stated: float | None) -> ScatterFrom:
    """Return the origin of a scatter: the strips show it if they narrow what is usual by a fifth."""
    if stated is not None:
        return "stated"
    return "strips" if np.log(scatters[1:]).std() < 0.8 * _SPREAD else "assumed"
