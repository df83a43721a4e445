"""What can come after a strip: which proposals there are, what they take, and the strips that they would be."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from curves import load_strip
from curves.sensitometry.analysis.analyse import analyse_alone
from curves.sensitometry.core.units import STOP, Kind
from curves.sensitometry.next_exposure.proposals import Proposal, proposals, strip_of, with_patch
from curves.sensitometry.strip.exposure import Camera, Contact, Frames
from curves.sensitometry.strip.metering import FilterUsed
from curves.sensitometry.strip.strip import Strip
from curves.sensitometry.strip.wedge import Wedge
from curves.sensitometry.uncertainty.results import Analysis
from tests.draws import NO_DRAWS
from tests.simulate import FOLDER


@cache
def loaded(name: str) -> Strip:
    """Return a demo strip."""
    return load_strip(FOLDER / f"{name}.toml")


def of(strip: Strip) -> Analysis:
    """Return an analysis of a strip without draws."""
    return analyse_alone(strip, (), NO_DRAWS)


def keys(name: str, frames: int = 12) -> list[str]:
    """Return the keys of all that is proposed after a demo strip."""
    return [proposal.key for proposal in proposals(of(loaded(name)), frames)]


def test_a_strip_that_shows_the_whole_curve_can_be_exposed_either_way() -> None:
    again = [key for key in keys("wren-reversal") if key.startswith("again")]
    assert again == ["again -2", "again -1", "again +0", "again +1", "again +2"]


def test_a_strip_that_ended_early_is_exposed_further_that_way() -> None:
    found = keys("heron-short")
    assert {"again +1", "again +2", "again +3", "again +4"} <= set(found)
    assert not any(key.startswith("again -") for key in found)
    # Without an index nothing says where a meter would be set.
    assert not any(key.startswith(("camera", "bracket")) for key in found)
    # This bracket does not show Dmax, at its least exposed end.
    assert "again -4" in keys("heron-frames")
    assert "again +1" not in keys("heron-frames")


def test_the_patch_of_the_end_that_was_missed_is_read_beside_a_further_strip() -> None:
    found = {p.key: p for p in proposals(of(loaded("heron-short")), 12)}
    assert found["again +2"].patch == "fully_exposed"
    assert found["again +2"].film_cm == pytest.approx(12.5)
    assert found["again +0"].patch is None
    again, _ = strip_of(found["again +2"], loaded("heron-short"))
    assert set(again.patches.fully_exposed) == {"red", "green", "blue", "visual"}
    whole = {p.key: p for p in proposals(of(loaded("wren-reversal")), 12)}
    assert whole["again +2"].patch is None


def test_patches_are_proposed_where_they_were_not_read() -> None:
    assert [k for k in keys("wren-reversal") if k.startswith("patch")] == []
    assert [k for k in keys("heron-short") if k.startswith("patch")] == ["patch unexposed", "patch fully_exposed"]


def test_readings_at_hand_are_counted() -> None:
    strip = loaded("wren-reversal")
    thrice = replace(
        strip, position=np.tile(strip.position, 3), labels=(),
        readings={"visual": np.tile(strip.readings["visual"], 3)},
    )  # fmt: skip
    found = [p for p in proposals(of(thrice), 12) if p.way == "readings"]
    assert [(p.readings, p.to_read) for p in found] == [(5, 42)]


def test_a_bracket_has_no_more_frames_than_are_allowed() -> None:
    for frames, counts in ((4, set()), (5, {5}), (8, {5}), (12, {5, 9})):
        found = [p for p in proposals(of(loaded("wren-reversal")), frames) if p.way == "bracket"]
        assert {p.frames for p in found} == counts
        assert all(len(p.indexes) == p.frames for p in found)


def test_film_is_counted_in_centimetres_or_frames() -> None:
    found = {p.key: p for p in proposals(of(loaded("wren-reversal")), 12)}
    # 21 steps of 5 mm.
    assert found["again +1"].film_cm == pytest.approx(10.5)
    assert found["readings 3"].film_cm == 0.0
    assert found["readings 3"].to_read == 42
    assert found["camera 25"].frames == 1
    assert {p.key: p for p in proposals(of(loaded("heron-frames")), 12)}["again +0"].frames == 9


def test_a_filter_is_proposed_where_nothing_states_how_far_a_meter_misjudges_it() -> None:
    strip = loaded("wren-reversal")
    assert "filter" not in keys("wren-reversal")
    through = replace(strip, filters=(FilterUsed("orange", "through"),))
    assert "filter" in [p.key for p in proposals(of(through), 12)]
    stated = replace(strip, filters=(FilterUsed("orange", "through", uncertainty_stops=0.1),))
    assert "filter" not in [p.key for p in proposals(of(stated), 12)]


@pytest.mark.parametrize("name", ["wren-reversal", "heron-negative", "heron-frames"])
def test_the_strip_again_received_so_many_stops_more(name: str) -> None:
    first = loaded(name)
    again, origin = strip_of(Proposal("again", 10.5, 0, 21, offset_stops=2.0), first)
    assert origin == 0.0
    assert again.log_h == pytest.approx(first.log_h + 2.0 * STOP)


def test_another_exposure_by_the_same_light_has_another_time() -> None:
    first = loaded("wren-reversal")
    again, _ = strip_of(Proposal("again", 10.5, 0, 21, offset_stops=1.0), first)
    assert isinstance(first.exposure, Contact)
    assert isinstance(again.exposure, Contact)
    assert again.exposure.lux == first.exposure.lux
    assert first.exposure.seconds == 0.02
    assert again.exposure.seconds == pytest.approx(0.04)


@pytest.mark.parametrize(("kind", "less"), [("reversal", 0.0), ("negative", 2.0)])
def test_the_photographed_wedge_of_a_negative_gets_two_stops_less_against_stray_light(kind: Kind, less: float) -> None:
    exposure = Contact(2000.0, 0.02, light="daylight 5500 K")
    wedge = Wedge.nominal(21, 0.15)
    log_h = exposure.log_h(np.arange(1.0, 22.0), wedge)
    rise = 1.0 / (1.0 + np.exp(-4.0 * (log_h - log_h.mean())))
    density = 0.2 + 2.4 * (1.0 - rise if kind == "reversal" else rise)
    strip = Strip.from_readings(density, kind=kind, exposure=exposure, wedge=wedge)
    (proposal,) = (p for p in proposals(of(strip), 12) if p.way == "camera")
    assert proposal.metered_step is not None
    photographed, origin = strip_of(proposal, strip)
    # Each step beside what the strip in contact gave it, to half a step of the wedge.
    assert photographed.log_h + origin == pytest.approx(strip.log_h - less * STOP, abs=0.076)


def test_the_photographed_wedge_lies_where_the_meter_puts_it() -> None:
    first = loaded("wren-reversal")
    (proposal,) = (p for p in proposals(of(first), 12) if p.way == "camera")
    camera, origin = strip_of(proposal, first)
    assert isinstance(camera.exposure, Camera)
    assert camera.exposure.metered_step == proposal.metered_step
    # Grey at EI 25 (exactly 25.1, 15 degrees) gets 8.62 / 25.1 lux-seconds: H = k / EI, k = 0.6516 x 13.23.
    assert origin == pytest.approx(np.log10(8.620 / 25.119), abs=1e-3)
    # The step that the meter reads is the one that got about that exposure in contact.
    assert camera.log_h + origin == pytest.approx(first.log_h, abs=0.08)


def test_frames_of_a_bracket_are_rated_at_their_indexes() -> None:
    first = loaded("wren-reversal")
    proposal = Proposal("bracket", 0.0, 5, 5, indexes=(6, 12, 25, 50, 100))
    bracket, origin = strip_of(proposal, first)
    assert isinstance(bracket.exposure, Frames)
    assert bracket.exposure.ei == 25
    assert bracket.position == pytest.approx([2.0, 1.0, 0.0, -1.0, -2.0], abs=0.01)
    assert origin == pytest.approx(np.log10(8.620 / 25.119), abs=1e-3)
    # After a metered strip log H counts from its own index, here 80.
    _, metered = strip_of(proposal, loaded("heron-negative"))
    assert metered == pytest.approx(0.5, abs=1e-6)


def test_a_patch_is_added_to_those_that_were_read() -> None:
    strip = with_patch(loaded("heron-short"), "unexposed", {"green": 2.9})
    assert strip.patches.unexposed == {"green": 2.9}
    assert strip.patches.base == loaded("heron-short").patches.base
