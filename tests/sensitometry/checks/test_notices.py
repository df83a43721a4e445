"""Each notice comes where its limit is passed, and not before; its sentence holds what a reader needs."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from curves.sensitometry.analysis.analyse import analyse
from curves.sensitometry.analysis.channels import ChannelFit
from curves.sensitometry.checks.notices import notices
from curves.sensitometry.core.choices import Choices
from curves.sensitometry.core.units import LAYERS, Channel, FloatArray
from curves.sensitometry.curve.posterior import Scatter
from curves.sensitometry.measures.table import ChannelCurves
from curves.sensitometry.strip.exposure import GivenExposure
from curves.sensitometry.strip.metering import FilterUsed
from curves.sensitometry.strip.origin import Flag, ScanOrigin
from curves.sensitometry.strip.reciprocity import daylight_seconds
from curves.sensitometry.strip.strip import Strip
from curves.sensitometry.uncertainty.results import Notice
from curves.sensitometry.uncertainty.sources import Errors, Source
from tests.draws import NO_DRAWS
from tests.sensitometry.shapes import STEPS, slide

PLACES = STEPS + 0.0
"""Ending at zero, not at minus zero."""

BY_NUMBER: dict[str, Any] = {"labels": tuple(f"step {n}" for n in range(1, 22))}


def strip(**changed: Any) -> Strip:
    """Return a black-and-white slide read at 21 places, with some of it changed."""
    plain = Strip(
        "invented", "reversal", "visual", GivenExposure("lux-seconds"), PLACES, {"visual": slide(STEPS)}, **BY_NUMBER
    )
    return replace(plain, **changed)


def told(one: Strip, code: str, choices: Choices = NO_DRAWS) -> list[Notice]:
    return [notice for notice in analyse(one, choices).warnings if notice.code == code]


@pytest.mark.parametrize(("steps", "count"), [(7, 1), (8, 0)])
def test_a_channel_of_fewer_than_eight_steps_is_told(steps: int, count: int) -> None:
    kept = np.linspace(0, 20, steps).astype(int)
    few = strip(position=STEPS[kept], readings={"visual": slide(STEPS[kept])}, labels=())
    found = told(few, "few-steps")
    assert len(found) == count
    assert all(n.message.startswith(f"visual has only {steps} steps:") for n in found)


def test_a_step_set_aside_is_told_with_its_reading_and_number() -> None:
    readings = slide(STEPS)
    readings[9] += 0.4
    (found,) = told(strip(readings={"visual": readings}), "step-set-aside")
    assert found.message.startswith(f"visual, step 10: {readings[9]:.2f} lies ")
    assert found.message.endswith(" Read it again.")
    assert found.channel == "visual"
    # Steps are numbered from the most exposed.
    assert found.step == 12


def with_rise(rise: float, steps: int, repeatability: float | None) -> Strip:
    """Return the strip with its most exposed steps as much denser than their neighbour."""
    readings = slide(STEPS)
    readings[-8:] = readings[-8]
    readings[-steps:] += rise
    return strip(readings={"visual": readings}, repeatability=repeatability)


@pytest.mark.parametrize(
    ("rise", "steps", "repeatability", "count"),
    [
        # Regression: computed by this code. Eight level steps of which so many stand higher: 3.6 standard deviations of
        # the difference of two means, or 5.0 with those of the bend, and more where a scatter is known by few readings.
        (0.03, 3, None, 0),
        (0.06, 3, None, 1),
        (0.06, 2, None, 1),
        (0.03, 3, 0.02, 0),
        (0.10, 3, 0.02, 1),
        (0.03, 3, 0.002, 1),
    ],
)
def test_steps_against_the_direction_are_told_beyond_noise(
    rise: float, steps: int, repeatability: float | None, count: int
) -> None:
    found = told(with_rise(rise, steps, repeatability), "against-direction")
    assert len(found) == count
    for notice in found:
        assert f" by {rise:.2f}, beyond the scatter of the readings: the film solarises" in notice.message


def test_a_negative_that_turns_is_told_to_fall() -> None:
    readings = 3.2 - slide(STEPS)
    readings[-8:] = readings[-8]
    readings[-3:] -= 0.1
    (found,) = told(strip(kind="negative", readings={"visual": readings}), "against-direction")
    assert found.message.startswith("visual density falls with exposure between ")


@pytest.mark.parametrize(("stated", "count"), [(0.02, 0), (0.004, 1), (None, 0)])
def test_readings_that_scatter_more_than_stated_are_told(stated: float | None, count: int) -> None:
    noise = 0.02 * np.random.default_rng(3).standard_normal(STEPS.size)
    found = told(strip(readings={"visual": slide(STEPS) + noise}, repeatability=stated), "scatter")
    assert len(found) == count
    assert all("times what the record states (0.004): the patches are taken" in n.message for n in found)


@pytest.mark.parametrize(("ratio", "count"), [(1.49, 0), (1.51, 1)])
def test_scatter_is_told_from_one_and_a_half_times_the_stated(
    monkeypatch: pytest.MonkeyPatch, ratio: float, count: int
) -> None:
    with_errors = ChannelFit.with_errors

    def scattered(fit: ChannelFit, errors: Errors, choices: Choices) -> ChannelCurves:
        object.__setattr__(fit, "curve", replace(fit.curve, scatter=Scatter.known(ratio)))
        return with_errors(fit, errors, choices)

    monkeypatch.setattr(ChannelFit, "with_errors", scattered)
    assert len(told(strip(repeatability=0.02), "scatter")) == count
    assert told(strip(), "scatter") == []


def index_of(one: Strip) -> float:
    index = analyse(one, NO_DRAWS).working_ei.recommended.value
    assert index is not None
    return index


def far(one: Strip, where: str, choices: Choices = NO_DRAWS) -> list[str]:
    """Return whether each time that is told is longer or shorter, and check who asks for it."""
    found = told(one, "far-from-tested-time", choices)
    assert all(f" {where} " in n.message and "more than 10 times" in n.message for n in found)
    return ["longer" if "times longer." in n.message else "shorter" for n in found]


@pytest.mark.parametrize(("scene", "word"), [(10.0, []), (10.1, ["longer"]), (0.1, []), (0.099, ["shorter"])], ids=str)
def test_a_scene_more_than_ten_times_from_the_tested_time_is_told(scene: float, word: list[str]) -> None:
    choices = Choices(draws=0, scene_seconds=scene)
    assert far(strip(exposure=GivenExposure("lux-seconds", seconds=1.0)), "the scene asks for", choices) == word
    assert far(strip(), "the scene asks for", choices) == []


@pytest.mark.parametrize(("times", "word"), [(9.9, []), (10.1, ["longer"]), (0.101, []), (0.099, ["shorter"])], ids=str)
def test_an_index_far_from_the_metered_one_asks_for_a_time_far_from_the_tested_one(
    times: float, word: list[str]
) -> None:
    # By hand: the same light and aperture, metered at another index, ask for the time times EI over that index.
    metered = strip(exposure=GivenExposure("relative to metered mid-grey", ei=80.0, seconds=1.0))
    moved = replace(metered, position=STEPS + np.log10(times * index_of(metered) / 80.0))
    assert index_of(moved) == pytest.approx(80.0 / times, rel=1e-3)
    assert far(moved, "the light of the test, at the same aperture, asks for") == word


@pytest.mark.parametrize(("times", "word"), [(9.9, []), (10.1, ["longer"]), (0.101, []), (0.099, ["shorter"])], ids=str)
def test_an_index_asks_for_a_time_in_the_sun_if_nothing_else_is_known(times: float, word: list[str]) -> None:
    seconds = daylight_seconds(index_of(strip())) / times
    assert far(strip(exposure=GivenExposure("lux-seconds", seconds=seconds)), "the sun at f/8 asks for") == word


def layers(**changed: Any) -> Strip:
    readings: dict[Channel, FloatArray] = {c: slide(STEPS, centre=-1.5 + 0.05 * k) for k, c in enumerate(LAYERS)}
    return strip(readings=readings, density="status A", **changed)


def codes(one: Strip) -> set[str]:
    return {notice.code for notice in analyse(one, NO_DRAWS).warnings}


def test_visual_density_that_was_not_read_is_told_to_be_estimated_or_stood_in_for() -> None:
    assert "visual-estimated" in codes(layers())
    assert "stand-in" not in codes(layers())
    (found,) = told(strip(readings={"green": slide(STEPS)}, density="status A"), "stand-in")
    assert found.message == "green density stands in for visual density, which was not read."
    assert found.channel == "green"
    assert not codes(strip()) & {"visual-estimated", "stand-in"}
    negative = strip(kind="negative", readings={"green": 3.2 - slide(STEPS)}, density="status M")
    assert not codes(negative) & {"visual-estimated", "stand-in"}


def read_apart(red: slice, blue: slice, film: Strip | None = None) -> Strip:
    """Return a slide whose red and blue were read at some steps only."""
    whole = film or layers()
    readings = {c: v.copy() for c, v in whole.readings.items()}
    parts: dict[Channel, slice] = {"red": red, "blue": blue}
    for channel, at in parts.items():
        kept = np.zeros(STEPS.size, dtype=bool)
        kept[at] = True
        readings[channel][~kept] = np.nan
    return replace(whole, readings=readings)


@pytest.mark.parametrize(
    ("red", "blue", "count"),
    [
        # No step together, too few for a curve, and enough that do not reach as far as green.
        (slice(0, None, 2), slice(1, None, 2), 0),
        (slice(0, 12), slice(9, 21), 3),
        (slice(None), slice(0, 12), 12),
    ],
)
def test_layers_read_at_different_steps_leave_visual_out_and_the_analysis_goes_on(
    red: slice, blue: slice, count: int
) -> None:
    apart = read_apart(red, blue)
    found = analyse(apart, NO_DRAWS)
    assert list(found.channels) == ["red", "green", "blue"]
    assert found.working_ei.channel == "green"
    assert found.working_ei.recommended.value is not None
    (notice,) = told(apart, "visual-left-out")
    assert f"were read together at {count} of 21 steps only." in notice.message
    assert told(apart, "stand-in") != []
    assert "visual" not in {source.key for source in found.sources}


def test_visual_is_estimated_at_the_steps_that_all_layers_share() -> None:
    some = read_apart(slice(0, None, 2), slice(None))
    found = analyse(some, NO_DRAWS)
    assert len(found.channels["visual"].steps) == 11
    (notice,) = told(some, "visual-estimated")
    assert "at the 11 of 21 steps where all were read" in notice.message
    assert "steps" not in told(layers(), "visual-estimated")[0].message
    # The curve is that of every step, nearly.
    whole = analyse(layers(), NO_DRAWS).working_ei.recommended.value
    assert found.working_ei.recommended.value == pytest.approx(whole, rel=0.03)


@pytest.mark.parametrize(("times", "count"), [(1.0, 0), (1e4, 1), (1e-5, 1)])
def test_an_index_beyond_those_of_films_is_told(times: float, count: int) -> None:
    # By hand: an exposure said to be so many times as great makes an index so many times as small.
    found = told(strip(position=STEPS - np.log10(times)), "unusual-index")
    assert len(found) == count
    assert all("lies beyond the indexes that films have (0.1 to 12,800)" in n.message for n in found)


def test_a_kind_of_density_that_does_not_fit_the_kind_of_film_is_told() -> None:
    negative = {"kind": "negative", "readings": {"green": 3.2 - slide(STEPS)}}
    assert "status-m-reversal" in codes(strip(density="status M"))
    assert "status-m-reversal" not in codes(strip(density="status A"))
    assert "status-m-reversal" not in codes(strip(**negative, density="status M"))
    assert "status-a-negative" in codes(strip(**negative, density="status A"))
    assert "status-a-negative" not in codes(strip(**negative, density="status M"))
    assert "status-a-negative" not in codes(strip(density="status A"))
    black_and_white = {"visual": 3.2 - slide(STEPS)}
    assert "status-a-negative" not in codes(strip(kind="negative", readings=black_and_white, density="status A"))


def test_a_callier_factor_an_assumption_and_a_filter_are_told_once_each() -> None:
    (found,) = told(strip(callier=1.3), "callier")
    assert "divided by the Callier factor 1.3 of the record" in found.message
    assert [n.message for n in told(strip(assumptions=("One.", "Two.")), "assumed")] == ["One.", "Two."]
    used = (FilterUsed("orange", metered="through"), FilterUsed("grey", metered="without"))
    through, without = (n.message for n in told(strip(filters=used), "filter-in-place"))
    assert "filter 'orange', metered through the filter:" in through
    assert through.endswith("for a meter that looks through it.")
    assert "filter 'grey', metered without the filter:" in without
    assert without.endswith("for a meter that does not look through it.")


def test_densities_of_a_scanner_are_told_with_their_scan() -> None:
    assert told(strip(density="scan"), "scan-density")[0].message.startswith("Densities are a scanner's own:")
    (known,) = told(strip(density="scan", scan=ScanOrigin("a.tif", True, calibration="a wedge")), "scan-density")
    assert known.message.startswith("Densities are a scanner's own, read from a.tif by a wedge:")
    (light,) = told(strip(density="scan", scan=ScanOrigin("a.tif", True)), "scan-density")
    assert light.message.startswith("Densities are a scanner's own, read from a.tif by its light:")
    assert not codes(strip()) & {"scan-density", "scan-flare"}


@pytest.mark.parametrize(("dmax", "by_wedge", "count"), [(1.99, False, 0), (2.01, False, 1), (2.5, True, 0)])
def test_dense_steps_without_a_calibration_wedge_are_suspect(dmax: float, by_wedge: bool, count: int) -> None:
    density = slide(STEPS, height=dmax - 0.15)
    density *= dmax / density.max()
    found = told(strip(density="scan", readings={"visual": density}, scan=ScanOrigin("a", by_wedge)), "scan-flare")
    assert len(found) == count
    assert all(f"this strip goes up to {dmax:.2f}." in n.message for n in found)


def test_remarks_of_a_scan_are_told_by_patch_with_the_channels_they_hold_for() -> None:
    flags = (
        Flag(3, "dust", "much dust"),
        Flag(4, "uneven", "it is uneven", "red"),
        Flag(5, "clipped", "it is clipped", "red"),
        Flag(5, "clipped", "it is clipped", "blue"),
        *(Flag(6, "noisy", "it is noisy", c) for c in ("red", "green", "blue")),
    )
    found = analyse(layers(scan=ScanOrigin("a.tif", True, flags, doubts=("The light changed.",))), NO_DRAWS).warnings
    assert [n.message for n in found if n.code == "scan-doubt"] == ["The light changed."]
    said = {n.code: n for n in found}
    assert [said[f"scan-{code}"].message for code in ("dust", "uneven", "clipped", "noisy")] == [
        "Scan, step 3: much dust.",
        "Scan, step 4, red: it is uneven.",
        "Scan, step 5, red and blue: it is clipped.",
        "Scan, step 6: it is noisy.",
    ]
    assert [said[f"scan-{code}"].channel for code in ("dust", "uneven", "clipped", "noisy")] == [
        None,
        "red",
        None,
        None,
    ]
    # Rows ascend in log H, and steps are counted from the most exposed.
    assert said["scan-uneven"].step == 18


def test_uncertainties_that_nobody_gave_are_told_and_no_others() -> None:
    one = strip()
    found = analyse(one, NO_DRAWS)
    sources = [
        Source("a", "light", 0.15, "stops", "normal", True, "measure it", ()),
        Source("b", "wedge", 0.01, "density", "normal", False, "measure it", ()),
        Source("c", "filter", None, "stops", "normal", True, "measure it", ()),
    ]
    said = {n.code: n.message for n in notices(one, found.channels, found.working_ei, sources)}
    assert said["assumed-uncertainty"].endswith("(standard uncertainties, common practice): light 0.15 stops.")
    assert "assumed-uncertainty" not in {n.code for n in notices(one, found.channels, found.working_ei, sources[1:])}


def negative(gamma: float) -> Strip:
    """Return a negative with a toe and a straight line of a known slope."""
    density = 0.25 + gamma * 0.15 * np.log1p(np.exp((PLACES + 2.0) / 0.15))
    return Strip(
        "invented", "negative", "visual", GivenExposure("lux-seconds"), STEPS + 0.0, {"visual": density}, **BY_NUMBER
    )


@pytest.mark.parametrize(("gamma", "count"), [(0.65, 0), (0.95, 0), (1.05, 1), (1.9, 1)])
def test_contrast_beyond_what_papers_take_is_told_of_a_negative(gamma: float, count: int) -> None:
    found = told(negative(gamma), "contrast-beyond-paper")
    assert len(found) == count
    assert all(float(n.message.split()[1]) == pytest.approx(gamma, abs=0.06) for n in found)
    # Common practice: negatives that are printed have gamma 0.5 to 0.8.
    assert all("gamma 0.5 to 0.8 (common practice)" in n.message for n in found)


def test_contrast_beyond_papers_is_certain_only_where_the_interval_is() -> None:
    (found,) = told(negative(1.9), "contrast-beyond-paper", Choices(draws=100))
    assert "is contrast beyond what papers take" in found.message
    near = told(negative(1.01), "contrast-beyond-paper", Choices(draws=100))
    assert all("perhaps contrast beyond" in n.message for n in near)


def test_a_slide_may_have_the_contrast_of_a_slide() -> None:
    assert not told(strip(), "contrast-beyond-paper")
