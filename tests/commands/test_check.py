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
    result = run(tmp_path, "check", ".")
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
