"""How well, and how fast, ways of drawing a curve through readings find the two points that a speed rests on."""

from __future__ import annotations

import importlib.util
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import PchipInterpolator, make_smoothing_spline
from scipy.optimize import isotonic_regression, least_squares

from curves.sensitometry.core.units import FloatArray
from curves.sensitometry.curve.fit import fit_curve
from curves.sensitometry.measures.points import crossing
from tests.bench.families import SimulatedStrip, TwoNormals, simulate

STRIPS, SEED = 500, 2024
NET = (0.20, 2.00)
FINE = 3001

Fitted = Callable[[FloatArray], FloatArray]
Method = Callable[[FloatArray, FloatArray], Fitted]


def straight_lines(log_h: FloatArray, density: FloatArray) -> Fitted:
    """Join the readings as they are."""
    return lambda x: np.interp(x, log_h, density)


def isotonic(log_h: FloatArray, density: FloatArray) -> Fitted:
    """Join the closest falling readings."""
    falling = isotonic_regression(density, increasing=False).x
    return lambda x: np.interp(x, log_h, falling)


def pchip(log_h: FloatArray, density: FloatArray) -> Fitted:
    """Interpolate the closest falling readings by monotone cubics."""
    return PchipInterpolator(log_h, isotonic_regression(density, increasing=False).x)


def smoothing_spline(log_h: FloatArray, density: FloatArray) -> Fitted:
    """Smooth without regard to direction, the penalty chosen by generalised cross-validation."""
    return make_smoothing_spline(log_h, density)


def logistic(log_h: FloatArray, density: FloatArray) -> Fitted:
    """Fit one logistic with free ends, slope and centre."""

    def curve(p: FloatArray, x: FloatArray) -> FloatArray:
        return np.asarray(p[0] + p[1] / (1.0 + np.exp(np.clip(p[2] * (x - p[3]), -500.0, 500.0))))

    def residual(p: FloatArray) -> FloatArray:
        return curve(p, log_h) - density

    start = [density.min(), np.ptp(density), 5.0, float(np.median(log_h))]
    found = least_squares(residual, start).x
    return lambda x: curve(found, x)


def own_formula(log_h: FloatArray, density: FloatArray) -> Fitted:
    """Fit the very formula that the strips were made with: what nobody who tests a film can know."""

    def curve(p: FloatArray) -> TwoNormals:
        return TwoNormals(p[0], (p[1], p[2]), (p[3], p[4]), (p[5], p[6]))

    def residual(p: FloatArray) -> FloatArray:
        return curve(p).density(log_h) - density

    height, middle = np.ptp(density) / 2, float(np.interp(-density.mean(), -np.sort(density)[::-1], log_h))
    start = [density.min(), height, height, middle - 0.2, middle + 0.2, 0.3, 0.3]
    lower = [-0.5, 0.0, 0.0, log_h[0] - 1.0, log_h[0] - 1.0, 0.05, 0.05]
    upper = [1.5, 5.0, 5.0, log_h[-1] + 1.0, log_h[-1] + 1.0, 2.0, 2.0]
    found = least_squares(residual, start, bounds=(lower, upper)).x
    return curve(found).density


def additive_model(log_h: FloatArray, density: FloatArray) -> Fitted:
    """Fit a monotone generalised additive model, its penalty searched by generalised cross-validation."""
    from pygam import LinearGAM, s

    model = LinearGAM(s(0, n_splines=20, constraints="monotonic_dec"))
    model.gridsearch(log_h[:, None], density, progress=False)
    return lambda x: np.asarray(model.predict(x[:, None]))


def ours(draws: int) -> Method:
    """Return this package's fit, with ``draws`` simulated curves for intervals."""

    def fit(log_h: FloatArray, density: FloatArray) -> Fitted:
        return fit_curve(log_h, density, kind="reversal", draws=draws).density_at

    return fit


