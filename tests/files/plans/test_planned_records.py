"""Records of planned strips: what they hold, and that they load."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from curves.errors import CurvesError, OutputError, RecordError
from curves.files.base.fields import Section
from curves.files.plans.planned_records import KnownBefore, write_next, write_planned
from curves.files.sections.plan_section import plan_section, planned_in
from curves.files.strips.record import load_strip, read_setup
from curves.sensitometry.next_exposure.proposals import Proposal
from curves.sensitometry.planning.camera import dial
from curves.sensitometry.planning.light import Illuminance, by_incident_meter
from curves.sensitometry.planning.population import FilmGuess
from curves.sensitometry.planning.ways import FirstPlan, by_camera, by_contact, by_frames
from curves.sensitometry.strip.exposure import Camera, Contact
from curves.sensitometry.strip.origin import PlannedEnds, PlannedNumber, PredictedInterval
from curves.sensitometry.strip.wedge import Wedge
from tests.simulate import FOLDER

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


AFTER = PlannedNumber(
    "Wren 25, reversal", "ei", None, 19, PredictedInterval((16.0, 23.0, 32.0), (0.31, 0.35, 0.5)),
    PredictedInterval((18.0, 23.0, 30.0), (0.3, 0.34, 0.49)),
)  # fmt: skip
NEXT = Proposal("again", 10.5, 0, 21, offset_stops=2.0)


@pytest.mark.parametrize("expected", [AFTER, replace(AFTER, own=None), replace(AFTER, number="gamma", channel="red")])
def test_the_prediction_of_a_further_strip_comes_back_as_it_was_written(expected: PlannedNumber) -> None:
    assert planned_in(Section(plan_section(expected), "x.toml, [plan]")) == expected


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"both_value": None}, "'both_value' is not three numbers"),
        ({"own_half_width": [0.5, 0.3, 0.4]}, "are not the ends of an interval"),
        ({"own_half_width": [-0.5, 0.3, 0.4]}, "-0.5 is out of range"),
        ({"channel": "red"}, "'ei' has a channel"),
        ({"number": "gamma"}, "'gamma' has no channel"),
        ({"box": 80.0}, "it goes with a plan of the first strip"),
        ({"films": 1}, "films"),
    ],
)
def test_a_prediction_of_a_further_strip_that_cannot_be_is_refused(change: dict[str, object], said: str) -> None:
    section = {key: value for key, value in (plan_section(AFTER) | change).items() if value is not None}
    with pytest.raises(RecordError) as refused:
        planned_in(Section(section, "x.toml, [plan]"))
    assert said in str(refused.value)


def test_a_further_strip_takes_over_all_but_its_exposure_and_its_readings(tmp_path: Path) -> None:
    record = FOLDER / "wren-reversal.toml"
    first = load_strip(record)
    path = write_next(tmp_path / "second", record, first, NEXT, AFTER)
    found, before = content(path), content(record)
    for same in ("film", "process", "kind", "density", "reader"):
        assert found[same] == before[same]
    # Two stops more by the same light: four times as long.
    assert found["exposure"] == before["exposure"] | {"seconds": pytest.approx(4.0 * before["exposure"]["seconds"])}
    assert "patches" not in found
    setup = read_setup(path)
    assert setup.wedge is not None
    known = read_setup(record).wedge
    assert known is not None
    assert setup.wedge.density == pytest.approx(known.density)
    with pytest.raises(CurvesError, match="already such a file"):
        write_next(tmp_path / "second.toml", record, first, NEXT, AFTER)


def test_a_further_bracket_lists_its_frames_and_has_no_wedge(tmp_path: Path) -> None:
    record = FOLDER / "wren-reversal.toml"
    bracket = Proposal("bracket", 0.0, 5, 5, indexes=(100.0, 50.0, 25.0, 12.0, 6.0))
    path = write_next(tmp_path / "roll", record, load_strip(record), bracket, AFTER)
    assert content(path)["exposure"] == {"method": "frames", "ei": 25.0, "light": "daylight 5500 K"}
    assert "wedge" not in content(path)
    assert path.with_suffix(".csv").read_text(encoding="utf-8") == "ei,visual\n100,\n50,\n25,\n12,\n6,\n"


def test_frames_exposed_again_lie_as_many_stops_further(tmp_path: Path) -> None:
    record = FOLDER / "heron-frames.toml"
    first = load_strip(record)
    path = write_next(tmp_path / "again", record, first, NEXT, AFTER)
    assert content(path)["exposure"] == content(record)["exposure"]
    rows = path.with_suffix(".csv").read_text(encoding="utf-8").splitlines()
    assert rows[0] == "stops,red,green,blue"
    assert [float(row.split(",")[0]) for row in rows[1:]] == pytest.approx(first.position + 2.0, abs=0.005)


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
