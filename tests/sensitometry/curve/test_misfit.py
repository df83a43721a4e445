"""A kind that is not known, or that the readings contradict; a curve that its steps do not follow."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from curves import StripError, fit_curve
from curves.sensitometry.core.units import FloatArray
from tests.sensitometry.shapes import STEPS, slide


def rising(by: float, noise: float, seed: int = 0) -> FloatArray:
    """Return readings that rise by so much along the strip, with noise [density]."""
    rng = np.random.default_rng(seed)
    return np.asarray(np.round(2.0 + by * np.linspace(0.0, 1.0, STEPS.size) + noise * rng.standard_normal(21), 2))


@pytest.mark.parametrize("kind", ["Negative", "neg", "slide", "", None, 1])
def test_a_kind_that_is_not_known_is_refused(kind: Any) -> None:
    with pytest.raises(StripError) as caught:
        fit_curve(STEPS, slide(STEPS), kind=kind)
    assert str(caught.value).startswith(f'kind: {kind!r} is not known; needed: "negative" or "reversal".')
    if kind in ("Negative", "neg"):
        assert caught.value.hint == "write 'negative'"


@pytest.mark.parametrize(
    ("kind", "way", "other"), [("negative", "falls", "reversal"), ("reversal", "rises", "negative")]
)
def test_a_kind_that_the_readings_contradict_is_refused_in_words(kind: Any, way: str, other: str) -> None:
    readings = slide(STEPS) if kind == "negative" else slide(STEPS)[::-1]
    with pytest.raises(StripError) as caught:
        fit_curve(STEPS, readings, kind=kind)
    assert str(caught.value) == (
        f'the kind is {kind}, but density {way} with exposure; needed: kind "{other}", or readings in the order of the'
        " wedge, step 1 at its clear end.\nTry: check the kind, and whether the strip was read from its other end."
    )


def test_a_change_of_three_tenths_from_half_to_half_is_the_most_that_is_not_refused() -> None:
    halves = np.where(np.median(STEPS) < STEPS, 1.0, 0.0)
    with pytest.raises(StripError, match="the kind is reversal"):
        fit_curve(STEPS, 1.0 + 0.301 * halves, kind="reversal", draws=0)
    assert fit_curve(STEPS, 1.0 + 0.299 * halves, kind="reversal", draws=0).misfit is not None


@pytest.mark.parametrize("by", [0.05, 0.10, 0.25])
def test_a_mild_movement_against_the_kind_is_flagged_and_sigma_is_the_scatter_about_the_curve(by: float) -> None:
    curve = fit_curve(STEPS, rising(by, 0.005), kind="reversal")
    assert curve.misfit == f"density rises with exposure, by {by:.2f} along the strip, as no reversal does"
    scatter = float(curve.residual[curve.kept].std())
    # A straight movement of `by` about its mean: by / sqrt(12).
    assert scatter == pytest.approx(by / np.sqrt(12.0), rel=0.25)
    assert curve.sigma == pytest.approx(scatter, rel=0.15)
    assert "does not follow its steps" in repr(curve)
    assert fit_curve(STEPS, 4.0 - rising(by, 0.005), kind="negative").misfit is not None


def test_steps_that_lie_off_the_curve_in_a_run_are_flagged() -> None:
    # The last fifth of the strip turns back by 0.20: solarised, or read the wrong way round.
    readings = slide(STEPS) + 0.20 * np.clip((STEPS + 0.6) / 0.6, 0.0, 1.0)
    readings = np.round(readings + 0.01 * np.random.default_rng(3).standard_normal(21), 2)
    misfit = fit_curve(STEPS, readings, kind="reversal", draws=0).misfit
    assert misfit is not None
    assert misfit.startswith("the steps lie 0.0")
    assert "in runs, not at random" in misfit


@pytest.mark.parametrize("steps", [5, 7, 11, 21, 31])
@pytest.mark.parametrize("noise", [0.0, 0.005, 0.015, 0.03])
def test_strips_that_follow_their_curve_are_not_accused(steps: int, noise: float) -> None:
    x = np.linspace(-3.0, 0.0, steps)
    level, straight, corner = np.full(steps, 2.0), 2.0 - 0.7 * x, np.clip(2.0 - 1.3 * (x + 2.0), 0.2, 2.0)
    for number, density in enumerate((slide(x), level, straight, corner)):
        for seed in range(5):
            rng = np.random.default_rng((number, seed))
            readings = np.round(density + noise * rng.standard_normal(steps), 2)
            assert fit_curve(x, readings, kind="reversal", draws=0).misfit is None


def test_sigma_is_what_it_was_where_the_readings_leave_the_curve_free() -> None:
    curve = fit_curve(STEPS, np.round(2.0 - 0.7 * STEPS, 2), kind="reversal", draws=0)
    assert curve.misfit is None
    assert 0.5 * curve.residual.std() < curve.sigma < 0.01


@pytest.mark.parametrize(
    ("changed", "message"),
    [
        ({"repeatability": 0.0}, "repeatability: 0 is out of range"),
        ({"repeatability": "0.01"}, "repeatability: '0.01' is not a number"),
        ({"draws": -1}, "draws: -1 is not a whole number"),
        ({"draws": 10.5}, "draws: 10.5 is not a whole number"),
        ({"seed": -1}, "seed: -1 is not a whole number"),
        ({"step_uncertainty": -0.01}, "step_uncertainty is not an uncertainty for each reading"),
        ({"step_uncertainty": [0.01, 0.02]}, "step_uncertainty is not an uncertainty for each reading"),
        ({"log_h": [*STEPS[:20], None]}, "a log H is not given"),
        ({"density": ["2.7"] * 21}, "density, number 1: '2.7' is not a number"),
    ],
)
def test_an_argument_out_of_range_is_refused_in_words(changed: dict[str, Any], message: str) -> None:
    with pytest.raises(StripError) as caught:
        fit_curve(**{"log_h": STEPS, "density": slide(STEPS), "kind": "reversal", **changed})
    assert str(caught.value).startswith(message)
