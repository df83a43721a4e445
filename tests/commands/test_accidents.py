"""What goes wrong at a command line ends in words and an exit status, never in a traceback."""

from pathlib import Path

import pytest

from tests.commands.run import run
from tests.simulate import FOLDER

HERON = str(FOLDER / "heron-reversal.toml")
SERIES = ("series", str(FOLDER / "times"), "--by", "first_developer_minutes", "--draws", "100")
TABLE = ("measure", str(FOLDER / "heron-reversal.csv"), "--kind", "reversal", "--wedge", "21x0.15")


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("ei", HERON, "--seed", "-1"), "seed: -1 is not a whole number; needed: a whole number from 0"),
        (("ei", HERON, "--white-stops", "inf"), "no scene tone lies inf stops from mid-grey"),
        (("ei", HERON, "--white-stops", "400"), "no scene tone lies 400 stops from mid-grey"),
        (("ei", HERON, "--at", "1e308"), "1e+308 is not an exposure index; needed: 0.001 to 1,000,000"),
        (("ei", HERON, "--meter-constant", "1e-320"), "is not the constant of a meter; needed: K from 5 to 30"),
        ((*TABLE, "--lux", "1e-320", "--seconds", "1"), "lux times seconds"),
        ((*TABLE, "--lux", "1e300", "--seconds", "1e300"), "lux times seconds"),
        (("check", "x" * 300), "File name too long"),
        (("ei", "x" * 300 + ".toml"), "File name too long"),
        (("check", "x.**b"), "there is no such file"),
        (("ei", "x.**b.toml"), "there is no such file"),
        (("measure", HERON, "--draws", "-1"), "draws: -1 is not a whole number"),
        (("measure", HERON, "--table", "nope/all.csv"), "the table cannot be made: there is no such folder"),
        (("compare", HERON, HERON, "--tolerance-stops", "0"), "stops: 0 is out of range; needed: more than 0"),
        (("series", HERON, "--by", "first_developer_minutes"), "--by: no strip states a condition; needed: a number"),
        ((*SERIES, "--for", "gama=1"), "curves: --for: 'gama' is not a number of these strips.\nTry: write 'gamma'."),
        ((*SERIES, "--table", "nope/all.csv"), "the table cannot be made: No such file or directory"),
        ((*SERIES, "--table", "all.txt"), "--table: all.txt is not the name of a table; needed: a name in .csv"),
        ((*SERIES, "--draws", "0"), "with 0 draws of their errors, too few for the band of a trend; needed: at least"),
        (("control", HERON), "1 reference value is known; needed: at least 4"),
    ],
)
def test_what_cannot_be_is_refused_in_words(tmp_path: Path, words: tuple[str, ...], told: str) -> None:
    result = run(tmp_path, *words)
    assert result.returncode == 1
    assert told in result.stderr + result.stdout
    assert list(tmp_path.iterdir()) == []


def test_a_folder_named_like_the_page_and_a_ledger_with_other_content_lose_nothing(tmp_path: Path) -> None:
    (tmp_path / "outputs" / "heron-reversal.html").mkdir(parents=True)
    result = run(tmp_path, "report", HERON)
    assert result.returncode == 1
    assert "a folder has the name of the file to be written" in result.stderr
    for ledger in ("[1]", '{"heron-reversal.html": 5}', "{", '{"a": {"b": []}}'):
        folder = tmp_path / f"into-{len(ledger)}"
        (folder / ".written-by-curves").mkdir(parents=True)
        (folder / ".written-by-curves" / "heron-reversal.json").write_text(ledger, encoding="utf-8")
        assert run(tmp_path, "report", HERON, "--into", folder.name).returncode == 0
        assert (folder / "heron-reversal.html").exists()
