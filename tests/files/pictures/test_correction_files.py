"""The map of a picture's numbers, read back by the open colour library that programs of the film trade share."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import PyOpenColorIO as ocio  # noqa: N813 - the package's own name for itself in its documents
import pytest
from numpy.typing import NDArray

from curves.files.pictures.correction_files import write_value_files
from curves.sensitometry.balance.picture_values import ValueTable
from curves.sensitometry.core.units import Channel
from curves.sensitometry.scan.encoding import SRGB

LAYERS: tuple[Channel, ...] = ("red", "green", "blue")
GREY: tuple[Channel, ...] = ("visual",)


def table(channels: tuple[Channel, ...]) -> ValueTable:
    """Return a map with steep places and flat ones, another for each channel."""
    rng = np.random.default_rng(len(channels))
    rise = rng.gamma(0.2, size=(65536, len(channels)))
    values = np.rint(65535 * np.cumsum(rise, axis=0) / rise.sum(axis=0)).astype(np.uint16)
    return ValueTable(channels, SRGB, values, np.zeros(values.shape, bool))


def read_by_colour_library(path: Path, colours: NDArray[np.uint16]) -> NDArray[np.uint16]:
    """Return what the library makes of colours, (n, 3), by a file."""
    config = ocio.Config.CreateRaw()
    processor = config.getProcessor(ocio.FileTransform(src=str(path)))
    depth = ocio.BIT_DEPTH_UINT16
    found = colours.copy()
    by = processor.getOptimizedCPUProcessor(depth, depth, ocio.OPTIMIZATION_DEFAULT)
    by.apply(ocio.PackedImageDesc(found, len(found), 1, 3, depth, 2, 6, 6 * len(found)))
    return found


@pytest.mark.parametrize("channels", [LAYERS, GREY], ids=["colour", "grey"])
def test_another_reader_makes_the_same_numbers_of_a_thousand_colours(
    tmp_path: Path, channels: tuple[Channel, ...]
) -> None:
    made = table(channels)
    write_value_files(tmp_path / "a.clf", None, made, "Heron & Wren <80>", ["First remark.", "A second one."])
    colours = np.random.default_rng(8).integers(0, 65536, (1000, 3)).astype(np.uint16)
    colours[0], colours[1] = 0, 65535
    columns = np.broadcast_to(made.values, (65536, 3))
    expected = np.stack([columns[colours[:, i], i] for i in range(3)], axis=1)
    assert np.array_equal(read_by_colour_library(tmp_path / "a.clf", colours), expected)


def test_another_reader_finds_the_film_the_channels_and_every_remark(tmp_path: Path) -> None:
    write_value_files(tmp_path / "a.clf", None, table(GREY), "Heron & Wren <80>", ["First remark.", "A second one."])
    group = ocio.Config.CreateRaw().getProcessor(ocio.FileTransform(src=str(tmp_path / "a.clf"))).createGroupTransform()
    assert len(group) == 1
    facts = group.getFormatMetadata()
    assert facts.getName() == "Heron & Wren <80>"
    texts = [(part.getElementName(), part.getElementValue()) for part in facts.getChildElements()]
    assert texts == [
        ("Description", "Heron & Wren <80>"),
        ("Description", "First remark."),
        ("Description", "A second one."),
        ("InputDescriptor", "scan of the film: visual, numbers encoded srgb"),
        ("OutputDescriptor", "greys neutral: visual, numbers encoded srgb"),
    ]
