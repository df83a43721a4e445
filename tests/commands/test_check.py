"""`curves check` on folders, and as JSON."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from pathlib import Path

from tests.commands.run import run
from tests.simulate import FOLDER


def test_a_folder_with_nothing_to_check_fails_and_says_so(tmp_path: Path) -> None:
    result = run(tmp_path, "check", str(tmp_path))
    assert result.returncode == 1
    told = " ".join(result.stdout.replace(str(tmp_path), "FOLDER").split())
    assert "the folder holds no record (.toml) and no table (.csv)" in told
    assert result.stdout.splitlines()[-1] == "1 file: 0 good, 0 doubtful, 1 fail."


def test_an_empty_folder_does_not_keep_other_files_from_being_checked(tmp_path: Path) -> None:
    found = json.loads(run(tmp_path, "check", str(tmp_path), str(FOLDER / "wren-reversal.toml"), "--json").stdout)
    assert found["format"] == 1
    assert [f["loads"] for f in found["files"]] == [False, True]
    assert "error" not in found["files"][1]


def test_no_demo_file_is_doubtful_but_the_scan_with_a_scratch(tmp_path: Path) -> None:
    result = run(tmp_path, "check", str(FOLDER), "--json")
    assert result.returncode == 0
    files = json.loads(result.stdout)["files"]
    assert len(files) >= 10
    assert all(f["loads"] for f in files)
    doubtful = [(Path(f["file"]).name, d["code"], d["step"]) for f in files for d in f["doubts"]]
    assert doubtful == [("wren-scan.toml", "scan-dust", 10)]


def test_patches_to_match_a_scan_to_are_named_as_what_they_are(tmp_path: Path) -> None:
    """The manual's chapter on scans tells people to write such tables: of too few steps for a strip, or of places."""
    by_step, by_place = tmp_path / "known.csv", tmp_path / "pieces.csv"
    by_step.write_text(
        "step,red,green,blue\n2,0.16,0.18,0.39\n11,1.61,1.69,2.25\n20,2.59,2.61,2.81\n", encoding="utf-8"
    )
    place = "left,top,right,bottom,red,green,blue\n1,2,30,40,0.16,0.18,0.39\n50,2,80,40,1.61,1.69,2.25\n"
    by_place.write_text(place, encoding="utf-8")
    checked = run(tmp_path, "check", "known.csv", "pieces.csv", str(FOLDER / "wedge-21.csv"))
    assert checked.returncode == 0
    assert checked.stdout.splitlines()[:2] == [
        "known.csv: good, a table of matched patches",
        "pieces.csv: good, a table of matched patches",
    ]
    assert checked.stdout.splitlines()[2].endswith("wedge-21.csv: good, a calibrated wedge")
    measured = run(tmp_path, "measure", "known.csv")
    assert "known.csv is a table of matched patches; needed: a strip" in measured.stderr


def test_a_short_table_without_three_layers_is_still_a_strip_that_lacks_steps(tmp_path: Path) -> None:
    (tmp_path / "short.csv").write_text("step,visual\n1,0.1\n2,0.2\n3,0.3\n", encoding="utf-8")
    checked = run(tmp_path, "check", "short.csv")
    assert checked.returncode == 1
    assert "only 3 different steps were read" in checked.stdout


def test_a_roll_of_scanned_frames_is_checked_with_its_pictures(tmp_path: Path) -> None:
    roll = tmp_path / "roll.csv"
    roll.write_text("picture,stops\none.tif,-1\ntwo.tif,1\n", encoding="utf-8")
    assert "there is no picture 'one.tif'" in run(tmp_path, "check", "roll.csv").stdout
    for name in ("one.tif", "two.tif"):
        shutil.copy(FOLDER / "wren-patch.tif", tmp_path / name)
    assert run(tmp_path, "check", "roll.csv").stdout.splitlines()[0] == "roll.csv: good, a roll of scanned frames"


def test_good_files_of_a_folder_are_counted_and_listed_on_request(tmp_path: Path) -> None:
    for name in ("wren-reversal.toml", "wren-reversal.csv", "wedge-21.csv"):
        shutil.copy(FOLDER / name, tmp_path / name)
    assert run(tmp_path, "check", ".").stdout == "3 files: 3 good, 0 doubtful, 0 fail.\n"
    assert run(tmp_path, "check", ".", "--full").stdout.splitlines() == [
        "wedge-21.csv: good, a calibrated wedge",
        "wren-reversal.csv: good",
        "wren-reversal.toml: good",
        "3 files: 3 good, 0 doubtful, 0 fail.",
    ]


