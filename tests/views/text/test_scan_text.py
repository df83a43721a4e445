"""What a scan came to, as the terminal shows it."""

from __future__ import annotations

import numpy as np

from curves.sensitometry.core.units import LAYERS
from curves.sensitometry.scan.patch_light import FilmPiece
from curves.sensitometry.strip.origin import Flag
from curves.views.text.scan import patches_text

DENSITIES = np.array([[2.1234, 1.9, 2.3], [np.nan, 0.8, -0.0123]])
ERRORS = np.array([[0.0123, 0.01, np.nan], [np.nan, 0.004, 0.005]])
DUST = "12% of it is left out as dust or scratches"
PIECES = (
    FilmPiece("fully_exposed", np.zeros((4, 2)), {"red": 3.0, "blue": 2.9876}),
    FilmPiece("base", np.zeros((4, 2)), {}),
)


def test_each_patch_has_a_line_of_densities_with_their_uncertainty() -> None:
    assert patches_text(("step 1", "step 22"), LAYERS, DENSITIES, ERRORS, (), (), ()).splitlines() == [
        "                    red           green            blue",
        "step 1     2.123 ±0.012    1.900 ±0.010           2.300",
        "step 22        not read    0.800 ±0.004   -0.012 ±0.005",
        "±: standard uncertainty; 95 % lie within twice that",
    ]


def test_a_single_piece_of_film_stands_under_the_patches_its_density_under_theirs() -> None:
    lines = patches_text(("step 1",), LAYERS, DENSITIES, ERRORS, (), PIECES, ()).splitlines()
    assert lines[1:-1] == [
        "step 1           2.123 ±0.012    1.900 ±0.010           2.300",
        "fully exposed    3.000               not read    2.988",
        "base                 not read        not read        not read",
    ]
    assert lines[1].index("2.123") == lines[2].index("3.000")


def test_what_is_to_be_minded_stands_under_its_patch_and_names_the_channels_unless_it_is_all() -> None:
    flags = [Flag(1, "dust", DUST, "red"), Flag(1, "dust", DUST, "blue")]
    flags += [Flag(2, "dust", DUST, channel) for channel in LAYERS]
    lines = patches_text(("step 1", "step 2"), LAYERS, DENSITIES, ERRORS, flags, (), ()).splitlines()
    assert lines[2] == f"        red, blue: {DUST}"
    assert lines[4] == f"        {DUST}"
    assert len(lines) == 6


def test_a_grey_scan_names_no_channel() -> None:
    flags = [Flag(1, "dust", DUST, "visual")]
    lines = patches_text(("step 1",), ("visual",), DENSITIES[:1, :1], ERRORS[:1, :1], flags, (), ()).splitlines()
    assert lines[2] == f"        {DUST}"


def test_long_words_are_wrapped_for_a_terminal_of_eighty_columns() -> None:
    long = "its density changes by 0.05 from side to side: uneven light, or not one step"
    flags, notes = [Flag(1, "uneven", long, "red")], ["Nobody said what dark is; it is taken for zero." * 3]
    lines = patches_text(("step 1",), LAYERS, DENSITIES, ERRORS, flags, (), notes).splitlines()
    assert max(len(line) for line in lines) < 80
    assert lines[2].startswith("        red: its density")
    assert lines[3].startswith("        ")
    assert [line[:8] for line in lines[5:]] == ["Remark: ", "  is; it"]
