"""``curves manual``: the chapters as a person prints them."""

import subprocess
import sys

import pytest

from curves.commands.manual import CHAPTERS
from tests.readme import ROOT, run


def test_the_list_gives_each_chapter_a_line_that_says_what_it_is_for() -> None:
    (listing,) = run(("curves manual",))
    lines = listing.splitlines()
    assert [line.split()[0] for line in lines] == list(CHAPTERS)
    assert max(len(line) for line in lines) < 80
    assert all(line.endswith(".") for line in lines)


@pytest.mark.parametrize("chapter", CHAPTERS)
def test_a_chapter_is_printed_as_it_is_written_without_its_comments(chapter: str) -> None:
    written = (ROOT / "curves" / "manual" / f"{chapter}.md").read_text(encoding="utf-8")
    (printed,) = run((f"curves manual {chapter}",))
    assert printed == "".join(line for line in written.splitlines(keepends=True) if not line.startswith("<!--"))
    assert printed.startswith("# ")
    assert "<!--" not in printed


def test_a_chapter_is_found_by_the_name_of_its_file_too() -> None:
    assert run(("curves manual Scan.md",)) == run(("curves manual scan",))


@pytest.mark.parametrize(
    ("asked", "hint"),
    [
        ("exposure", "write 'exposing'"),
        ("filter", "write 'filters'"),
        ("zz", "use one of: exposing, planning, readings"),
    ],
)
def test_an_unknown_chapter_is_refused_with_the_nearest(asked: str, hint: str) -> None:
    (printed,) = run((f"curves manual {asked}",))
    assert printed.startswith(f"curves: the manual has no chapter '{asked}'.\nTry: {hint}")


def test_an_unknown_chapter_ends_with_exit_status_one() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "curves", "manual", "skan"], capture_output=True, encoding="utf-8", check=False
    )
    assert done.returncode == 1
    assert done.stdout == ""
    assert done.stderr == "curves: the manual has no chapter 'skan'.\nTry: write 'scan'.\n"


def test_the_help_lists_the_command_and_shows_an_example() -> None:
    overview, own = run(("curves --help", "curves manual --help"))
    assert "\n  manual   Print a chapter of the manual, or list the chapters.\n" in overview
    assert "Example: curves manual scan" in own
