from pathlib import Path
from typing import Any

import numpy as np
import pytest

from curves.errors import RecordError
from curves.files.strips.bare import parse_wedge, strip_from_table
from curves.sensitometry.core.units import STOP
from curves.sensitometry.strip.exposure import Camera, Contact, Frames, GivenExposure

BY_STEP = "step,visual\n1,0.10\n2,0.60\n3,1.40\n4,2.20\n5,2.60\n"
BY_STOPS = BY_STEP.replace("step", "stops")


def table(folder: Path, text: str = BY_STEP) -> Path:
    path = folder / "bare.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_known_light_makes_a_contact_exposure(tmp_path: Path) -> None:
    strip = strip_from_table(table(tmp_path), kind="reversal", wedge="21x0.15@0.10", lux=25, seconds=0.02)
    assert isinstance(strip.exposure, Contact)
    np.testing.assert_allclose(strip.log_h[0], np.log10(0.5) - 0.10)
    assert strip.density == "visual"


def test_an_index_and_a_wedge_make_a_camera_exposure_metered_at_the_middle_step_and_say_so(tmp_path: Path) -> None:
    strip = strip_from_table(table(tmp_path), kind="reversal", wedge="21x0.15", ei=80)
    assert isinstance(strip.exposure, Camera)
    assert strip.exposure.metered_step == 11
    np.testing.assert_allclose(strip.log_h[0], 10 * 0.15)
    assert "The meter is taken to have read the middle step of the wedge, step 11." in strip.assumptions


def test_an_index_and_stops_make_a_bracket(tmp_path: Path) -> None:
    strip = strip_from_table(table(tmp_path, BY_STOPS), kind="reversal", ei=50)
    assert isinstance(strip.exposure, Frames)
    np.testing.assert_allclose(np.diff(strip.log_h), STOP)


def test_log_h_in_the_table_needs_nothing_else(tmp_path: Path) -> None:
    strip = strip_from_table(table(tmp_path, BY_STEP.replace("step", "log_h")), kind="negative")
    assert isinstance(strip.exposure, GivenExposure)
    assert strip.log_h_unit == "lux-seconds"


@pytest.mark.parametrize(("kind", "density"), [("reversal", "status A"), ("negative", "status M")])
def test_a_density_that_was_not_said_is_assumed_and_said_so(tmp_path: Path, kind: Any, density: str) -> None:
    text = BY_STEP.replace("visual", "green")
    strip = strip_from_table(table(tmp_path, text), kind=kind, wedge="21x0.15", lux=25, seconds=0.02)
    assert strip.density == density
    assert any(density in sentence for sentence in strip.assumptions)


@pytest.mark.parametrize(
    ("options", "told"),
    [
        ({}, "bare.csv: a bare table does not say what the film is; needed: --kind reversal or --kind negative."),
        ({"kind": "reversal", "wedge": "21"}, "--wedge: '21' does not describe a wedge"),
        ({"kind": "reversal", "wedge": "1x0.15"}, "--wedge: '1x0.15' is no ladder"),
        ({"kind": "reversal", "wedge": "21x0.15"}, "bare.csv: a wedge alone does not say the exposure"),
        ({"kind": "reversal", "wedge": "21x0.15", "lux": 25}, "bare.csv: a known light needs both"),
        ({"kind": "reversal", "lux": 25, "seconds": 1}, "bare.csv: a contact exposure went through a wedge"),
        ({"kind": "reversal", "ei": 80, "lux": 25}, "bare.csv: --ei and --lux or --seconds are both given"),
        ({"kind": "reversal", "ei": 0}, "--ei: 0 is out of range; needed: more than 0."),
        ({"kind": "reversal"}, "bare.csv: rows are listed by step, but the exposure was made by another method"),
    ],
)
def test_options_that_are_missing_or_at_odds_are_refused_in_words(
    tmp_path: Path, options: dict[str, Any], told: str
) -> None:
    with pytest.raises(RecordError) as refusal:
        strip_from_table(table(tmp_path), **options)
    assert str(refusal.value).startswith(told)


@pytest.mark.parametrize(
    ("text", "first", "last"), [("21x0.15", 0.05, 3.05), ("11 x 0.3 @ 0", 0.0, 3.0), ("31×.1@.1", 0.1, 3.1)]
)
def test_a_wedge_is_described_in_a_few_signs(text: str, first: float, last: float) -> None:
    wedge = parse_wedge(text)
    assert wedge.density[0] == pytest.approx(first)
    assert wedge.density[-1] == pytest.approx(last)
