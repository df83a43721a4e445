"""`curves scan --match-patches`: a camera, a light table, and a friend with a densitometer who reads five steps."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import tifffile

from curves import load_strip
from curves.sensitometry.core.units import LAYERS
from tests.commands.run import run
from tests.matched_film import TwiceRead, twice_read
from tests.simulate import Array
from tests.simulate_scan import Made, ScanScene, scan

STEPS = (2, 7, 11, 15, 20)
GIVEN = ("--clear", "empty.tif", "--dark", "131", "--kind", "reversal", "--wedge", "21x0.15", "--lux", "500",
         "--seconds", "0.02", "--yes")  # fmt: skip


@pytest.fixture(scope="module")
def pictures(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, TwiceRead, Made]:
    """Return a folder with pictures of a strip and of the empty table, the true strip, and the picture made of it."""
    folder = tmp_path_factory.mktemp("pictures")
    strip = twice_read(np.random.default_rng(4), "status A")
    scene = ScanScene(strip.camera, strip.camera[-1] + 0.05, np.full(3, 0.03), beyond="gate", grain=0.004, flare=0.0005)
    made = scan(scene, 3)
    for name, picture in (("strip", made.picture), ("empty", made.empty)):
        tifffile.imwrite(folder / f"{name}.tif", picture, photometric="rgb")
    return folder, strip, made


def known(strip: TwiceRead) -> Array:
    """Return what the friend's densitometer shows: scattered by 0.01, two decimals."""
    return np.round(strip.true + 0.01 * np.random.default_rng(9).standard_normal(strip.true.shape), 2)


def by_step(folder: Path, strip: TwiceRead, steps: tuple[int, ...] = STEPS) -> str:
    """Write the densities of some steps; return the table's name."""
    rows = "".join(f"{n},{','.join(f'{d:.2f}' for d in known(strip)[n - 1])}\n" for n in steps)
    (folder / "known.csv").write_text("step,red,green,blue\n" + rows, encoding="utf-8")
    return "known.csv"


def by_area(folder: Path, strip: TwiceRead, made: Made) -> str:
    """Write the densities of the same steps as areas of the picture; return the table's name."""
    first, other, other_end, last = made.corners
    rows = []
    for n in STEPS:
        middle = 0.25 * (first + other + other_end + last) + ((first + other) - (other_end + last)) * (11 - n) / 42
        sides = [*(middle - 8.0), *(middle + 8.0)]
        rows.append(",".join([*(f"{side:.1f}" for side in sides), *(f"{d:.2f}" for d in known(strip)[n - 1])]) + "\n")
    (folder / "areas.csv").write_text("left,top,right,bottom,red,green,blue\n" + "".join(rows), encoding="utf-8")
    return "areas.csv"


def corners(made: Made) -> str:
    """Return the corners of the strip as an option gives them: nothing has to be looked for."""
    return " ".join(f"{x:.1f},{y:.1f}" for x, y in made.corners)


def off(record: Path, strip: TwiceRead) -> float:
    """Return the greatest distance of a record's densities from the true ones of the densitometer [density]."""
    loaded = load_strip(record)
    assert loaded.density == "status A"
    return float(np.abs(np.column_stack([loaded.readings[c] for c in LAYERS]) - strip.true).max())


