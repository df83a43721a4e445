"""Every command runs without a network, and prints the same digits by whatever kernels the linear algebra is done."""

from __future__ import annotations

import functools
import json
import operator
import os
import shutil
import socket
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from unittest import mock

import pytest

from tests import scan_demo
from tests.commands.run import run
from tests.simulate import FOLDER

GATE = ("--clear", f"area:{scan_demo.GATE_AREA}", "--dark", "131")
LIGHT = ("--clear", f"area:{scan_demo.CLEAR_AREA}", "--dark", str(scan_demo.DARK), "--area", scan_demo.AREA)
LAMP = ("--kind", "reversal", "--wedge", "21x0.15", "--lux", "500", "--seconds", "0.02")
FEW = ("--draws", "200")
LINES: tuple[tuple[str, ...], ...] = (
    ("report", "heron-reversal.toml", "--card", *FEW),
    ("measure", "heron-negative.toml", "wren-reversal.toml", *FEW),
    ("ei", "heron-frames.toml", *FEW),
    ("compare", "heron-reversal.toml", "heron-filtered.toml", *FEW),
    ("control", "control"),
    ("filters", "heron-reversal.toml", "--drawer", "drawer.csv", *FEW),
    ("import", "heron-exchange.txt", "--yes", "--into", "new", *LAMP),
    ("enter", "heron-reversal", "--sheet"),
    ("grain", "heron-patch.tif", "--patch", scan_demo.PATCH_AREA, *GATE),
    ("balance", "heron-reversal.toml", *FEW),
    ("scan", "wren-scan.tif", "again", "--yes", *LIGHT, *LAMP),
    ("check", "."),
    ("explain", "gamma"),
    ("manual", "json"),
)


def test_no_command_opens_a_connection_or_starts_a_program(tmp_path: Path) -> None:
    folder = Path(shutil.copytree(FOLDER, tmp_path / "data"))
    refused = AssertionError("a command reached for the network, or for a program")
    with (
        mock.patch.object(socket, "socket", side_effect=refused),
        mock.patch.object(socket, "getaddrinfo", side_effect=refused),
        mock.patch.object(subprocess, "Popen", side_effect=refused),
        mock.patch.object(os, "system", side_effect=refused),
    ):
        for line in LINES:
            assert run(folder, *line).returncode in (0, 3), line


STRIPS = ("heron-reversal", "heron-negative", "heron-short", "heron-filtered", "wren-reversal", "heron-frames")
USUAL = 3
"""Number of strips in every run: a reversal, a negative and bounds; all before a release."""


@functools.cache
def printed(kernel: str, threads: str, strips: int, *words: str) -> str:
    """Return what a process prints about strips by a kernel of the linear algebra."""
    records = [str(FOLDER / f"{name}.toml") for name in STRIPS[:strips]]
    done = subprocess.run(
        [sys.executable, "-m", "curves", "measure", *records, "--draws", "250", *words],
        capture_output=True, encoding="utf-8", check=True,
        env={**os.environ, "OPENBLAS_NUM_THREADS": threads, **({"OPENBLAS_CORETYPE": kernel} if kernel else {})},
    )  # fmt: skip
    return done.stdout


KERNELS = [("Nehalem", "1"), ("Haswell", "2")]


@pytest.mark.parametrize("strips", [USUAL, pytest.param(len(STRIPS), marks=pytest.mark.slow)])
@pytest.mark.parametrize(("kernel", "threads"), KERNELS)
def test_every_kernel_and_number_of_threads_print_the_same_digits(kernel: str, threads: str, strips: int) -> None:
    assert printed(kernel, threads, strips, "--full") == printed("", "1", strips, "--full")


@pytest.mark.slow
@pytest.mark.parametrize(("kernel", "threads"), [*KERNELS, ("Prescott", "1"), ("Sandybridge", "1"), ("SkylakeX", "2")])
def test_json_of_every_kernel_agrees_to_a_unit_of_its_sixth_digit(kernel: str, threads: str) -> None:
    found, usual = (
        list(numbers_in(json.loads(printed(*one, len(STRIPS), "--json")))) for one in ((kernel, threads), ("", "1"))
    )
    assert len(found) > 2000
    # Six digits are written: a number at the middle between two of them may fall to either.
    assert found == pytest.approx(usual, rel=1.01e-5, abs=1e-9)
    assert sum(map(operator.ne, found, usual)) <= 0.002 * len(found)


def numbers_in(value: object) -> Iterator[float]:
    """Give the numbers of a JSON value in order."""
    if isinstance(value, dict):
        value = list(value.values())
    if isinstance(value, list):
        for one in value:
            yield from numbers_in(one)
    elif isinstance(value, int | float):
        yield float(value)
