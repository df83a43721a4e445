"""DEVELOPERS.md shows the additions that the tests apply, to the letter."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.additions.addition import ADDITIONS

DEVELOPERS = Path(__file__).parents[2] / "DEVELOPERS.md"


@pytest.mark.parametrize("name", ["speed", "reader"])
def test_the_document_shows_the_addition(name: str) -> None:
    text = DEVELOPERS.read_text(encoding="utf-8")
    (shown,) = re.findall(rf"<!-- addition: {name} -->\n```diff\n(.*?)```", text, re.S)
    assert shown == (ADDITIONS / f"{name}.diff").read_text(encoding="utf-8")
