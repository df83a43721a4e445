"""`curves check` on folders, and as JSON."""

from __future__ import annotations

import json
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


def test_importing_the_command_loads_no_numbers() -> None:
    code = "import sys, curves.commands.check; print({'numpy', 'scipy', 'pandas'} & set(sys.modules))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True, encoding="utf-8")
    assert done.stdout.strip() == "set()"