def exchanged_rows(folder: Path) -> Path:
    """Copy a demo record with the readings of steps 14 and 15 in each other's place."""
    for name in ("heron-reversal.toml", "heron-reversal.csv"):
        shutil.copy(FOLDER / name, folder)
    table = folder / "heron-reversal.csv"
    lines = table.read_text(encoding="utf-8").splitlines()
    one, other = (lines[step].split(",", 1) for step in (14, 15))
    lines[14], lines[15] = f"{one[0]},{other[1]}", f"{other[0]},{one[1]}"
    table.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return folder / "heron-reversal.toml"


def test_exchanged_rows_are_not_called_good_and_the_exchange_is_named(tmp_path: Path) -> None:
    printed = " ".join(run(tmp_path, "check", str(exchanged_rows(tmp_path))).stdout.split())
    assert "loads, but look at this" in printed
    assert "Exchange the readings of steps 14 and 15, or read both again." in printed
    assert printed.endswith("1 file: 0 good, 1 doubtful, 0 fail.")


def test_exchanged_rows_are_told_beside_the_index(tmp_path: Path) -> None:
    (strip,) = json.loads(run(tmp_path, "ei", str(exchanged_rows(tmp_path)), "--json").stdout)["strips"]
    assert [w["step"] for w in strip["warnings"] if w["code"] == "rows-exchanged"] == [14]


def test_importing_the_command_loads_no_numbers() -> None:
    code = "import sys, curves.commands.check; print({'numpy', 'scipy', 'pandas'} & set(sys.modules))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True, encoding="utf-8")
    assert done.stdout.strip() == "set()"


def test_a_wedge_with_unusual_steps_is_looked_at(tmp_path: Path) -> None:
    wedge = tmp_path / "wedge.csv"
    wedge.write_text(
        "step,density\n" + "".join(f"{n},{0.05 + 0.5 * (n - 1):.2f}\n" for n in range(1, 8)), encoding="utf-8"
    )
    printed = " ".join(run(tmp_path, "check", str(wedge)).stdout.split())
    assert "The wedge's steps are 0.5 apart in density." in printed
    assert printed.endswith("1 file: 0 good, 1 doubtful, 0 fail.")


def test_a_folder_is_checked_with_the_folders_below_but_hidden_ones(tmp_path: Path) -> None:
    for folder in ("below/deep", ".hidden"):
        (tmp_path / folder).mkdir(parents=True)
        for name in ("wren-reversal.toml", "wren-reversal.csv", "wedge-21.csv"):
            shutil.copy(FOLDER / name, tmp_path / folder)
    result = run(tmp_path, "check", ".", "--full")
    assert "below/deep/wren-reversal.toml: good" in result.stdout
    assert result.stdout.endswith("3 files: 3 good, 0 doubtful, 0 fail.\n")


def test_results_that_the_tool_wrote_are_not_checked_as_tables(tmp_path: Path) -> None:
    for name in ("wren-reversal.toml", "wren-reversal.csv", "wedge-21.csv"):
        shutil.copy(FOLDER / name, tmp_path)
    assert run(tmp_path, "report", "wren-reversal.toml", "--draws", "0").returncode == 0
    assert run(tmp_path, "check", ".").stdout.endswith("3 files: 3 good, 0 doubtful, 0 fail.\n")


def test_a_record_of_a_plan_waits_for_its_readings_and_does_not_fail(tmp_path: Path) -> None:
    film = ("--box", "80", "--kind", "reversal", "--method", "camera", "--wedge", "21x0.15")
    assert run(tmp_path, "plan", *film, "--write", "heron-1").returncode == 0
    waiting = run(tmp_path, "check", "heron-1.toml")
    assert waiting.returncode == 0
    assert waiting.stdout == (
        "heron-1.toml: has no readings yet\n"
        "  heron-1.toml: the readings are still to be entered.\n"
        "  Try: run curves enter heron-1.\n"
        "1 file: 0 good, 0 doubtful, 0 fail, 1 without readings.\n"
    )
    (found,) = json.loads(run(tmp_path, "check", "heron-1.toml", "--json").stdout)["files"]
    assert (found["loads"], found["empty"]) == (False, True)
    assert "curves enter heron-1" in run(tmp_path, "ei", "heron-1.toml").stderr
