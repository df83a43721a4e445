"""README and manual: what they show is what happens, and what they name is there."""

import re
from importlib.resources import files
from pathlib import Path

import pytest

from curves.cli import COMMANDS
from curves.commands.manual import CHAPTERS
from curves.sensitometry.measures.table import MEASURES, SPEEDS, Measure, SpeedRule
from curves.views.words.glossary import find
from tests import readme
from tests.readme import PAGES, Session, programs, run, run_programs, sessions, with_tables

MOST_LINES = 180
TEXTS = {page.relative_to(readme.ROOT).as_posix(): page.read_text(encoding="utf-8") for page in PAGES}
CHAPTER_TEXTS = {name: text for name, text in TEXTS.items() if name != "README.md"}
SESSIONS = list(dict.fromkeys(session for text in TEXTS.values() for session in sessions(text)))
REAL = ("curves check wedge_data/heron-reversal.toml", "curves explain | head -n 4")
"""Commands that are run as a reader runs them too: one whole, one whose output is cut."""


def first_command(session: Session) -> str:
    return session[0][0]


@pytest.mark.parametrize("session", SESSIONS, ids=first_command)
def test_a_session_shows_what_its_commands_print(session: Session) -> None:
    assert run(tuple(command for command, _ in session)) == tuple(shown for _, shown in session)


@pytest.mark.parametrize("command", REAL)
def test_a_process_of_its_own_prints_the_same(command: str) -> None:
    assert run((command,), process=True) == run((command,))


@pytest.mark.parametrize("page", [page for page, text in TEXTS.items() if programs(text)])
def test_the_programs_of_a_page_run_and_print_what_it_shows(page: str) -> None:
    blocks = programs(TEXTS[page])
    printed = run_programs(tuple(code for code, _ in blocks))
    assert [out for out, (_, shown) in zip(printed, blocks, strict=True) if shown is not None] == [
        shown for _, shown in blocks if shown is not None
    ]


@pytest.mark.parametrize("page", TEXTS)
def test_tables_are_in_the_words_of_the_glossary_and_the_sizes_of_the_code(page: str) -> None:
    assert with_tables(TEXTS[page]) == TEXTS[page]


@pytest.mark.parametrize("row", [*MEASURES, *SPEEDS], ids=lambda row: row.key)
def test_every_number_is_explained_and_how_it_is_found(row: Measure | SpeedRule) -> None:
    assert row.key in keys_listed("terms", "curves/manual/numbers.md")
    assert row.key in keys_listed("found", "curves/manual/method.md")


def keys_listed(kind: str, page: str) -> set[str]:
    """Return the JSON keys of the terms that a page lists."""
    listed = re.findall(rf"<!-- {kind}: (.*) -->", TEXTS[page])
    return {key for names in listed for name in names.split("; ") for key in find(name).keys}


def test_a_rewritten_page_gets_the_output_of_its_commands_and_nothing_else() -> None:
    page = "Before\n\n```console\n$ curves explain stop\nold\n$ head -n 1 wedge_data/wedge-21.csv\n```\n\nAfter\n"
    stop, head = run(("curves explain stop", "head -n 1 wedge_data/wedge-21.csv"))
    expected = f"```console\n$ curves explain stop\n{stop}$ head -n 1 wedge_data/wedge-21.csv\n{head}```"
    assert readme.rewritten(page) == f"Before\n\n{expected}\n\nAfter\n"
    assert stop.startswith("stop\n")
    assert head == (readme.DEMO / "wedge-21.csv").read_text(encoding="utf-8").splitlines(keepends=True)[0]


def test_a_rewritten_page_gets_the_output_of_its_programs() -> None:
    page = "```python\nx = 2\n```\n\n```python\nprint(x + 1)\n```\n\n```text\nold\n```\n"
    assert readme.rewritten(page) == page.replace("old", "3")


def test_head_keeps_the_first_lines_of_a_session() -> None:
    (whole,) = run(("curves explain",))
    assert run(("curves explain | head -n 3",)) == ("".join(whole.splitlines(keepends=True)[:3]),)


def test_a_session_of_another_program_is_refused() -> None:
    with pytest.raises(ValueError, match="is not a command of this package"):
        run(("ls wedge_data",))


def commands() -> set[str]:
    return set(COMMANDS)


def test_every_command_is_shown_with_its_output() -> None:
    shown = {command.split()[1] for session in SESSIONS for command, _ in session}
    assert {"report", "measure", "import", "manual"} <= commands() <= shown


def test_readme_has_a_line_for_every_command() -> None:
    rows = re.findall(r"^\| `curves (\w+)", TEXTS["README.md"], flags=re.MULTILINE)
    assert sorted(rows) == sorted(commands())


def test_readme_opens_with_the_job_and_marks_its_two_commands() -> None:
    assert re.match(r"# .*\n\n\w", TEXTS["README.md"])
    assert TEXTS["README.md"].count("<!-- command: main-job -->") == 1
    assert TEXTS["README.md"].count("<!-- command: tests -->") == 1


def test_readme_is_short() -> None:
    assert len(TEXTS["README.md"].splitlines()) <= MOST_LINES


def test_the_manual_has_the_chapters_that_it_lists() -> None:
    assert {f"curves/manual/{name}.md" for name in CHAPTERS} == set(CHAPTER_TEXTS)
    in_package = files("curves").joinpath("manual")
    assert {entry.name for entry in in_package.iterdir()} == {f"{name}.md" for name in CHAPTERS}


def targets(text: str) -> list[str]:
    """Return what a page links to, pictures included."""
    return re.findall(r"\]\(([^)]+)\)", outside(text))


def outside(text: str, blocks: str = "") -> str:
    """Return a page without its fenced blocks, of all kinds or of those that ``blocks`` matches."""
    return re.sub(rf"^```{blocks}.*?^```$", "", text, flags=re.MULTILINE | re.DOTALL)


@pytest.mark.parametrize("page", TEXTS)
def test_every_link_leads_to_a_file(page: str) -> None:
    lost = []
    for target in targets(TEXTS[page]):
        name, _, heading = target.partition("#")
        path = readme.ROOT / (Path(page).parent / name if name else page)
        if not path.is_file() or (heading and heading not in headings(path.read_text(encoding="utf-8"))):
            lost.append(target)
    assert not lost


def headings(text: str) -> set[str]:
    """Return the headings of a page as links name them."""
    found = re.findall(r"^#+ (.*)$", text, flags=re.MULTILINE)
    return {re.sub(r"[^\w -]", "", heading.lower()).replace(" ", "-") for heading in found}


def test_readme_links_to_every_chapter() -> None:
    assert {f"curves/manual/{name}.md" for name in CHAPTERS} <= set(targets(TEXTS["README.md"]))


@pytest.mark.parametrize("page", CHAPTER_TEXTS)
def test_a_chapter_begins_with_what_it_is_for(page: str) -> None:
    beginning = re.match(r"# [A-Z].*\n\n(.*)\n\n", CHAPTER_TEXTS[page])
    assert beginning is not None
    assert beginning[1].endswith(".")
    assert "#" not in beginning[1]


@pytest.mark.parametrize("page", CHAPTER_TEXTS)
def test_a_chapter_fits_a_terminal(page: str) -> None:
    written = outside(CHAPTER_TEXTS[page], "(?:console|text|python)").splitlines()
    typed = [part for session in SESSIONS for command, _ in session for part in f"$ {command}".splitlines()]
    assert not [line for line in (*written, *typed) if len(line) >= 80 and not line.startswith(("|", "<!--"))]
