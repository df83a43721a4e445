"""Four non-linear regression datasets of NIST's Statistical Reference Datasets, fitted without their formulas.

Source: NIST/ITL StRD, Nonlinear Least Squares Regression: Rat42 and Rat43 (sigmoid growth, observed), Thurber (a
response against the log of a density, observed), MGH09 (a rational function, generated). The files beside this one
are NIST's; data, certified parameters and certified residual standard deviation are read from them.

Responses are scaled so that the certified residual standard deviation is 0.01, the scatter of a densitometer. MGH09's
x halves from point to point, as exposure does, so its log is taken.

A free monotone curve has no formula to help it and no formula to be wrong by, so it must scatter as the certified
fit does: neither more (it would miss the shape) nor much less (it would follow the noise). Both scatters are per
degree of freedom, the curve's being its effective number of parameters. The 20 % allowed either way covers the few
degrees of freedom that these scatters rest on (6 for Rat42: the standard error of such a scatter is 29 %).
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from curves.sensitometry.core.units import FloatArray
from curves.sensitometry.curve.fit import fit_curve

FOLDER = Path(__file__).parent / "nist_strd"
SCATTER = 0.01

MODELS: dict[str, Callable[[FloatArray, FloatArray], FloatArray]] = {
    "Rat42": lambda x, b: b[0] / (1 + np.exp(b[1] - b[2] * x)),
    "Rat43": lambda x, b: b[0] / (1 + np.exp(b[1] - b[2] * x)) ** (1 / b[3]),
    "Thurber": lambda x, b: (b[0] + b[1] * x + b[2] * x**2 + b[3] * x**3) / (1 + b[4] * x + b[5] * x**2 + b[6] * x**3),
    "MGH09": lambda x, b: b[0] * (x**2 + b[1] * x) / (x**2 + b[2] * x + b[3]),
}


@dataclass(frozen=True, eq=False)
class Dataset:
    """One dataset: response and predictor (n,), certified parameters, residual deviation and sum of squares."""

    name: str
    y: FloatArray
    x: FloatArray
    parameters: FloatArray
    deviation: float
    sum_of_squares: float

    @classmethod
    def read(cls, name: str) -> Dataset:
        """Read NIST's file."""
        text = (FOLDER / f"{name}.dat").read_text(encoding="utf-8")
        rows = text.split("Data:")[-1].splitlines()[1:]
        data = np.array([[float(cell) for cell in row.split()] for row in rows if row.strip()])
        certified = re.findall(r"^\s+b\d =\s+\S+\s+\S+\s+(\S+)\s+\S+$", text, re.MULTILINE)

        def number(label: str) -> float:
            found = re.search(rf"^{label}:\s+(\S+)$", text, re.MULTILINE)
            assert found is not None
            return float(found[1])

        deviation, squares = number("Residual Standard Deviation"), number("Residual Sum of Squares")
        return cls(name, data[:, 0], data[:, 1], np.array(certified, dtype=np.float64), deviation, squares)

    def model(self, x: FloatArray) -> FloatArray:
        """Return the certified curve at ``x``."""
        return MODELS[self.name](x, self.parameters)

    @property
    def logarithmic(self) -> bool:
        """True if the curve is fitted against log10 x."""
        return self.name == "MGH09"


@pytest.fixture(params=sorted(MODELS))
def dataset(request: pytest.FixtureRequest) -> Dataset:
    return Dataset.read(request.param)


def scaled(dataset: Dataset) -> tuple[FloatArray, FloatArray]:
    """Return the predictor as it is fitted, and the response in units where its scatter is 0.01."""
    x = np.log10(dataset.x) if dataset.logarithmic else dataset.x
    return x, dataset.y * SCATTER / dataset.deviation


def test_the_files_are_read_as_nist_certifies_them(dataset: Dataset) -> None:
    # Published: the certified residual sum of squares, to ten digits.
    squares = float(((dataset.y - dataset.model(dataset.x)) ** 2).sum())
    assert squares == pytest.approx(dataset.sum_of_squares, rel=1e-9)


def test_the_free_curve_scatters_as_the_certified_fit_does(dataset: Dataset) -> None:
    curve = fit_curve(*scaled(dataset), kind="negative", draws=0)
    assert curve.flags == (None,) * dataset.y.size, "no point of these data is a misreading"
    scatter = np.sqrt((curve.residual**2).sum() / (dataset.y.size - curve.freedom))
    assert 0.8 * SCATTER <= scatter <= 1.2 * SCATTER


def test_the_free_curve_stays_within_the_certified_scatter_of_the_certified_curve(dataset: Dataset) -> None:
    curve = fit_curve(*scaled(dataset), kind="negative", draws=0)
    x = 10**curve.grid if dataset.logarithmic else curve.grid
    certified = dataset.model(x) * SCATTER / dataset.deviation
    assert np.abs(curve.grid_density - certified).max() <= SCATTER


def test_the_interval_holds_the_certified_curve(dataset: Dataset) -> None:
    curve = fit_curve(*scaled(dataset), kind="negative")
    x = 10**curve.grid if dataset.logarithmic else curve.grid
    certified = dataset.model(x) * SCATTER / dataset.deviation
    inside = (curve.low <= certified) & (certified <= curve.high)
    assert inside.mean() >= 0.95
    # ... and not by being wide: half of it is narrower than two and a half standard deviations of one point.
    assert np.median(curve.high - curve.low) <= 2 * 2.5 * SCATTER


def test_a_falling_curve_is_fitted_as_its_mirror_image(dataset: Dataset) -> None:
    x, y = scaled(dataset)
    rising, falling = fit_curve(x, y, kind="negative", draws=0), fit_curve(x, -y, kind="reversal", draws=0)
    assert falling.grid_density == pytest.approx(-rising.grid_density, abs=1e-9)
