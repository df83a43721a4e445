"""A few commands in processes of their own: what a call inside this one cannot show."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import curves
from tests.commands.run import process, run
from tests.commands.typist import Typist
from tests.simulate import FOLDER

WREN = str(FOLDER / "wren-reversal.toml")
FEW = ("--draws", "100")


def contents(folder: Path) -> dict[Path, bytes]:
    return {path.relative_to(folder): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_the_version_is_the_packages(tmp_path: Path) -> None:
    done = process(tmp_path, "--version")
    assert (done.returncode, done.stdout, done.stderr) == (0, f"curves {curves.__version__}\n", "")


def test_the_module_of_the_command_line_runs_it_too(tmp_path: Path) -> None:
    words = [sys.executable, "-m", "curves.cli", "--version"]
    done = subprocess.run(words, cwd=tmp_path, capture_output=True, encoding="utf-8", check=False)
    assert (done.returncode, done.stdout) == (0, f"curves {curves.__version__}\n")


def test_a_slip_in_usage_ends_the_process_with_status_two(tmp_path: Path) -> None:
    done = process(tmp_path, "ei", "--nope")
    assert done.stderr.replace("python -m curves", "curves") == run(tmp_path, "ei", "--nope").stderr
    assert (done.returncode, done.stdout) == (2, "")
    assert "Traceback" not in done.stderr


def test_a_refusal_ends_the_process_with_status_one_and_two_lines(tmp_path: Path) -> None:
    done = process(tmp_path, "measure", "nowhere.toml")
    assert done == run(tmp_path, "measure", "nowhere.toml")
    assert (done.returncode, done.stdout) == (1, "")
    assert len(done.stderr.splitlines()) <= 2


def test_the_same_strip_and_seed_give_the_same_report_in_every_process(tmp_path: Path) -> None:
    there, first, second = (tmp_path / name for name in ("there", "first", "second"))
    for folder in (there, first, second):
        folder.mkdir()
    done = process(there, "report", WREN, *FEW)
    assert done.returncode == 0, done.stderr
    # The second call in this process must not know of the first.
    assert done == run(first, "report", WREN, *FEW) == run(second, "report", WREN, *FEW)
    written = contents(there)
    assert {path.suffix for path in written} >= {".html", ".json", ".csv"}
    assert contents(first) == contents(second) == written


def test_a_pipe_that_closes_early_is_no_accident() -> None:
    shell = f'"{sys.executable}" -m curves measure "{WREN}" --draws 100 | head -n 1'
    done = subprocess.run(["bash", "-c", shell], capture_output=True, encoding="utf-8", check=False)
    assert done.stdout.startswith("Wren 25")
    assert "Traceback" not in done.stderr


def test_answers_come_through_a_pipe_and_a_console_that_lacks_a_letter_shows_a_mark(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_text("Stufe;Grün\n1;0,31\n2;0,50\n3;1,10\n4;1,90\n", encoding="utf-8")
    words = ("import", "a.csv", "--into", "b", "--kind", "reversal", "--density", "status A", "--ei", "25")
    answers = "4x0.3\n2\nn\n"
    done = process(tmp_path, *words, typed=answers, encoding="ascii")
    here = run(tmp_path, *words, typed=answers)
    assert "green is 'Grün'" in here.stdout
    assert done == replace(here, stdout=here.stdout.replace("ü", "?"))
    assert here.stdout.endswith("Nothing was written.\n")
    assert [path.name for path in tmp_path.iterdir()] == ["a.csv"]


def test_a_closed_standard_input_answers_nothing(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_text("step;visual\n1;0,31\n2;0,50\n3;1,10\n4;1,90\n", encoding="utf-8")
    shell = f'"{sys.executable}" -m curves import a.csv --into b 0<&-'
    done = subprocess.run(["bash", "-c", shell], cwd=tmp_path, capture_output=True, encoding="utf-8", check=False)
    assert done.stdout.endswith("Nothing was written.\n")
    assert (done.returncode, done.stderr) == (0, "")
    shell = f'"{sys.executable}" -m curves ei a.csv --kind reversal --wedge 4x0.3 --ei 80 0<&-'
    done = subprocess.run(["bash", "-c", shell], cwd=tmp_path, capture_output=True, encoding="utf-8", check=False)
    assert done.stderr.endswith("Try: give --metered-step 2.\n")


def test_a_person_is_asked_for_the_metered_step_of_a_bare_wedge(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_text("step,visual\n1,0.31\n2,0.50\n3,1.10\n4,1.90\n", encoding="utf-8")
    words = ("a.csv", "--kind", "reversal", "--wedge", "4x0.3", "--ei", "80")
    person = Typist(tmp_path, *words, command="measure")
    question = "Step of the wedge that the meter read, from 1 > "
    person.answer(question, "two")
    assert "A whole number from 1 is needed, such as 11." in person.answer(question, "3")
    told = person.end()
    assert person.status == 0
    assert "log H relative to metered mid-grey" in told
    person = Typist(tmp_path, *words, command="measure")
    person.answer(question, "")
    assert "give --metered-step 2." in person.end()
    assert person.status == 1


def test_a_full_disk_under_the_output_is_told_in_words(tmp_path: Path) -> None:
    with Path("/dev/full").open("w", encoding="utf-8") as full:
        words = [sys.executable, "-m", "curves", "explain", "stop"]
        done = subprocess.run(words, cwd=tmp_path, stdout=full, stderr=subprocess.PIPE, encoding="utf-8", check=False)
    assert (done.returncode, done.stderr) == (
        1,
        "curves: standard output: it cannot be read or written: No space left on device.\n",
    )
