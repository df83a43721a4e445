"""The demo strips' numbers are what they were: regression, computed by this code before its last rearrangement."""

from __future__ import annotations

import json

import pytest

from tests.demo_numbers import KEPT, STRIPS, numbers_of


@pytest.mark.parametrize("name", STRIPS)
def test_a_demo_strip_keeps_every_number(name: str) -> None:
    kept = json.loads(KEPT.read_text(encoding="utf-8"))[name]
    found = numbers_of(name)
    assert found.keys() == kept.keys()
    # Six digits: kernels of linear algebra differ in the last ones.
    assert found == pytest.approx(kept, rel=1e-5, abs=1e-6)