def test_five_steps_read_by_a_friend_bring_the_strip_to_status_a(pictures: tuple[Path, TwiceRead, Made]) -> None:
    folder, strip, made = pictures
    done = run(
        folder, "scan", "strip.tif", "heron", *GIVEN, "--match-patches", by_step(folder, strip), "--match-to", "A"
    )
    assert done.returncode == 0, done.stderr
    assert "Matched to status A by 5 patches of known.csv: residual 0.0" in done.stdout
    assert "scan red" in done.stdout
    assert "Written: heron.toml, heron.csv, heron-patches.csv, heron-match.csv, heron-calibration.toml" in done.stdout
    assert done.stdout.endswith("Now: curves report heron.toml\n")
    assert max(len(line) for line in done.stdout.splitlines() if not line.startswith(("Written", "Look"))) < 80
    assert np.abs(strip.camera - strip.true).max() > 0.10
    assert off(folder / "heron.toml", strip) < 0.04
    # Light that is scattered over the picture is an error that dense patches share, and thin ones hardly have.
    kept = pd.read_csv(folder / "heron-match.csv").sort_values("scanned_green")
    common = kept[[f"common_{c}" for c in LAYERS]].to_numpy()
    assert (common[-1] > 3.0 * common[0]).all()
    # A strip scanned again, by areas of its picture and by the table that the first scan kept.
    for name, table in (("by-area", by_area(folder, strip, made)), ("by-table", "heron-match.csv")):
        done = run(
            folder, "scan", "strip.tif", name, *GIVEN, "--match-patches", table, "--match-to", "status A", "--json"
        )
        assert done.returncode == 0, done.stderr
        found = json.loads(done.stdout)["scan"]["status_match"]
        assert (found["status"], found["patches"]) == ("status A", 5)
        assert 0.0 < found["residual"] < 0.1
        assert off(folder / f"{name}.toml", strip) < 0.04
    answer = run(folder, "ei", "heron.toml", "--draws", "20")
    assert "matched to status A by 5 patches" in " ".join(answer.stdout.split())
    measured = json.loads(run(folder, "measure", "heron.toml", "--json", "--draws", "20").stdout)["strips"][0]
    assert measured["density"] == "status A"
    assert measured["status_match"]["patches"] == 5
    assert np.array(measured["status_match"]["matrix"]).shape == (3, 3)
    # The page of the scan shows the patches and the matrix.
    page = (folder / "outputs" / "heron-patches.html").read_text(encoding="utf-8")
    assert "<h2>Matched to status A</h2>" in page
    assert '<th scope="row">step 15</th>' in page
    # Compared with itself under another name, the matching cancels, and is told.
    again = (folder / "heron.toml").read_text(encoding="utf-8").replace('title = "heron"', 'title = "again"')
    (folder / "again.toml").write_text(again, encoding="utf-8")
    compared = " ".join(run(folder, "compare", "heron.toml", "again.toml", "--draws", "20").stdout.split())
    assert "Densities of again are a scan's, matched to status A by 5 patches" in compared
    assert "matching to status A" in compared.partition("Shared by both strips")[2]
    # The pictures' own correction goes by the scan's own densities.
    assert run(folder, "balance", "heron.toml", "--draws", "20").returncode == 0


@pytest.mark.parametrize(
    ("options", "told"),
    [
        (
            ("--match-patches", "known.csv"),
            "known.csv: the kind of the known densities is not given; needed: status A, as for film that is looked at,"
            " or status M, as for film that is printed: the densitometer shows which.\nTry: give --match-to A or"
            " --match-to M.",
        ),
        (
            ("--match-to", "A"),
            "--match-to: a kind of density is given, but not the patches that were read in it; needed: a table of"
            " densities that a densitometer read: step, red, green, blue.\nTry: give --match-patches known.csv.",
        ),
        (
            ("--match-patches", "known.csv", "--match-to", "T"),
            "--match-to: 'T' is not a kind of density to match; needed: status A, as for film that is looked at, or"
            " status M, as for film that is printed: the densitometer shows which.",
        ),
        (
            ("--match-patches", "few.csv", "--match-to", "M"),
            "few.csv: only 2 patches have known densities; needed: at least 3: a thin, a middle and a dense one; five"
            " tell how well they match.\nTry: have more steps of the strip read, or leave the densities as the scan's"
            " own.",
        ),
        (
            ("--match-patches", "more.csv", "--match-to", "M"),
            "more.csv, line 4: the scan has no step 30; needed: patches by their step, from step 1 to step 21.",
        ),
    ],
)
def test_what_cannot_be_matched_is_refused_and_nothing_is_written(
    pictures: tuple[Path, TwiceRead, Made], options: tuple[str, ...], told: str
) -> None:
    folder, strip, made = pictures
    by_step(folder, strip)
    (folder / "few.csv").write_text("step,red,green,blue\n2,0.2,0.2,0.3\n20,2.5,2.5,2.6\n", encoding="utf-8")
    (folder / "more.csv").write_text("step,red,green,blue\n2,0.2,0.2,0.3\n9,1,1,1\n30,2.5,2.5,2.6\n", encoding="utf-8")
    done = run(folder, "scan", "strip.tif", "refused", *GIVEN, *options, "--corners", corners(made))
    assert done.returncode == 1
    assert done.stderr.removeprefix("curves: ").strip() == told
    assert not list(folder.glob("refused*"))


def test_a_grey_picture_cannot_be_matched(pictures: tuple[Path, TwiceRead, Made]) -> None:
    folder, strip, made = pictures
    for name, picture in (("grey", made.picture), ("grey-empty", made.empty)):
        tifffile.imwrite(folder / f"{name}.tif", picture[..., 1], photometric="minisblack")
    options = ("--clear", "grey-empty.tif", *GIVEN[2:], "--match-patches", by_step(folder, strip), "--match-to", "A")
    done = run(folder, "scan", "grey.tif", "refused", *options, "--corners", corners(made))
    assert done.returncode == 1
    assert "a grey picture has one channel" in done.stderr
