import re
import subprocess
import sys

import pytest

from tests.readme import README, run, sessions, with_terms

TEXT = README.read_text(encoding="utf-8")


@pytest.mark.parametrize(("command", "shown"), sessions(TEXT), ids=[command for command, _ in sessions(TEXT)])
def test_the_readme_shows_what_the_command_prints(command: str, shown: str) -> None:
    assert run(command) == shown


def test_every_command_is_shown_with_its_output() -> None:
    listing = subprocess.run(
        [sys.executable, "-m", "curves", "--help"], capture_output=True, text=True, check=True
    ).stdout
    commands = re.findall(r"^  (\w+)  +\w", listing.partition("Commands:")[2], flags=re.MULTILINE)
    assert {"report", "measure", "ei", "check"} <= set(commands)
    shown = {command.split()[1] for command, _ in sessions(TEXT)}
    assert set(commands) <= shown


def test_the_readme_opens_with_the_job_and_marks_its_two_commands() -> None:
    assert TEXT.count("<!-- command: main-job -->") == 1
    assert TEXT.count("<!-- command: tests -->") == 1


def test_the_readme_explains_terms_in_the_words_of_the_glossary() -> None:
    assert "<!-- terms: " in TEXT
    assert with_terms(TEXT) == TEXT
