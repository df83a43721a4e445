import math

import numpy as np
import pytest

from curves import Choices, analyse
from curves.errors import StripError
from curves.sensitometry.core.units import STOP, Channel, FloatArray, nominal_speed
from curves.sensitometry.strip.exposure import Camera, Contact, Frames, GivenExposure
from curves.sensitometry.strip.strip import Patches, Strip
from curves.sensitometry.strip.wedge import Wedge
from curves.sensitometry.uncertainty.results import Analysis, WorkingEI
from tests.draws import FEW_DRAWS
from tests.sensitometry.shapes import STEPS, slide


def analysed(
    readings: dict[Channel, FloatArray],
    *,
    log_h: FloatArray = STEPS,
    patches: Patches | None = None,
    ei: float | None = None,
    choices: Choices | None = None,
) -> Analysis:
    strip = Strip(
        title="invented",
        kind="reversal",
        density="visual" if set(readings) == {"visual"} else "status A",
        exposure=GivenExposure(ei=ei),
        position=log_h,
        readings=readings,
        patches=patches or Patches(),
        repeatability=0.01,
    )
    return analyse(strip, choices or FEW_DRAWS)


def clear_film(choices: Choices | None = None) -> WorkingEI:
    patches = Patches(base={"visual": 0.08}, fully_exposed={"visual": 0.15})
    return analysed({"visual": slide(STEPS)}, patches=patches, choices=choices).working_ei


def masked_film(dmin: float = 0.45) -> WorkingEI:
    patches = Patches(base={"visual": 0.20}, fully_exposed={"visual": dmin})
    return analysed({"visual": slide(STEPS, dmin=dmin, height=2.4)}, patches=patches).working_ei


def true_log_h(density: float, **shape: float) -> float:
    grid = np.linspace(-3.0, 0.0, 30001)
    return float(np.interp(-density, -slide(grid, **shape), grid))


def test_where_the_film_clears_white_decides() -> None:
    ei = clear_film()
    assert ei.basis == "highlight"
    assert ei.base is not None
    assert ei.base.clears is True
    # From the definition: white, 0.70 above mid-grey, lands on Dmin + 0.20, and EI = 10 / H of mid-grey.
    expected = 10.0 * 10.0 ** -(true_log_h(0.35) - 0.70)
    assert ei.criteria["highlight"].ei.value == pytest.approx(expected, rel=0.03)
    assert "The film clears" in ei.reason


def test_where_the_film_does_not_clear_the_middle_decides_and_says_why() -> None:
    ei = masked_film()
    assert ei.basis == "middle"
    assert ei.base is not None
    assert ei.base.clears is False
    assert ei.base.white_percent == pytest.approx(100 * 10**-0.45, rel=1e-3)
    assert ei.base.veil_stops == pytest.approx(0.25 / STOP, rel=1e-3)
    assert "White is not white" in ei.reason
    assert any("veil of 0.25" in sentence for sentence in ei.advice)


def test_the_ends_of_the_range_are_the_cleared_and_the_shadow_criterion() -> None:
    # Mid-grey is a stop and a half brighter in this scene, so that the film holds it.
    ei = clear_film(choices=Choices(white=0.45, shadow=-0.45))
    assert ei.too_long_stops is None
    low, high = ei.criteria["cleared"].ei.value, ei.criteria["shadow"].ei.value
    assert low is not None
    assert high is not None
    assert ei.range == (nominal_speed(low), nominal_speed(high))


def test_a_scene_longer_than_the_film_has_no_range_and_says_by_how_many_stops() -> None:
    ei = clear_film(choices=Choices(white=1.2, shadow=-1.5))
    low, high = ei.criteria["cleared"].ei.value, ei.criteria["shadow"].ei.value
    assert low is not None
    assert high is not None
    assert low > high
    assert ei.range == (None, None)
    assert ei.too_long_stops == pytest.approx(math.log2(low / high))
    assert "stops longer than the film holds" in ei.reason


def test_a_basis_outside_the_range_gives_way_to_the_nearest_end() -> None:
    ei = clear_film(choices=Choices(white=0.45, shadow=-0.75))
    highlight, shadow = ei.criteria["highlight"].ei.value, ei.criteria["shadow"].ei.value
    assert highlight is not None
    assert shadow is not None
    assert highlight > shadow
    assert ei.recommended.value == pytest.approx(shadow)
    assert "the highest index that keeps it is taken instead" in ei.reason


