"""`curves filters --from-pictures`: a filter's own density from two pictures, made here with a known density."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import tifffile

from curves.files.filters.drawer import read_drawer
from tests.commands.run import run
from tests.files.pictures.dng import write_dng
from tests.files.results.schema import unpublished

TRUE = np.array([0.05, 0.42, 0.90])
BLACK, WHITE = 256, 4095


def mosaic(
    densities: np.ndarray[tuple[int], np.dtype[np.float64]], seed: int
) -> np.ndarray[tuple[int, int], np.dtype[np.uint16]]:
    """Return the mosaic of an evenly lit table through a filter, with a camera's noise."""
    rng = np.random.default_rng(seed)
    red, green, blue = 3000.0 * np.array([0.8, 1.0, 0.7]) * 10.0**-densities
    cells = np.tile(np.array([[red, green], [green, blue]]), (120, 160))
    noisy = cells + np.sqrt(cells) * rng.standard_normal(cells.shape)
    return np.asarray(np.clip(np.rint(BLACK + noisy), 0, WHITE), dtype=np.uint16)


def photographed(folder: Path) -> None:
    """Write the table beside the filter and through it as raw files."""
    write_dng(folder / "open.dng", mosaic(np.zeros(3), 1))
    write_dng(folder / "amber.dng", mosaic(TRUE, 2))


PICTURES = ("--from-pictures", "open.dng", "amber.dng", "--drawer", "drawer.csv", "--name", "amber")


def test_a_filter_comes_into_the_drawer_from_two_pictures(tmp_path: Path) -> None:
    photographed(tmp_path)
    done = run(tmp_path, "filters", *PICTURES)
    assert done.returncode == 0, done.stderr
    assert "A camera's red, green and blue are neither the film's layers nor status A or M" in " ".join(
        done.stdout.split()
    )
    one = read_drawer(tmp_path / "drawer.csv")[0]
    assert (one.name, one.source) == ("amber", "camera")
    assert one.densities == pytest.approx(TRUE, abs=0.005)
    # 0.06 for a colour as strong as this, and almost nothing by the pictures.
    assert one.uncertainty == pytest.approx(0.06, abs=0.002)


def test_json_has_the_densities_and_the_scatter_of_the_pictures(tmp_path: Path) -> None:
    photographed(tmp_path)
    content = json.loads(run(tmp_path, "filters", *PICTURES, "--area", "20,20,140,100", "--json").stdout)
    assert unpublished(content, "photographed filter") == []
    for channel, true in zip(("red", "green", "blue"), TRUE, strict=True):
        layer = content["layers"][channel]
        assert abs(layer["density"] - true) < 4 * layer["u"] + 0.0005
        assert 0.0 < layer["u"] < 0.005


def test_pictures_the_wrong_way_round_are_refused(tmp_path: Path) -> None:
    photographed(tmp_path)
    done = run(
        tmp_path, "filters", "--from-pictures", "amber.dng", "open.dng", "--drawer", "drawer.csv", "--name", "amber"
    )
    assert "there is more light through the filter than beside it" in done.stderr
    assert not (tmp_path / "drawer.csv").exists()


def test_clipped_and_grey_pictures_are_refused(tmp_path: Path) -> None:
    photographed(tmp_path)
    write_dng(tmp_path / "open.dng", np.full((240, 320), WHITE, np.uint16))
    assert "red is beyond the scale" in run(tmp_path, "filters", *PICTURES).stderr
    tifffile.imwrite(tmp_path / "grey.tif", np.full((100, 100), 30000, np.uint16), photometric="minisblack")
    done = run(
        tmp_path, "filters", "--from-pictures", "grey.tif", "grey.tif", "--drawer", "drawer.csv", "--name", "amber"
    )
    assert "the picture is grey" in done.stderr


def test_pictures_of_8_bits_need_their_encoding(tmp_path: Path) -> None:
    for name, density in (("open", 0.0), ("amber", 0.3)):
        light = 0.6 * 10.0**-density
        number = round(255 * (1.055 * light ** (1 / 2.4) - 0.055))
        tifffile.imwrite(tmp_path / f"{name}.tif", np.full((60, 60, 3), number, np.uint8), photometric="rgb")
    words = ("--from-pictures", "open.tif", "amber.tif", "--drawer", "drawer.csv", "--name", "grey")
    assert "looks encoded for display" in run(tmp_path, "filters", *words).stderr
    assert run(tmp_path, "filters", *words, "--encoding", "srgb").returncode == 0
    # A code of 8 bits is worth 0.003 of density there: half of it may be lost twice.
    assert read_drawer(tmp_path / "drawer.csv")[0].densities == pytest.approx([0.3] * 3, abs=0.005)


def test_one_form_at_a_time(tmp_path: Path) -> None:
    assert run(tmp_path, "filters", "strip.toml", *PICTURES).returncode == 2
