"""`curves scan --frames`: a roll of grey cards becomes a strip in one command. The pictures are made here."""

from __future__ import annotations

import json
from pathlib import Path

import imagecodecs
import numpy as np
import pytest
import tifffile

from curves import load_strip
from curves.sensitometry.scan.patch_light import largest_even_area
from tests.commands.run import run
from tests.files.pictures.dng import write_dng
from tests.files.results.schema import unpublished
from tests.simulate import STOP, Array, scenarios

FILM = scenarios()["wren-reversal"].film
STOPS = np.arange(-3.0, 4.0)
CLEAR, DARK = 60000.0, 400.0


def densities() -> Array:
    """Return the densities of the film at each frame: EI 80 gives mid-grey 0.1 lux-seconds."""
    return FILM.density("visual", -1.0 + STOPS * STOP)


def picture(density: float, seed: int, *, uneven: float = 0.0) -> Array:
    """Return light of a frame on an open table: film of 300 x 200 in its middle, a clear border [of its light]."""
    rng = np.random.default_rng(seed)
    light = np.ones((300, 420))
    across = np.linspace(-0.5, 0.5, 300) * uneven
    light[40:260, 50:370] = 10.0**-0.05
    light[50:250, 60:360] = 10.0 ** -(density + across)
    return np.asarray(light * (1.0 + 0.01 * rng.standard_normal(light.shape)))


def roll(folder: Path, *, uneven: int | None = None) -> None:
    """Write a roll of frames as TIFF, its open table and its list."""
    rows = []
    for number, (stops, density) in enumerate(zip(STOPS, densities(), strict=True)):
        light = picture(float(density), number, uneven=0.3 if number == uneven else 0.0)
        numbers = np.clip(np.rint(DARK + light * (CLEAR - DARK)), 0, 65535).astype(np.uint16)
        tifffile.imwrite(folder / f"roll-{number}.tif", numbers, photometric="minisblack")
        rows.append(f"roll-{number}.tif,{stops:g}")
    (folder / "roll.csv").write_text("picture,stops\n" + "\n".join(rows) + "\n", encoding="utf-8")


LIGHT = ("--clear", str(int(CLEAR)), "--dark", str(int(DARK)), "--kind", "reversal", "--ei", "80")


def test_a_roll_becomes_a_strip_of_frames(tmp_path: Path) -> None:
    roll(tmp_path)
    done = run(tmp_path, "scan", "wren-roll", "--frames", "roll.csv", *LIGHT, "--yes")
    assert done.returncode == 0, done.stderr
    assert "roll-3.tif: " in done.stdout
    strip = load_strip(tmp_path / "wren-roll.toml")
    assert (strip.exposure.ei, strip.density) == (80.0, "scan")
    assert strip.position == pytest.approx(STOPS)
    true = densities()
    # Light is averaged over ten thousand pixels: what is left is the rounding of the readings to 0.001.
    assert np.abs(strip.readings["visual"] - true).max() < 0.005


def test_json_names_the_picture_of_each_frame(tmp_path: Path) -> None:
    roll(tmp_path)
    done = run(tmp_path, "scan", "wren-roll", "--frames", "roll.csv", *LIGHT, "--json")
    content = json.loads(done.stdout)
    assert unpublished(content, "scan") == []
    assert [patch["picture"] for patch in content["scan"]["patches"]] == [f"roll-{n}.tif" for n in range(STOPS.size)]
    assert "page" not in content["scan"]


def test_a_rectangle_in_the_table_is_measured_in_place_of_the_largest_even_area(tmp_path: Path) -> None:
    roll(tmp_path, uneven=2)
    rows = (tmp_path / "roll.csv").read_text(encoding="utf-8").replace("stops\n", "stops,left,top,right,bottom\n")
    lines = [f"{line},100,90,320,210" if line.startswith("roll-0") else f"{line},,,," for line in rows.splitlines()[1:]]
    kept = [line for line in lines if not line.startswith("roll-2")]
    (tmp_path / "roll.csv").write_text("\n".join([rows.splitlines()[0], *kept]) + "\n", encoding="utf-8")
    done = run(tmp_path, "scan", "wren-roll", "--frames", "roll.csv", *LIGHT, "--yes")
    assert done.returncode == 0, done.stderr
    assert "roll-0.tif: 100,90,320,210" in done.stdout


@pytest.mark.parametrize("rectangle", ["", "70,60,350,240"])
def test_an_uneven_frame_is_refused_by_name_and_nothing_is_written(tmp_path: Path, rectangle: str) -> None:
    roll(tmp_path, uneven=2)
    if rectangle:
        rows = (tmp_path / "roll.csv").read_text(encoding="utf-8").splitlines()
        text = "\n".join(["picture,stops,left,top,right,bottom", *(f"{row},{rectangle}" for row in rows[1:])])
        (tmp_path / "roll.csv").write_text(text + "\n", encoding="utf-8")
    done = run(tmp_path, "scan", "wren-roll", "--frames", "roll.csv", *LIGHT, "--yes")
    assert done.returncode == 1
    assert "roll.csv, line 4, picture: roll-2.tif" in done.stderr
    assert not (tmp_path / "wren-roll.toml").exists()


