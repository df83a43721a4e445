"""Records of planned strips: what they hold, and that they load."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest

from curves.errors import CurvesError, OutputError, RecordError
from curves.files.base.fields import Section
from curves.files.entry.planned_records import KnownBefore, write_planned
from curves.files.plans.plan_section import plan_section, planned_in
from curves.files.strips.record import load_strip, read_setup
from curves.sensitometry.planning.camera import dial
from curves.sensitometry.planning.light import Illuminance, by_incident_meter
from curves.sensitometry.planning.population import FilmGuess
from curves.sensitometry.planning.ways import FirstPlan, by_camera, by_contact, by_frames
from curves.sensitometry.strip.exposure import Camera, Contact
from curves.sensitometry.strip.origin import PlannedEnds
from curves.sensitometry.strip.wedge import Wedge

WEDGE, SHUTTER = Wedge.nominal(21, 0.15), dial("whole", (2.8, 16.0), (1 / 500.0, 0.5))
GUESS = FilmGuess("reversal", "transparency", 80.0, 3.0, colour=False)
KNOWN = KnownBefore("visual", "21x0.15", "Wren 25", "reversal", None, None)
ENDS = PlannedEnds((-0.2, 0.5, 1.3), (-2.3, -1.5, -0.8), 0.95, 0.6, 1, 2, 80.0, 1.0)


def contact(lux: float) -> FirstPlan:
    return by_contact(GUESS, WEDGE, 0.9, 0, Illuminance(lux), SHUTTER)


def content(path: Path) -> dict[str, Any]:
    return tomllib.loads(path.read_text(encoding="utf-8"))


def test_each_strip_of_a_plan_gets_its_record(tmp_path: Path) -> None:
    plan = contact(60.0)
    paths = write_planned(tmp_path / "wren", plan, KNOWN)
    assert [path.name for path in paths] == ["wren-1.toml", "wren-2.toml"]
    for number, (path, strip) in enumerate(zip(paths, plan.strips, strict=True), start=1):
        found = content(path)
        assert (found["film"], found["process"], found["kind"]) == ("Wren 25", "reversal", "reversal")
        assert (found["plan"]["strip"], found["plan"]["strips"]) == (number, 2)
        exposure = read_setup(path).exposure
        assert isinstance(exposure, Contact)
        assert strip.time is not None
        assert (exposure.lux, exposure.seconds) == pytest.approx((60.0, strip.time.exact))
        assert exposure.uncertainty_stops is None


def test_a_record_with_readings_keeps_its_prediction(tmp_path: Path) -> None:
    path = write_planned(tmp_path / "wren.toml", contact(60.0), KNOWN)[0]
    rows = "".join(f"{n},{2.8 - 0.12 * (21 - n):.2f}\n" for n in range(1, 22))
    path.with_suffix(".csv").write_text("step,visual\n" + rows, encoding="utf-8")
    planned = load_strip(path).planned
    assert isinstance(planned, PlannedEnds)
    assert (planned.strips, planned.box, planned.off_stops) == (2, 80.0, 3.0)
    assert planned.thin[0] < planned.thin[1] < planned.thin[2]
    assert planned.dense[1] < planned.thin[1]


def test_a_light_behind_a_grey_filter_is_the_light_on_the_wedge(tmp_path: Path) -> None:
    plan = contact(20000.0)
    path = write_planned(tmp_path / "wren", plan, KNOWN)[0]
    exposure = read_setup(path).exposure
    assert isinstance(exposure, Contact)
    assert exposure.lux == pytest.approx(20000.0 * 10.0 ** -plan.strips[0].filter_density, rel=1e-5)
    # Calculated: 0.15 and 0.10 stop in squares.
    assert exposure.uncertainty_stops == pytest.approx(0.180)
    assert "behind a grey filter" in content(path)["notes"]


def test_a_light_by_another_meter_keeps_its_uncertainty(tmp_path: Path) -> None:
    plan = by_contact(GUESS, WEDGE, 0.9, 0, by_incident_meter(5.0), SHUTTER)
    assert read_setup(write_planned(tmp_path / "wren", plan, KNOWN)[0]).exposure.uncertainty_stops == 0.25


def test_without_a_light_the_record_leaves_it_open(tmp_path: Path) -> None:
    plan = by_contact(GUESS, WEDGE, 0.9, 0, None, SHUTTER)
    assert content(write_planned(tmp_path / "wren", plan, KNOWN)[0])["exposure"] == {"method": "contact"}


def test_a_camera_s_record_counts_log_h_from_its_index(tmp_path: Path) -> None:
    plan = by_camera(GUESS, WEDGE, 0.9, 0, None, 12.5, 8.0, SHUTTER)
    known = KnownBefore("visual", "21x0.15", "", "", 12.5, 0.9)
    paths = write_planned(tmp_path / "wren", plan, known)
    for path, strip in zip(paths, plan.strips, strict=True):
        setup = read_setup(path)
        assert isinstance(setup.exposure, Camera)
        assert setup.exposure.ei == plan.ei
        assert setup.exposure.offset_stops == pytest.approx(strip.offset_stops)
        found = content(path)
        assert (found["exposure"]["meter_constant"], found["exposure"]["schwarzschild"]) == (12.5, 0.9)
        assert "film" not in found
    # The thin end, expected a good half above mid-grey in lux-seconds, lies as far from the metered grey at its index.
    absolute = plan.expected.end(most_exposed=True).value or 0.0
    assert content(paths[0])["plan"]["thin_end"][1] == pytest.approx(absolute - _zero(plan), abs=0.001)


def _zero(plan: FirstPlan) -> float:
    import math

    from curves.sensitometry.core.units import exact_ei

    # k = 0.6516 K (ISO 2720), over the exact index of the dial's number.
    return math.log10(0.6516 * 12.5 / float(exact_ei(plan.ei or 0.0)))


def test_a_bracket_gets_a_table_of_its_frames(tmp_path: Path) -> None:
    plan = by_frames(GUESS, 0.9, 0, None, None, SHUTTER)
    known = KnownBefore("status A", None, "", "", None, None)
    (path,) = write_planned(tmp_path / "wren", plan, known)
    lines = path.with_suffix(".csv").read_text(encoding="utf-8").splitlines()
    assert lines[0] == "stops,red,green,blue"
    assert [float(line.split(",")[0]) for line in lines[1:]] == [s.offset_stops for s in plan.strips]
    assert "wedge" not in content(path)


def test_nothing_is_overwritten(tmp_path: Path) -> None:
    (tmp_path / "wren-2.csv").write_text("step,visual\n", encoding="utf-8")
    with pytest.raises(OutputError, match="already such a file"):
        write_planned(tmp_path / "wren", contact(60.0), KNOWN)
    assert [path.name for path in tmp_path.iterdir()] == ["wren-2.csv"]


def test_a_wedge_s_table_is_named_from_the_record_s_folder(tmp_path: Path) -> None:
    rows = "".join(f"{n},{0.05 + 0.15 * (n - 1):.2f}\n" for n in range(1, 22))
    (tmp_path / "wedge.csv").write_text("step,density\n" + rows, encoding="utf-8")
    (tmp_path / "strips").mkdir()
    known = KnownBefore("visual", str(tmp_path / "wedge.csv"), "", "", None, None)
    path = write_planned(tmp_path / "strips" / "wren", contact(60.0), known)[0]
    assert content(path)["wedge"] == {"table": "../wedge.csv"}
    setup = read_setup(path)
    assert setup.wedge is not None
    assert setup.wedge.steps == 21


def test_a_prediction_comes_back_as_it_was_written() -> None:
    assert planned_in(Section(plan_section(ENDS), "x.toml, [plan]")) == ENDS
    assert planned_in(Section({}, "x.toml, [plan]")) is None


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"chance": 1.5}, "chance: 1.5 is out of range"),
        ({"chance": None}, "'chance' is missing"),
        ({"strip": 3}, "strip 3 is not one of 2"),
        ({"thin_end": [0.0, 1.0]}, "'thin_end' is not three numbers"),
        ({"dense_end": [0.0, -1.0, 1.0]}, "are not the ends of an interval"),
        ({"dense_end": [0.0, "a", 1.0]}, "'a' is not a number"),
        ({"chanse": 0.9}, "'chanse' is not a known key"),
        ({"box": 0.0}, "box: 0 is out of range"),
    ],
)
def test_a_plan_that_cannot_be_is_refused(change: dict[str, object], said: str) -> None:
    section = {key: value for key, value in (plan_section(ENDS) | change).items() if value is not None}
    with pytest.raises(RecordError) as refused:
        planned_in(Section(section, "x.toml, [plan]"))
    assert said in str(refused.value)


def test_the_library_refuses_what_a_record_refuses() -> None:
    with pytest.raises(CurvesError, match="out of range"):
        PlannedEnds((-0.2, 0.5, 1.3), (-2.3, -1.5, -0.8), 1.2, 0.6, 1, 2, 80.0, 1.0)
