"""A strip made in a notebook: what is taken for granted, and what is refused in words."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd
import pytest

from curves import Camera, Contact, FilterUsed, Frames, GivenExposure, Patches, Strip, StripError, Wedge

READINGS = [0.32, 0.33, 0.37, 0.48, 0.74, 1.13, 1.62, 2.11, 2.48, 2.66, 2.71]
LAYERS = {"red": READINGS, "green": READINGS, "blue": READINGS}
LIGHT, WEDGE = Contact(lux=500.0, seconds=0.02), Wedge.nominal(11, 0.30)


def made(readings: Any = READINGS, **changed: Any) -> Strip:
    """Return a strip of a contact exposure, with some of it changed."""
    given: Mapping[str, Any] = {"kind": "reversal", "exposure": LIGHT, "wedge": WEDGE, "title": "Wren", **changed}
    return Strip.from_readings(readings, **given)


def refused(readings: Any = READINGS, **changed: Any) -> str:
    """Return the words in which a strip is refused."""
    with pytest.raises(StripError) as caught:
        made(readings, **changed)
    return str(caught.value)


def test_a_single_list_is_visual_density_of_every_step_of_the_wedge() -> None:
    strip = made()
    assert strip.channels == ("visual",)
    assert strip.density == "visual"
    assert strip.position.tolist() == list(range(1, 12))
    assert strip.labels[3] == "step 4"
    assert strip.assumptions == ()
    assert strip.log_h[0] == pytest.approx(np.log10(500.0 * 0.02) - 0.05)


@pytest.mark.parametrize(
    "readings", [READINGS, tuple(READINGS), np.array(READINGS), pd.Series(READINGS, index=range(5, 16)), pd.DataFrame(
        {"visual": READINGS})], ids=["list", "tuple", "array", "series", "table"],
)  # fmt: skip
def test_readings_come_in_any_kind_of_list(readings: Any) -> None:
    assert made(readings).readings["visual"].tolist() == READINGS


def test_three_layers_are_status_a_for_a_reversal_and_status_m_for_a_negative_and_that_is_said() -> None:
    for kind, density in (("reversal", "status A"), ("negative", "status M")):
        strip = made(pd.DataFrame(LAYERS), kind=kind)
        assert strip.channels == ("red", "green", "blue")
        assert strip.density == density
        assert strip.assumptions == (f"The kind of density was not given; {density} is assumed.",)
    assert made(LAYERS, density="status M").assumptions == ()


def test_all_else_that_is_known_of_a_strip_can_be_given() -> None:
    known: dict[str, Any] = {
        "patches": Patches(base={"visual": 0.2}), "repeatability": 0.012, "reader": "the club's", "reader_zero": 0.005,
        "reader_scale": 0.01, "meter_constant": 14.0, "sample": "one strip",
        "filters": (FilterUsed("orange conversion"),), "film": "Wren 25", "process": "reversal, 9 min at 20 C",
        "date": datetime.date(2026, 3, 14), "notes": "invented",
        "labels": tuple(f"patch {n}" for n in range(11)),
    }  # fmt: skip
    strip = made(**known)
    assert {name: getattr(strip, name) for name in known} == known


def test_positions_are_needed_where_not_every_step_was_read() -> None:
    assert refused(READINGS[:9]) == (
        "Wren: there are 9 readings for a wedge of 11 steps, and no positions; needed: positions: the step of each"
        " reading."
    )
    assert made(READINGS[:9], positions=range(2, 11)).position.tolist() == list(range(2, 11))
    assert "needed: positions: the stops of each reading" in refused(exposure=Frames(50.0), wedge=None)
    assert "needed: positions: the log H of each reading" in refused(exposure=GivenExposure("lux-seconds"), wedge=None)
    frames = Frames(50.0)
    strip = made(READINGS[:5], exposure=frames, wedge=None, positions=frames.stops_of_ei([200, 100, 50, 25, 12]))
    assert np.diff(strip.position) == pytest.approx(np.full(4, 0.3 / np.log10(2.0)))


def test_what_was_not_read_is_none_or_nan() -> None:
    strip = made([None, float("nan"), *READINGS[2:]])
    assert np.isnan(strip.readings["visual"][:2]).all()


def test_nobody_changes_a_strip_behind_its_back() -> None:
    readings = np.array(READINGS)
    strip = made(readings)
    readings[0] = 9.0
    assert strip.readings["visual"][0] == READINGS[0]
    with pytest.raises(ValueError, match="read-only"):
        strip.readings["visual"][0] = 9.0


def test_a_strip_is_short_in_its_repr() -> None:
    assert repr(made()) == "Strip('Wren', reversal, visual, 11 steps, log H -2.05 to 0.95)"
    assert repr(made(LAYERS)) == "Strip('Wren', reversal, status A red green blue, 11 steps, log H -2.05 to 0.95)"


@pytest.mark.parametrize(
    ("readings", "changed", "message"),
    [
        (READINGS, {"kind": "Reversal"}, "Wren, kind: 'Reversal' is not known"),
        (READINGS, {"density": "status a"}, "Wren, density: 'status a' is not known"),
        (READINGS, {"density": "status a"}, "Try: write 'status A'"),
        (READINGS, {"title": 7}, "Strip, title: 7 is not a text"),
        (READINGS, {"film": None}, "Wren, film: None is not a text"),
        (READINGS, {"exposure": 0.5}, "Wren, exposure: 0.5 is of the wrong type"),
        (READINGS, {"wedge": "21x0.15"}, "Wren, wedge: '21x0.15' is of the wrong type; needed: Wedge or None"),
        (READINGS, {"wedge": None}, "Wren: exposed through a wedge, but no wedge is described"),
        (
            READINGS,
            {"exposure": GivenExposure("lux-seconds"), "positions": range(11)},
            "Wren: there is a wedge, but the exposure",
        ),
        (READINGS, {"exposure": Camera(80.0, 12)}, "Wren: there is no step 12"),
        (READINGS, {"positions": range(11)}, "Wren: there is no step 0; needed: whole steps from 1 to 11"),
        (READINGS, {"positions": range(1, 11)}, "Wren: visual has 11 readings for 10 rows"),
        (READINGS, {"positions": [None, *range(2, 12)]}, "Wren: the position of a row is not a number"),
        (READINGS, {"date": "2026-03-14"}, "Wren, date: '2026-03-14' is of the wrong type"),
        (READINGS, {"patches": {"base": {}}}, "Wren, patches: {'base': {}} is of the wrong type"),
        (READINGS, {"filters": ("orange conversion",)}, "Wren: a filter is not described"),
        (READINGS, {"labels": ("one",)}, "Wren: 1 labels for 11 rows"),
        (READINGS, {"repeatability": 0.0}, "Strip, repeatability: 0 is out of range"),
        (READINGS, {"reader_scale": -0.1}, "Strip, reader_scale: -0.1 is out of range"),
        (
            READINGS,
            {"meter_constant": 3.0},
            "Strip, meter_constant: 3 is out of range; needed: at least 5 and at most 30",
        ),
        (READINGS, {"reader_zero": 1.0}, "Strip, reader_zero: 1 is out of range"),
        (READINGS, {"reciprocity": 0.9}, "Wren, reciprocity: 0.9 is of the wrong type"),
        (LAYERS, {"density": "visual"}, "Wren: visual density was read, but there is a channel red"),
        ({"cyan": READINGS}, {}, "Wren, readings: 'cyan' is not known"),
        ({"gren": READINGS}, {}, "Try: write 'green'"),
        ({**LAYERS, "blue": READINGS[:4]}, {}, "Wren: blue has 4 readings for 11 rows"),
        ({**LAYERS, "blue": [None] * 11}, {}, "Wren: blue holds no reading"),
        ({}, {"positions": range(1, 12)}, "Wren: no channel was read"),
        ([*READINGS[:10], 271], {}, "Wren, visual, row 11: 271 is out of range; needed: at least -0.05 and at most 15"),
        ([-0.06, *READINGS[1:]], {}, "Wren, visual, row 1: -0.06 is out of range"),
        ([*READINGS[:3], *[None] * 8], {}, "Wren: only 3 different steps were read"),
        (["0.32", *READINGS[1:]], {}, "Wren, visual, number 1: '0.32' is not a number"),
    ],
)
def test_what_a_command_refuses_the_library_refuses_too(readings: Any, changed: dict[str, Any], message: str) -> None:
    assert message in refused(readings, **changed)


def test_a_changed_copy_of_a_strip_is_checked_again() -> None:
    slide: Any = "slide"
    with pytest.raises(StripError, match="is not known"):
        replace(made(), kind=slide)
