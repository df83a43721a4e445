"""Dmin and Dmax: a patch, the end of the strip beside it, and what becomes of both where they disagree."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from curves import Choices, analyse
from curves.sensitometry.core.units import FloatArray
from curves.sensitometry.measures import points
from curves.sensitometry.strip.exposure import GivenExposure
from curves.sensitometry.strip.strip import Patches, Strip
from curves.sensitometry.uncertainty.ensemble import Ensemble
from tests.sensitometry.shapes import exact, slide

GRID = np.linspace(-3.2, 0.4, 721)
QUICK = Choices(draws=1000, most_draws=1000)


def film(patch: float, *, of_patch: float, of_end: float, density: FloatArray | None = None) -> Ensemble:
    """Return a slide whose level end is 0.15, with a fully exposed patch and the uncertainties of both."""
    curve = exact(GRID, slide(GRID) if density is None else density, fully_exposed=patch)
    return replace(curve, patch_error={"fully_exposed": of_patch}, end_error=(of_end, of_end))


def value(ensemble: Ensemble) -> float:
    found = points.dmin(ensemble).quantity.value
    assert found is not None
    return found


# Weighted means by variance, calculated.
@pytest.mark.parametrize(
    ("of_patch", "of_end", "mean"), [(0.01, 0.01, 0.16), (0.01, 0.02, 0.166), (0.02, 0.01, 0.154), (0.0, 0.01, 0.17)]
)
def test_a_patch_and_a_level_end_are_weighed_by_their_variances(of_patch: float, of_end: float, mean: float) -> None:
    assert value(film(0.17, of_patch=of_patch, of_end=of_end)) == pytest.approx(mean, abs=2e-4)


def test_an_end_that_still_moves_counts_the_less_the_more_it_moves() -> None:
    shares = []
    for cut in (0.3, 0.0, -0.3, -0.6):
        inside = cut >= GRID
        curve = exact(GRID[inside], slide(GRID[inside]), fully_exposed=0.15)
        curve = replace(curve, patch_error={"fully_exposed": 0.01}, end_error=(0.01, 0.01))
        end = float(curve.density[0, -1])
        shares.append((value(curve) - 0.15) / max(end - 0.15, 1e-12))
    assert shares == sorted(shares, reverse=True)
    assert shares[-1] < 0.02


def test_dmin_moves_without_a_jump_as_the_patch_moves_away_from_the_strip() -> None:
    found = [value(film(patch, of_patch=0.01, of_end=0.01)) for patch in np.arange(0.10, 0.40, 0.002)]
    assert max(abs(np.diff(found))) < 0.0021


def strip(patch: float, *, stated: float = 0.01, noise: float = 0.01, seed: int = 1) -> Strip:
    log_h = np.linspace(-3.0, 0.3, 23)
    rng = np.random.default_rng(seed)
    read = slide(log_h) + noise * rng.standard_normal(log_h.size)
    return Strip(
        "invented", "reversal", "visual", GivenExposure("lux-seconds", light="daylight"), log_h, {"visual": read},
        patches=Patches(fully_exposed={"visual": patch}, unexposed={"visual": 3.05}), repeatability=stated,
        reader_zero=0.0, reader_scale=0.0,
    )  # fmt: skip


def test_a_patch_that_contradicts_the_strip_is_told_and_the_interval_holds_both() -> None:
    found = analyse(strip(0.30), QUICK)
    dmin = found.channels["visual"].measures["dmin"]
    assert dmin.low is not None
    assert dmin.high is not None
    # Half the distance to either, within a tenth of it.
    assert dmin.high - dmin.low > 0.9 * 0.15 * 0.8
    told = [n.message for n in found.warnings if n.code == "patch-disagrees"]
    assert len(told) == 1
    assert "the fully exposed patch reads 0.30, and the strip ends at 0.15" in told[0]
    assert "patch-disagrees" not in {n.code for n in analyse(strip(0.15), QUICK).warnings}


def test_the_patches_scatter_as_the_steps_do_where_that_is_more_than_stated() -> None:
    told, u = [], []
    for noise in (0.005, 0.02):
        found = analyse(strip(0.15, stated=0.005, noise=noise), QUICK)
        told.append([n.message for n in found.warnings if n.code == "scatter"])
        u.append(found.channels["visual"].ensemble.patch_error["fully_exposed"])
    assert not told[0]
    assert "times what the record states (0.005)" in told[1][0]
    assert u[0] == pytest.approx(0.005, rel=0.35)
    assert u[1] > 1.9 * 0.005


def test_readings_that_scatter_less_than_stated_count_for_less_but_never_for_as_little_as_the_steps_show() -> None:
    # What the record states counts as three readings more, of that size.
    found = analyse(strip(0.15, stated=0.02, noise=0.004), QUICK)
    assert 0.006 < found.channels["visual"].ensemble.patch_error["fully_exposed"] < 0.015
