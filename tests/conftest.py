"""What all tests rest on: one thread for linear algebra, how many examples a property gets, files kept together."""

from __future__ import annotations

import os
from typing import Any

# Before numpy is imported, here and in every process that a test starts. The matrices are small: more threads would
# only wait for each other, at a third more CPU.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import pytest
from hypothesis import settings
from xdist.scheduler import LoadFileScheduling

settings.register_profile("usual", max_examples=15, derandomize=True, deadline=None)
settings.register_profile("slow", max_examples=200, deadline=None)


def _before_a_release(config: pytest.Config) -> bool:
    """Return whether the slow tests were asked for, `pytest -m slow`."""
    return bool(config.option.markexpr == "slow")


def pytest_configure(config: pytest.Config) -> None:
    """Give properties few examples, the same in every run, and many new ones before a release."""
    settings.load_profile("slow" if _before_a_release(config) else "usual")


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Count properties among the slow tests, too."""
    if _before_a_release(config):
        for item in items:
            if getattr(getattr(item, "obj", None), "is_hypothesis_test", False):
                item.add_marker(pytest.mark.slow)


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> LoadFileScheduling:
    """Run the tests of one file in one process (``pytest -n auto``), so that what they share is made once."""
    return LoadFileScheduling(config, log)
