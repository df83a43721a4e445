"""What all tests rest on: one thread for linear algebra, how many examples a property gets, files kept together."""

from __future__ import annotations

import os
from collections import Counter
from typing import Any

# Before numpy is imported, here and in every process that a test starts. The matrices are small: more threads would
# only wait for each other, at a third more CPU.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import pytest
from hypothesis import settings
from xdist.scheduler import LoadFileScheduling

BEGUN_FIRST = (
    "tests/faults/test_faults.py",
    "tests/test_readme.py",
    "tests/commands/test_processes.py",
    "tests/commands/test_archive_ends.py",
    "tests/commands/test_network_and_kernels.py",
    "tests/sensitometry/next_exposure/test_expected_gain.py",
    "tests/test_round_trip.py",
    "tests/commands/test_all_doors.py",
    "tests/commands/test_first_hour.py",
    "tests/sensitometry/planning/test_chances.py",
    "tests/commands/test_scan_match.py",
    "tests/commands/test_enter_accidents.py",
    "tests/test_properties.py",
    "tests/fuzz/test_command_lines.py",
    "tests/test_english.py",
)
"""Files whose tests are few and take long: begun last, as files of few tests are, one would keep a core waiting."""

settings.register_profile("usual", max_examples=15, derandomize=True, deadline=None)
settings.register_profile("slow", max_examples=200, deadline=None)


def _before_a_release(config: pytest.Config) -> bool:
    """Return whether the slow tests were asked for, `pytest -m slow`."""
    return bool(config.option.markexpr == "slow")


def pytest_configure(config: pytest.Config) -> None:
    """Give properties few examples, the same in every run, and many new ones before a release."""
    settings.load_profile("slow" if _before_a_release(config) else "usual")


def _begin_with_long_files(items: list[pytest.Item]) -> None:
    """Put the files of tests in the order in which they are begun: those that take long, then those of many tests."""
    files = [item.nodeid.partition("::")[0] for item in items]
    count = Counter(files)
    first = {name: place for place, name in enumerate(BEGUN_FIRST)}
    order = sorted(range(len(items)), key=lambda i: (first.get(files[i], len(first)), -count[files[i]]))
    items[:] = [items[i] for i in order]


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Count properties among the slow tests, too; in several processes begin with what takes long."""
    if hasattr(config, "workerinput"):
        _begin_with_long_files(items)
    if _before_a_release(config):
        for item in items:
            if getattr(getattr(item, "obj", None), "is_hypothesis_test", False):
                item.add_marker(pytest.mark.slow)


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> LoadFileScheduling:
    """Run the tests of one file in one process (``pytest -n auto``), so that what they share is made once."""
    # In the order of the items, not by the number of tests alone.
    config.option.loadscopereorder = False
    return LoadFileScheduling(config, log)
