"""Every command runs without a network, and prints the same digits by whatever kernels the linear algebra is done."""

from __future__ import annotations

import functools
import os
import shutil
import socket
import subprocess
import sys
from pathlib import Path
from unittest import mock

import pytest

from tests import scan_demo
from tests.commands.run import run
from tests.simulate import FOLDER

GATE = ("--clear", f"area:{scan_demo.GATE_AREA}", "--dark", "131")
LIGHT = ("--clear", f"area:{scan_demo.CLEAR_AREA}", "--dark", str(scan_demo.DARK), "--area", scan_demo.AREA)
LAMP = ("--kind", "reversal", "--wedge", "21x0.15", "--lux", "500", "--seconds", "0.02")
LINES: tuple[tuple[str, ...], ...] = (
    ("report", "heron-reversal.toml", "--card"),
    ("measure", "heron-negative.toml", "wren-reversal.toml"),
    ("ei", "heron-frames.toml"),
    ("compare", "heron-reversal.toml", "heron-filtered.toml", "--draws", "200"),
    ("control", "control"),
    ("filters", "heron-reversal.toml", "--drawer", "drawer.csv"),
    ("import", "heron-exchange.txt", "--yes", "--into", "new", *LAMP),
    ("enter", "heron-reversal", "--sheet"),
    ("grain", "heron-patch.tif", "--patch", scan_demo.PATCH_AREA, *GATE),
    ("balance", "heron-reversal.toml"),
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


@functools.cache
def printed(kernel: str, threads: str) -> str:
    """Return what a process prints about strips by a kernel of the linear algebra."""
    names = [str(FOLDER / f"{name}.toml") for name in ("heron-reversal", "wren-reversal")]
    words = ("measure", *names, "--draws", "250")
    done = subprocess.run(
        [sys.executable, "-m", "curves", *words], capture_output=True, encoding="utf-8", check=True,
        env={**os.environ, "OPENBLAS_NUM_THREADS": threads, **({"OPENBLAS_CORETYPE": kernel} if kernel else {})},
    )  # fmt: skip
    return done.stdout


@pytest.mark.parametrize(("kernel", "threads"), [("Nehalem", "1"), ("Haswell", "2")])
def test_every_kernel_and_number_of_threads_print_the_same_digits(kernel: str, threads: str) -> None:
    assert printed(kernel, threads) == printed("", "1")
