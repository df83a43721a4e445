"""The error by the matching of a scan: its size along log H, in the patches, in visual density, and in the budget."""

from __future__ import annotations

import numpy as np
import pytest

from curves import analyse, load_strip
from curves.sensitometry.analysis.channels import fit_channels
from curves.sensitometry.core.choices import Choices
from curves.sensitometry.core.units import LAYERS, visual_density
from curves.sensitometry.strip.strip import Strip
from curves.sensitometry.uncertainty.distortions import match_error
from curves.sensitometry.uncertainty.sources import Errors
from tests.draws import FEW_DRAWS
from tests.matched_film import twice_read, write_matched


@pytest.fixture(scope="module")
def strip(tmp_path_factory: pytest.TempPathFactory) -> Strip:
    """Return a matched strip with a fully exposed patch beside it."""
    folder = tmp_path_factory.mktemp("matched")
    rng = np.random.default_rng(5)
    record = write_matched(folder, twice_read(rng, "status A"), "status A", (2, 7, 11, 15, 20), rng)
    text = record.read_text(encoding="utf-8")
    patch = "[patches]\nfully_exposed = { red = 0.10, green = 0.12, blue = 0.14 }\n"
    record.write_text(text + patch, encoding="utf-8")
    return load_strip(record)


def test_the_draws_of_a_layer_spread_as_the_map_is_uncertain(strip: Strip) -> None:
    assert strip.match is not None
    errors = Errors.of(strip, 1000, 1)
    found = match_error(strip, "green", errors)
    assert found is not None
    grid = np.sort(strip.log_h)
    level = np.zeros((1001, grid.size))
    moved, _ = found.moved("reversal", grid, -10.0 * grid + level, level)
    # Steep enough that nothing is held back: what is left is the error itself.
    spread = (moved + 10.0 * grid)[1:].std(axis=0)
    by_row = np.sqrt((strip.match.spread["green"] ** 2).sum(axis=1))[np.argsort(strip.log_h)]
    assert spread == pytest.approx(by_row, rel=0.06)
    assert (moved[0] + 10.0 * grid) == pytest.approx(0.0, abs=1e-12)
    of_patch = found.of_patch("fully_exposed")
    assert of_patch[1:].std() == pytest.approx(
        float(np.sqrt((strip.match.spread_of_patches["fully_exposed"]["green"] ** 2).sum())), rel=0.06
    )


def test_gradients_are_those_of_the_moved_curves(strip: Strip) -> None:
    found = match_error(strip, "green", Errors.of(strip, 20, 1))
    assert found is not None
    grid = np.linspace(strip.log_h.min(), strip.log_h.max(), 2001)
    steep = np.tile(-10.0 * grid, (21, 1))
    moved, gradient = found.moved("reversal", grid, steep, np.full_like(steep, -10.0))
    # By differences of the moved curves, off the steps themselves, where the straight pieces meet.
    between = np.abs(grid[:, None] - np.sort(strip.log_h)).min(axis=1) > 0.005
    assert gradient[:, between] == pytest.approx(np.gradient(moved, grid, axis=1)[:, between], abs=1e-6)
    assert gradient[1:].std() > 0.01


def test_no_curve_turns_back(strip: Strip) -> None:
    found = match_error(strip, "red", Errors.of(strip, 200, 1))
    assert found is not None
    grid = np.linspace(strip.log_h.min(), strip.log_h.max(), 41)
    flat = np.zeros((201, 41))
    density, gradient = found.moved("reversal", grid, flat, flat)
    assert (np.diff(density, axis=1) <= 1e-12).all()
    assert (gradient <= 0.0).all()
    risen, _ = found.moved("negative", grid, flat, flat)
    assert (np.diff(risen, axis=1) >= -1e-12).all()


def test_visual_density_takes_of_each_layer_what_it_has_in_it(strip: Strip) -> None:
    errors = Errors.of(strip, 300, 1)
    layers = [match_error(strip, c, errors) for c in LAYERS]
    visual = match_error(strip, "visual", errors)
    assert visual is not None
    row = int(np.argsort(strip.log_h)[10])
    moved = [strip.readings[c][row] + of.drawn @ of.size[10] for c, of in zip(LAYERS, layers, strict=True)
             if of is not None]  # fmt: skip
    # By the formula of the estimate itself, on the moved layers: the same but for what is not of first order.
    expected = visual_density(*moved) - visual_density(*(strip.readings[c][row] for c in LAYERS))
    found = visual.drawn @ visual.size[10]
    assert found.std() == pytest.approx(expected.std(), rel=0.05)
    assert np.corrcoef(found, expected)[0, 1] > 0.995
    patch = [float(strip.patches.fully_exposed[c]) for c in LAYERS]
    moved = [d + of.of_patch("fully_exposed") for d, of in zip(patch, layers, strict=True) if of is not None]
    expected = visual_density(*moved) - visual_density(*patch)
    assert visual.of_patch("fully_exposed").std() == pytest.approx(expected.std(), rel=0.05)


def test_the_matching_is_a_source_of_its_own_and_nothing_is_drawn_without_it(strip: Strip) -> None:
    errors = Errors.of(strip, 100, 1)
    assert match_error(strip, "red", errors.only("zero")) is None
    source = errors.sources["match"]
    assert (source.name, source.unit, source.assumed) == ("matching to status A", "density", True)
    assert strip.match is not None
    assert source.u == strip.match.uncertainty
    assert "scan" not in errors.sources
    found = analyse(strip, FEW_DRAWS)
    assert found.working_ei.budget is not None
    assert "match" in {line.key for line in found.working_ei.budget.lines}
    codes = [notice.code for notice in found.warnings]
    assert "scan-matched" in codes
    assert "scan-density" not in codes
    assert "scan-flare" not in codes
    why_not = found.speeds["iso_2240"].why_not
    assert "densities come from a scan and were matched to a densitometer's, not read" in why_not
    assert not found.speeds["iso_2240"].conforms


def test_two_strips_that_are_matched_by_the_same_patches_share_the_error(strip: Strip) -> None:
    first, second = (match_error(strip, "blue", Errors.of(strip, 50, 1)) for _ in range(2))
    assert first is not None
    assert second is not None
    assert np.array_equal(first.drawn, second.drawn)


def test_a_source_that_a_strip_lacks_draws_nothing(strip: Strip) -> None:
    bare = Errors.of(strip, 10, 1).only("zero", "grey frame")
    assert bare.active == {"zero"}
    curves = {c: fit.with_errors(bare, Choices()) for c, fit in fit_channels(strip).items()}
    assert set(curves) == {"red", "green", "blue", "visual"}
