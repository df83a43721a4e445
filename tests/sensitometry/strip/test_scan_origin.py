"""The scan that densities come from: its error of scale between the patches, and remarks on them."""

from __future__ import annotations

import numpy as np
import pytest

from curves.sensitometry.strip.origin import Flag, ScanOrigin

READINGS = np.array([2.0, 0.0, 1.0])
SCAN = ScanOrigin(
    "strip.tif",
    by_wedge=True,
    flags=(
        Flag(1, "dust", "it is dusty"),
        Flag(1, "uneven", "its light is uneven", "green"),
        Flag(2, "dust", "it is dirty", "red"),
    ),
    common={"red": np.array([0.06, 0.02, 0.04]), "green": np.array([0.02, np.nan, 0.06])},
)


def test_the_error_of_scale_runs_straight_between_patches_and_stays_beyond_them() -> None:
    # By hand: 0.02 at density 0, 0.04 at 1, 0.06 at 2.
    found = SCAN.scale_error("red", READINGS, np.array([-0.5, 0.0, 0.5, 1.5, 3.0]))
    assert found == pytest.approx([0.02, 0.02, 0.03, 0.05, 0.06])


def test_a_patch_of_which_the_error_or_the_reading_is_not_known_is_passed_over() -> None:
    # By hand: 0.06 at density 1, 0.02 at 2.
    assert SCAN.scale_error("green", READINGS, np.array([0.0, 1.5])) == pytest.approx([0.06, 0.04])
    unread = np.array([2.0, np.nan, 1.0])
    assert SCAN.scale_error("red", unread, np.array([0.0, 1.5])) == pytest.approx([0.04, 0.05])


def test_a_channel_that_was_not_scanned_takes_the_mean_error_of_the_layers() -> None:
    # By hand: (0.06 + 0.02) / 2 at density 2, (0.04 + 0.06) / 2 at density 1.
    assert SCAN.scale_error("visual", READINGS, np.array([2.0, 1.0])) == pytest.approx([0.04, 0.05])


def test_a_scan_of_which_nothing_is_known_adds_no_error() -> None:
    at = np.array([0.5, 1.5])
    assert ScanOrigin("strip.tif", by_wedge=False).scale_error("red", READINGS, at).tolist() == [0.0, 0.0]
    unknown = ScanOrigin("strip.tif", by_wedge=True, common={"red": np.full(3, np.nan)})
    assert unknown.scale_error("red", READINGS, at).tolist() == [0.0, 0.0]


def test_remarks_are_those_on_the_patch_in_its_channel_and_on_all_channels() -> None:
    assert SCAN.notes(1, "green") == "it is dusty; its light is uneven"
    assert SCAN.notes(1, "red") == "it is dusty"
    assert SCAN.notes(2, "red") == "it is dirty"
    assert SCAN.notes(2, "green") is None
    assert SCAN.notes(3, "red") is None
