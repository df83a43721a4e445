from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import pytest

from curves.errors import OutputError
from curves.files.results import report_files


def write(folder: Path, page: str = "page") -> list[Path]:
    return report_files.write_report(folder, "heron", page=page, numbers="{}", steps="a", curve="b")


def test_four_files_are_written_and_named(tmp_path: Path) -> None:
    names = [path.name for path in write(tmp_path / "new" / "folder")]
    assert names == ["heron.html", "heron.json", "heron-steps.csv", "heron-curve.csv"]


def test_its_own_files_are_replaced(tmp_path: Path) -> None:
    write(tmp_path, "old")
    write(tmp_path, "new")
    assert (tmp_path / "heron.html").read_text(encoding="utf-8") == "new"


@pytest.mark.parametrize("name", ["heron.html", "heron.json", "heron-steps.csv", "heron-curve.csv"])
def test_a_file_it_did_not_make_is_left_alone_and_nothing_else_is_written(tmp_path: Path, name: str) -> None:
    (tmp_path / name).write_text("mine", encoding="utf-8")
    with pytest.raises(OutputError, match="made or changed by somebody else"):
        write(tmp_path)
    assert {p.name for p in tmp_path.iterdir()} == {name, report_files.LEDGERS}
    assert (tmp_path / name).read_text(encoding="utf-8") == "mine"


def test_a_file_that_somebody_edited_is_left_alone(tmp_path: Path) -> None:
    write(tmp_path)
    (tmp_path / "heron-steps.csv").write_text("edited", encoding="utf-8")
    with pytest.raises(OutputError, match=r"heron-steps\.csv"):
        write(tmp_path, "new")
    assert (tmp_path / "heron.html").read_text(encoding="utf-8") == "page"


def test_a_folder_that_cannot_be_made_is_an_error_in_words(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("", encoding="utf-8")
    with pytest.raises(OutputError, match="the folder cannot be made"):
        write(tmp_path / "file")


def test_two_strips_of_one_name_are_refused() -> None:
    with pytest.raises(OutputError, match="would both be written as 'heron'"):
        report_files.refuse_same_names([Path("heron")] * 2, [Path("a/heron.toml"), Path("b/heron.toml")])


def writer(folder: Path, number: int) -> None:
    """Write a report of its own into a folder that others write into."""
    for _ in range(20):
        report_files.write_report(folder, f"strip-{number}", page="p", numbers="n", steps="s", curve=f"{number}")


def test_reports_written_into_one_folder_at_once_never_lock_each_other_out(tmp_path: Path) -> None:
    with ProcessPoolExecutor(4) as pool:
        assert list(pool.map(writer, [tmp_path] * 8, range(8))) == [None] * 8
    assert len(list(tmp_path.glob("strip-*"))) == 4 * 8
