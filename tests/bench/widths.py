"""How wide are intervals beside the narrowest honest ones? ``python -m tests.bench.widths --strips 30``.

The narrowest: somebody who knows the true formula of the film and only has to find its numbers from the same readings,
with the same noise and the same declared errors (the bound of Cramer and Rao, with what is declared of the errors as
prior knowledge: Van Trees). Nothing of the package's fit is used to compute it.
"""

from __future__ import annotations

import argparse
import math
from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import partial

import numpy as np
from scipy.special import expit, ndtr

from curves import Choices, analyse
from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import STOP, FloatArray
from tests.bench.coverage import ENDS, LUX, SECONDS, USUAL, read_strip
from tests.bench.index_truth import by_rule, truth_of
from tests.bench.true_numbers import truth

NUMBERS = ("T", "S", "dmin", "gamma", "EI")
NORMAL = 2.0 * 1.959964
"""Width of the middle 95 % of a normal distribution, in its standard deviations."""

Formula = Callable[[FloatArray, FloatArray], FloatArray]


def two_emulsions(p: FloatArray, x: FloatArray) -> FloatArray:
    """Return Dmin and two falling normal distribution functions: heights, centres, widths."""
    return np.asarray(p[0] + p[1] * ndtr((p[3] - x) / p[5]) + p[2] * ndtr((p[4] - x) / p[6]))


def skewed(p: FloatArray, x: FloatArray) -> FloatArray:
    """Return Dmin and a falling generalised logistic: height, centre, steepness, power in the log."""
    return np.asarray(p[0] + p[1] * expit(p[3] * (p[2] - x)) ** math.exp(p[4]))


def hyperbola(p: FloatArray, x: FloatArray) -> FloatArray:
    """Return Dmin and a falling algebraic curve: height, centre, steepness, power."""
    z = p[3] * (p[2] - x)
    return np.asarray(p[0] + p[1] * (0.5 + 0.5 * z / (1.0 + np.abs(z) ** p[4]) ** (1.0 / p[4])))


MIDDLE = math.log10(LUX * SECONDS) - 1.55
"""Log H of the middle of the wedge [log10 lux-seconds]."""
FORMULAS: Mapping[str, tuple[Formula, FloatArray, FloatArray]] = {
    "two emulsions": (
        two_emulsions,
        np.array([0.06, 1.1, 1.1, MIDDLE - 0.35, MIDDLE + 0.10, 0.24, 0.24]),
        np.array([0.45, 1.6, 1.6, MIDDLE - 0.10, MIDDLE + 0.35, 0.40, 0.40]),
    ),
    "skewed": (skewed, np.array([0.06, 2.3, MIDDLE - 0.2, 3.2, -0.7]), np.array([0.45, 3.2, MIDDLE + 0.2, 5.0, 0.7])),
    "hyperbola": (
        hyperbola,
        np.array([0.06, 2.3, MIDDLE - 0.1, 1.8, 2.4]),
        np.array([0.45, 3.2, MIDDLE + 0.1, 2.6, 4.0]),
    ),
}
"""Formula, and the least and the greatest parameters that films are drawn with."""