def methods() -> dict[str, Method]:
    """Return the ways to compare, by name."""
    found = {
        "straight lines, readings as they are": straight_lines,
        "isotonic regression, straight lines": isotonic,
        "isotonic regression, PCHIP": pchip,
        "smoothing spline (GCV)": smoothing_spline,
        "one logistic": logistic,
        "the true formula, least squares": own_formula,
    }
    if importlib.util.find_spec("pygam"):
        found["monotone additive model (pygam)"] = additive_model
    return found | {"curves.fit_curve, no draws": ours(0), "curves.fit_curve": ours(1000)}


def last_crossing(x: FloatArray, density: FloatArray, level: float) -> float:
    """Return the highest log H where a mostly falling curve passes ``level``; NaN if it never does."""
    above = np.flatnonzero(density >= level)
    if above.size == 0 or above[-1] == x.size - 1:
        return float("nan")
    i = int(above[-1])
    return float(x[i] + (density[i] - level) / (density[i] - density[i + 1]) * (x[i + 1] - x[i]))


@dataclass(frozen=True)
class Score:
    """One method on all strips.

    Attributes:
        rms: root mean square error of log H at each net density [log10].
        lost: points not found [unitless].
        milliseconds: median time of one fit [ms].
    """

    rms: tuple[float, ...]
    lost: int
    milliseconds: float


def score(method: Method, strips: list[SimulatedStrip]) -> Score:
    """Fit every strip and compare where the curve passes the net densities, true Dmin known, with the truth."""
    errors, spent = [], []
    for strip in strips:
        start = time.perf_counter()
        fitted = method(strip.log_h, strip.density)
        spent.append(time.perf_counter() - start)
        x = np.linspace(strip.log_h[0], strip.log_h[-1], FINE)
        density = fitted(x)
        errors.append([last_crossing(x, density, strip.truth.dmin + n) - strip.truth.log_h_at(n) for n in NET])
    table = np.array(errors)
    rms = np.sqrt(np.nanmean(table**2, axis=0))
    return Score(tuple(rms.tolist()), int(np.isnan(table).sum()), 1000.0 * float(np.median(spent)))


def coverage(strips: list[SimulatedStrip]) -> list[tuple[float, float]]:
    """Return for each net density how often the 95 % interval held the truth, and its median width [log10]."""
    held, width = np.empty((len(strips), len(NET))), np.empty((len(strips), len(NET)))
    for i, strip in enumerate(strips):
        curve = fit_curve(strip.log_h, strip.density, kind="reversal", seed=i)
        for j, net in enumerate(NET):
            level = np.full(len(curve.draws), strip.truth.dmin + net)
            low, high = np.nanquantile(crossing(curve.grid, curve.draws, level), [0.025, 0.975])
            held[i, j] = low <= strip.truth.log_h_at(net) <= high
            width[i, j] = high - low
    return list(zip(held.mean(axis=0).tolist(), np.median(width, axis=0).tolist(), strict=True))


def report() -> Iterator[str]:
    """Yield the tables, line by line."""
    rng = np.random.default_rng(SEED)
    strips = [simulate(rng) for _ in range(STRIPS)]
    yield f"{STRIPS} strips of 21 steps of 0.15; readings scatter 0.015 and are rounded to 0.01; true Dmin known."
    yield f"{'rms error of log H at':38}  Dmin+0.20  Dmin+2.00  lost  ms/fit   x ours"
    if "monotone additive model (pygam)" not in methods():
        yield "(a monotone additive model is left out: pygam is not installed)"
    scores = {name: score(method, strips) for name, method in methods().items()}
    own = scores["curves.fit_curve, no draws"].milliseconds
    for name, found in scores.items():
        t, s = found.rms
        times = f"{found.milliseconds:7.2f}  {found.milliseconds / own:7.2f}"
        yield f"{name:38}  {t:9.4f}  {s:9.4f}  {found.lost:4d} {times}"
    yield ""
    yield "95 % intervals of curves.fit_curve:"
    for net, (held, width) in zip(NET, coverage(strips), strict=True):
        yield f"  Dmin+{net:.2f}: hold the truth in {100 * held:.1f} % of strips, median width {width:.3f} log H"