def test_a_strip_that_stops_before_the_highlights_clear_names_no_index() -> None:
    inside = STEPS < -1.3
    ei = analysed({"visual": slide(STEPS)[inside]}, log_h=STEPS[inside]).working_ei
    assert ei.recommended.value is None
    assert ei.nominal is None
    bound = ei.criteria["highlight"].ei.bound
    assert bound is not None
    assert bound[0] == "<"
    assert bound[1] > 10.0 * 10.0 ** -(true_log_h(0.35) - 0.70)
    assert any("more exposure" in sentence for sentence in ei.advice)


def test_doubling_the_exposure_halves_the_index() -> None:
    once = analysed({"visual": slide(STEPS)}).working_ei
    twice = analysed({"visual": slide(STEPS)}, log_h=STEPS + STOP).working_ei
    for name, criterion in once.criteria.items():
        assert criterion.ei.value is not None
        assert twice.criteria[name].ei.value == pytest.approx(criterion.ei.value / 2, rel=1e-6)


def test_a_relative_strip_does_not_depend_on_the_metered_exposure() -> None:
    one = analysed({"visual": slide(STEPS)}, ei=50.0, choices=Choices(metered_exposure=10.0)).working_ei
    other = analysed({"visual": slide(STEPS)}, ei=50.0, choices=Choices(metered_exposure=8.15)).working_ei
    assert one.recommended == other.recommended


def test_layers_apart_are_told_in_stops_with_the_last_to_clear() -> None:
    readings: dict[Channel, FloatArray] = {
        "red": slide(STEPS, centre=-1.6),
        "green": slide(STEPS, centre=-1.5),
        "blue": slide(STEPS, centre=-1.3),
    }
    found = analysed(readings)
    layers = found.working_ei.layers
    assert layers is not None
    assert layers.last_to_clear == "blue"
    assert layers.t_stops.value == pytest.approx(0.3 / STOP, abs=0.15)
    assert found.channels["visual"].estimated
    assert found.working_ei.channel == "visual"
    assert "visual-estimated" in {n.code for n in found.warnings}


def test_a_strip_that_contradicts_its_kind_is_refused() -> None:
    with pytest.raises(StripError, match="the record says reversal, but visual density rises with exposure"):
        analysed({"visual": slide(STEPS)[::-1]})


def test_a_bracket_of_frames_gives_an_index() -> None:
    stops = np.arange(-4.0, 6.0)
    log_h = stops * STOP
    strip = Strip(
        title="invented bracket",
        kind="reversal",
        density="visual",
        exposure=Frames(ei=50.0),
        position=stops,
        readings={"visual": np.round(slide(log_h, centre=0.0), 2)},
        repeatability=0.01,
    )
    ei = analyse(strip, FEW_DRAWS).working_ei
    shape = {"centre": 0.0}
    grid = np.linspace(-1.5, 1.8, 30001)
    t = float(np.interp(-0.35, -slide(grid, **shape), grid))
    assert ei.criteria["highlight"].ei.value == pytest.approx(50.0 * 10.0 ** -(t - 0.70), rel=0.08)


def test_a_run_against_the_direction_is_reported() -> None:
    readings = slide(STEPS)
    readings[8], readings[9], readings[10], readings[11] = readings[[11, 10, 9, 8]]
    codes = {n.code for n in analysed({"visual": readings}).warnings}
    assert "against-direction" in codes


def test_a_patch_that_the_strip_contradicts_is_reported() -> None:
    patches = Patches(fully_exposed={"visual": 0.40})
    codes = {n.code for n in analysed({"visual": slide(STEPS)}, patches=patches).warnings}
    assert "patch-disagrees" in codes


@pytest.mark.parametrize(
    ("exposure", "told"),
    [
        (Contact(lux=0.2, seconds=5.0), "the sun at f/8 asks for"),
        (Contact(lux=2000.0, seconds=0.02), ""),
        (Camera(400.0, 11, offset_stops=4.0, seconds=0.01), "the light of the test, at the same aperture, asks for"),
        (Camera(400.0, 11, offset_stops=4.0), ""),
    ],
)
def test_an_index_that_leads_far_from_the_tested_time_is_warned_of(exposure: Contact | Camera, told: str) -> None:
    wedge = Wedge.nominal(21, 0.15)
    position = np.arange(1.0, 22.0)
    log_h = exposure.log_h(position, wedge)
    # Through the camera the film needs 1.4 log H more than its meter gave at 400: an index near 16.
    readings: dict[Channel, FloatArray] = {"visual": slide(log_h, centre=log_h.mean() + 0.2)}
    strip = Strip("invented", "reversal", "visual", exposure, position, readings, wedge)
    found = [n.message for n in analyse(strip, Choices(draws=50)).warnings if n.code == "far-from-tested-time"]
    assert bool(found) == bool(told)
    assert told in "".join(found)