@pytest.mark.parametrize(
    ("table", "why"),
    [
        ("picture,step\na.tif,1\n", "'step' is not a known column"),
        ("picture\nroll-0.tif\n", "does not say which picture got which exposure"),
        ("picture,ei\nroll-9.tif,80\n", "there is no picture 'roll-9.tif'"),
        ("picture,ei,left,top,right,bottom\nroll-0.tif,80,1,2,,\n", "a rectangle lacks a side"),
        ("picture,ei\n", "the table has no row"),
    ],
)
def test_a_table_that_is_no_roll_is_refused(tmp_path: Path, table: str, why: str) -> None:
    roll(tmp_path)
    (tmp_path / "roll.csv").write_text(table, encoding="utf-8")
    done = run(tmp_path, "scan", "wren-roll", "--frames", "roll.csv", *LIGHT, "--yes")
    assert (done.returncode, why in done.stderr) == (1, True), done.stderr


def test_a_wedge_or_a_light_does_not_go_with_frames(tmp_path: Path) -> None:
    roll(tmp_path)
    done = run(tmp_path, "scan", "wren-roll", "--frames", "roll.csv", *LIGHT, "--wedge", "21x0.15", "--yes")
    assert "frames of a grey card went through no wedge" in done.stderr
    assert run(tmp_path, "scan", "a.tif", "b", "--frames", "roll.csv").returncode == 2
    assert run(tmp_path, "scan", "a.tif").returncode == 2


def test_raw_files_of_a_camera_are_a_roll_too(tmp_path: Path) -> None:
    rows = []
    for number, (stops, density) in enumerate(zip(STOPS, densities(), strict=True)):
        light = picture(float(density), number)
        numbers = np.clip(np.rint(256 + light * 3400), 0, 4095).astype(np.uint16)
        write_dng(tmp_path / f"roll-{number}.dng", np.repeat(np.repeat(numbers, 2, axis=0), 2, axis=1))
        rows.append(f"roll-{number}.dng,{stops:g}")
    (tmp_path / "roll.csv").write_text("picture,stops\n" + "\n".join(rows) + "\n", encoding="utf-8")
    table = np.full((600, 840), 256 + 3400, np.uint16)
    write_dng(tmp_path / "table.dng", table)
    done = run(
        tmp_path, "scan", "wren-roll", "--frames", "roll.csv", "--clear", "table.dng", "--kind", "reversal",
        "--ei", "80", "--yes",
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    # The camera states its black level: nobody has to assume that dark is zero.
    assert "Dark is not given" not in done.stdout
    strip = load_strip(tmp_path / "wren-roll.toml")
    for channel in ("red", "green", "blue"):
        off = np.abs(strip.readings[channel] - densities())
        # 3400 steps of the sensor hold the open light; at density 2.9 a quarter of a step is 0.03 of density.
        assert off[3:].max() < 0.01
        assert off.max() < 0.06


def test_check_knows_pictures_of_cameras(tmp_path: Path) -> None:
    write_dng(tmp_path / "a.dng", np.full((600, 840), 2000, np.uint16))
    (tmp_path / "a.jpg").write_bytes(imagecodecs.jpeg8_encode(np.full((64, 64), 128, np.uint8), level=90))
    done = run(tmp_path, "check", "a.dng", "a.jpg")
    assert "a.dng: good" in done.stdout
    assert "it has 8 bits, and pictures of 8 bits are nearly always encoded" in " ".join(done.stdout.split())


def test_the_largest_even_area_lies_inside_the_film_and_is_not_the_open_table() -> None:
    found = largest_even_area(picture(1.2, 1)[..., None])
    assert found is not None
    low, high = found.min(axis=0), found.max(axis=0)
    assert (low > [60, 50]).all()
    assert (high < [360, 250]).all()
    # At least half of the frame's width is used.
    assert high[0] - low[0] > 0.4 * 300


def test_a_picture_without_an_even_area_has_none() -> None:
    gradient = 10.0 ** -np.linspace(0.2, 2.0, 300)[None, :, None] * np.ones((200, 1, 1))
    assert largest_even_area(gradient) is None
    assert largest_even_area(np.ones((200, 300, 1))) is None
    assert largest_even_area(np.ones((3, 3, 1)) * 0.1) is None


def test_a_name_that_no_file_can_have_is_refused_in_words(tmp_path: Path) -> None:
    (tmp_path / "roll.csv").write_text(f"picture,ei\n{'a' * 70_000},80\n", encoding="utf-8")
    done = run(tmp_path, "scan", "new", "--frames", "roll.csv", *LIGHT, "--yes")
    assert done.returncode == 1
    assert "roll.csv" in done.stderr
    assert len(done.stderr) < 2000