@dataclass(frozen=True, eq=False)
class KnownFilm:
    """A film by its formula, exposed and read as a usual strip.

    Attributes:
        formula: density of parameters and log H, falling.
        parameters: of the film, (p,).
    """

    formula: Formula
    parameters: FloatArray

    def numbers(self, parameters: FloatArray) -> FloatArray:
        """Return T, S, Dmin and gamma of other parameters, (4,)."""
        found = truth(partial(self.formula, parameters), "reversal")
        return np.array([found[name] for name in NUMBERS[:-1]])

    def readings(self, unknown: FloatArray) -> FloatArray:
        """Return the densities of all steps and both patches without noise, (n + 2,) [density].

        Args:
            unknown: the parameters, then the standardised errors that are common to the strip.
        """
        light, whole, scale, fall, zero, reader = unknown[self.parameters.size :] * ERRORS
        wedge = 0.05 + np.linspace(0.0, 3.0, USUAL.steps)
        uneven = fall * math.sqrt(12.0) * (wedge - wedge.mean()) / np.ptp(wedge)
        log_h = math.log10(LUX * SECONDS) + light - wedge * (1.0 + scale) - whole - uneven
        density = self.formula(unknown[: self.parameters.size], np.concatenate([log_h, ENDS]))
        return np.asarray(density * (1.0 + reader) + zero)

    def narrowest(self) -> FloatArray:
        """Return the width of the narrowest honest 95 % interval of each of `NUMBERS`, (5,), the index in log10."""
        unknown = np.concatenate([self.parameters, np.zeros(ERRORS.size)])
        slopes = jacobian(self.readings, unknown)
        moved = unknown.copy()
        moved[self.parameters.size] = 1e-3 / ERRORS[0]
        gradient = (self.readings(moved) - self.readings(unknown)) / 1e-3
        variance = USUAL.noise**2 + 0.01**2 / 12.0 + (gradient * USUAL.wedge) ** 2
        information = slopes.T @ (slopes / variance[:, None])
        known = np.diag_indices(unknown.size)
        information[known] += np.where(np.arange(unknown.size) < self.parameters.size, 0.0, 1.0)
        film = slice(self.parameters.size)
        covariance = np.asarray(np.linalg.inv(information)[film, film], dtype=np.float64)
        sought = jacobian(self.numbers, self.parameters)
        spread = (sought @ covariance * sought).sum(axis=1)
        return np.append(NORMAL * np.sqrt(spread), self._narrowest_index(covariance))

    def _narrowest_index(self, covariance: FloatArray) -> float:
        """Return the width of the narrowest interval of the index [log10].

        The rule of the index has corners, where a derivative says little: the rule is applied to draws of what each of
        its tones asks for, with the errors of the meter in use and of its constant.
        """
        slopes, rng = jacobian(self._asked, self.parameters), np.random.default_rng(1)
        spread = slopes @ covariance @ slopes.T
        drawn = rng.multivariate_normal(self._asked(self.parameters), spread, INDEX_DRAWS)
        constant = rng.uniform(-0.5, 0.5, INDEX_DRAWS) * math.log10(14.0 / 12.5)
        found = []
        for row, k in zip(drawn, constant, strict=True):
            tones = dict(zip(TONES, 10.0 ** row[1:], strict=True))
            asked = {name: ei if name == "middle" else ei * 10.0**k for name, ei in tones.items()}
            found.append(math.log10(by_rule(float(row[0]), asked)[0]))
        return float(np.ptp(np.quantile(found + METER * rng.standard_normal(INDEX_DRAWS), [0.025, 0.975])))

    def _asked(self, parameters: FloatArray) -> FloatArray:
        """Return Dmin, and the log of the index that each of `TONES` asks for, of other parameters, (7,)."""
        true = truth_of(partial(self.formula, parameters))
        return np.array([true.dmin, *(math.log10(getattr(true, name)) for name in TONES)])


INDEX_DRAWS = 4000
TONES = ("highlight", "middle", "cleared", "shadow", "thin", "dense")
ERRORS = np.array([0.10 * STOP, 0.01, 0.005, 0.03 * STOP, 0.01, 0.005])
"""Standard uncertainties of light, the wedge as a whole, its scale, evenness, the reader's zero and its scale."""
METER = 0.15 * STOP
"""Standard uncertainty of the meter in use [log10]."""


def jacobian(function: Callable[[FloatArray], FloatArray], at: FloatArray) -> FloatArray:
    """Return the derivatives of a function of a vector, by central differences, (values, size)."""
    step = 0.01 * np.maximum(np.abs(at), 0.3)
    moves = np.diag(step)
    columns = [(function(at + m) - function(at - m)) / (2.0 * h) for m, h in zip(moves, step, strict=True)]
    return np.asarray(np.column_stack(columns))


def ratios(family: str, strips: int, draws: int = 1000) -> dict[str, list[float]]:
    """Return for each number how many times as wide its interval is as the narrowest, strip by strip."""
    formula, least, greatest = FORMULAS[family]
    found: dict[str, list[float]] = defaultdict(list)
    for seed in range(1, strips + 1):
        rng = np.random.default_rng((sorted(FORMULAS).index(family), seed))
        parameters = rng.uniform(least, greatest)
        one = read_strip(f"{family} {seed}", partial(formula, parameters), USUAL, rng, {})
        narrowest = KnownFilm(formula, parameters).narrowest()
        analysis = analyse(one.strip, Choices(seed=seed, draws=draws, most_draws=draws))
        channel = analysis.channels["visual"]
        shown = {name: channel.points[name].log_h for name in ("T", "S")}
        shown |= {name: channel.measures[name] for name in ("dmin", "gamma")} | {"EI": analysis.working_ei.recommended}
        for name, least_width in zip(NUMBERS, narrowest, strict=True):
            found[name] += [w / least_width for w in _width(shown[name], in_log=name == "EI")]
    return dict(found)


def _width(quantity: Quantity, *, in_log: bool) -> Iterator[float]:
    """Yield the width of an interval, where there is one."""
    if quantity.low is not None and quantity.high is not None:
        yield math.log10(quantity.high / quantity.low) if in_log else quantity.high - quantity.low


def main() -> None:
    """Print the median ratio of each number, by family."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--strips", type=int, default=30)
    wanted = parser.parse_args()
    print(f"width of the interval over the narrowest honest one: median of {wanted.strips} strips (nine of ten under)")
    print(f"{'':16}", *(f"{name:>14}" for name in NUMBERS))
    for family in FORMULAS:
        found = ratios(family, wanted.strips)
        cells = (f"{np.median(found[n]):5.2f} ({np.quantile(found[n], 0.9):4.2f})" for n in NUMBERS)
        print(f"{family:16}", *(f"{cell:>14}" for cell in cells), flush=True)


if __name__ == "__main__":
    main()
