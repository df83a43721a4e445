import math

import numpy as np
import pytest

from curves import Choices, analyse, load_strip
from curves.errors import StripError
from curves.sensitometry.core.units import LAYERS, STOP, Channel, FloatArray, exact_ei, two_digits
from curves.sensitometry.measures.points import dmin, reach
from curves.sensitometry.strip.exposure import Camera, Contact, Frames, GivenExposure
from curves.sensitometry.strip.metering import metered_exposure
from curves.sensitometry.strip.strip import Patches, Strip
from curves.sensitometry.strip.wedge import Wedge
from curves.sensitometry.uncertainty.results import Analysis, WorkingEI
from tests.draws import FEW_DRAWS
from tests.sensitometry.shapes import STEPS, slide
from tests.simulate import FOLDER
from tests.views import sample


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
        exposure=GivenExposure("lux-seconds" if ei is None else "relative to metered mid-grey", ei),
        position=log_h,
        readings=readings,
        patches=patches or Patches(),
        repeatability=0.01,
    )
    return analyse(strip, choices or FEW_DRAWS)


LATITUDE = Choices(white=0.45, shadow=-0.45)
"""A scene that the film holds with room to spare."""


def clear_film(choices: Choices | None = None) -> WorkingEI:
    patches = Patches(base={"visual": 0.08}, fully_exposed={"visual": 0.13}, unexposed={"visual": 3.03})
    return analysed({"visual": slide(STEPS, dmin=0.13)}, patches=patches, choices=choices).working_ei


def masked_film(dmin: float = 0.45) -> WorkingEI:
    patches = Patches(base={"visual": 0.20}, fully_exposed={"visual": dmin})
    return analysed({"visual": slide(STEPS, dmin=dmin, height=2.4)}, patches=patches).working_ei


def true_log_h(density: float, **shape: float) -> float:
    grid = np.linspace(-3.0, 0.0, 30001)
    return float(np.interp(-density, -slide(grid, **shape), grid))


def test_where_the_film_clears_white_decides() -> None:
    ei = clear_film(choices=LATITUDE)
    assert ei.basis == "highlight"
    assert ei.highlight_share == 1.0
    assert ei.base is not None
    assert ei.base.clears is True
    assert ei.base.held_by is None
    # From the definition: white, so much above mid-grey, lands on Dmin + 0.20, and EI = k / H of mid-grey.
    expected = metered_exposure() * 10.0 ** -(true_log_h(0.33, dmin=0.13) - LATITUDE.white)
    assert ei.criteria["highlight"].ei.value == pytest.approx(expected, rel=0.03)
    assert ei.recommended.value == ei.criteria["highlight"].ei.value
    assert "The film clears" in ei.reason


def test_where_the_film_does_not_clear_the_middle_decides_and_says_why() -> None:
    ei = masked_film()
    assert ei.basis == "middle"
    assert ei.highlight_share == 0.0
    assert ei.base is not None
    assert ei.base.clears is False
    assert ei.base.white_percent == pytest.approx(100 * 10**-0.45, rel=1e-3)
    assert ei.base.veil_stops == pytest.approx(0.25 / STOP, rel=1e-3)
    assert ei.recommended.value == pytest.approx(ei.criteria["middle"].ei.value)
    assert "White is not white" in ei.reason
    assert any("veil of 0.25" in sentence for sentence in ei.advice)


def test_the_white_point_is_the_light_of_each_channels_dmin_and_a_bound_where_dmin_is_one() -> None:
    analysis = sample.colour_reversal()
    base = analysis.working_ei.base
    assert base is not None
    assert list(base.white_point) == [*LAYERS, "visual"]
    for channel, light in base.white_point.items():
        dmin = analysis.channels[channel].measures["dmin"]
        assert dmin.value is not None
        assert dmin.low is not None
        assert dmin.high is not None
        # By definition 100 x 10^-Dmin; more density is less light.
        assert light.value == pytest.approx(100.0 * 10.0**-dmin.value)
        assert (light.low, light.high) == pytest.approx((100.0 * 10.0**-dmin.high, 100.0 * 10.0**-dmin.low))
    short = sample.too_short()
    assert short.working_ei.base is not None
    for channel, light in short.working_ei.base.white_point.items():
        side, most = short.channels[channel].measures["dmin"].bound or ("", 0.0)
        assert light.value is None
        assert side == "<"
        assert light.bound is not None
        assert light.bound[0] == ">"
        assert light.bound[1] == pytest.approx(100.0 * 10.0**-most)
        assert light.why


def test_between_the_two_highlight_and_middle_are_mixed_in_the_log() -> None:
    patches = Patches(base={"visual": 0.08}, fully_exposed={"visual": 0.22}, unexposed={"visual": 2.62})
    ei = analysed({"visual": slide(STEPS, dmin=0.22, height=2.4)}, patches=patches, choices=LATITUDE).working_ei
    # Halfway between Dmin 0.14 and 0.30.
    assert ei.highlight_share == pytest.approx(0.5, abs=1e-3)  # the end of the strip stands beside the patch
    assert ei.basis == "mixed"
    one, other = (ei.criteria[name].ei.value or 0.0 for name in ("highlight", "middle"))
    assert ei.recommended.value == pytest.approx(math.sqrt(one * other), rel=1e-4)
    assert "the highlights count for 50 %" in ei.reason


@pytest.mark.parametrize(
    ("base", "layers", "held_by"),
    [
        ({"visual": 0.36}, {}, "base"),
        ({"visual": 0.06}, {}, "fog"),
        ({"red": 0.20, "green": 0.38, "blue": 0.55}, {"red": 0.24, "green": 0.42, "blue": 0.60}, "mask"),
        ({"red": 0.06, "green": 0.06, "blue": 0.06}, {"red": 0.24, "green": 0.42, "blue": 0.60}, "mask"),
        # Half of it base, half of it veil, and the colour of a mask in the veil alone.
        ({"red": 0.20, "green": 0.23, "blue": 0.33}, {"red": 0.33, "green": 0.44, "blue": 0.70}, "mask"),
        ({"red": 0.06, "green": 0.06, "blue": 0.06}, {"red": 0.38, "green": 0.40, "blue": 0.42}, "fog"),
    ],
)
def test_base_mask_and_fog_are_told_apart(
    base: dict[Channel, float], layers: dict[Channel, float], held_by: str
) -> None:
    # Invented patches: a grey base, fog on a clear base, and layers that differ as a mask's do, in base or in veil.
    ends = layers or {"visual": 0.40}
    readings = {c: slide(STEPS, dmin=d, height=2.4) for c, d in ends.items()}
    ei = analysed(readings, patches=Patches(base=base, fully_exposed=ends)).working_ei
    assert ei.base is not None
    assert ei.base.held_by == held_by
    words = {"base": "a grey base is not a veil", "mask": "it is not fog", "fog": "Fog, 0.3"}
    assert words[held_by] in ei.reason
    assert any("costs" in sentence for sentence in ei.advice) == (held_by == "fog")


def test_the_ends_of_the_range_are_the_cleared_and_the_shadow_criterion() -> None:
    ei = clear_film(choices=Choices(white=0.45, shadow=-0.75))
    assert ei.shortfall is None
    assert [end.value for end in ei.range] == [ei.criteria[name].ei.value for name in ("cleared", "shadow")]
    assert ei.range_why == (
        "below it, scene white has lost its detail", "above it, the textured shadow has lost its texture"
    )  # fmt: skip


def test_where_mid_grey_would_be_too_thin_or_too_dense_its_limits_are_the_ends() -> None:
    # A scene of few stops: white and shadow would allow a grey that is none.
    ei = clear_film(choices=Choices(white=0.10, shadow=-0.10))
    grey = [metered_exposure() * 10.0 ** -true_log_h(0.13 + net, dmin=0.13) for net in (0.40, 1.40)]
    assert [end.value for end in ei.range] == pytest.approx(grey, rel=0.03)
    assert "too thin for a grey, under 0.40 above Dmin" in ei.range_why[0]
    assert "too dense for a grey, over 1.40 above Dmin" in ei.range_why[1]


def test_a_grey_that_would_be_too_thin_is_held_and_the_words_say_so() -> None:
    # White a third of a stop above grey: laid on Dmin + 0.20, it would leave grey at 0.27.
    ei = clear_film(choices=Choices(white=0.10, shadow=-0.10))
    assert ei.basis == "grey"
    assert ei.recommended.value == pytest.approx(ei.range[0].value)
    assert "mid-grey is too thin for a grey" in ei.reason


def test_a_scene_longer_than_the_film_has_no_range_and_says_what_is_lost() -> None:
    ei = clear_film(choices=Choices(white=1.2, shadow=-1.5))
    low, high = ei.criteria["cleared"].ei.value, ei.criteria["shadow"].ei.value
    assert low is not None
    assert high is not None
    assert low > high
    short = ei.shortfall
    assert short is not None
    assert short.stops.value == pytest.approx(math.log2(low / high))
    assert sum(stops or 0.0 for stops in short.lost) == pytest.approx(math.log2(low / high))
    assert short.keeps == (low, high)
    assert not ei.hardly_a_range
    assert f"The scene is {math.log2(low / high):.1f} stops longer than this film: at EI {ei.nominal:g}" in ei.reason
    assert f"{two_digits(low)} keeps white and {two_digits(high)} keeps the textured shadow" in ei.reason


def test_a_scene_as_long_as_the_film_has_hardly_a_range() -> None:
    film = clear_film()
    latitude = math.log10((film.criteria["shadow"].ei.value or 0.0) / (film.criteria["cleared"].ei.value or 0.0))
    ei = clear_film(choices=Choices(white=0.70 + latitude + 0.02))
    assert ei.hardly_a_range
    assert "The film hardly has a range" in ei.reason


def test_the_textured_shadow_holds_the_index_down() -> None:
    ei = clear_film(choices=Choices(white=0.45, shadow=-0.75))
    highlight, shadow = ei.criteria["highlight"].ei.value, ei.criteria["shadow"].ei.value
    assert highlight is not None
    assert shadow is not None
    assert highlight > shadow
    assert ei.basis == "shadow"
    assert ei.recommended.value == pytest.approx(shadow)
    assert "the index at which the shadow just keeps its texture is taken instead" in ei.reason


def test_the_index_to_set_is_the_step_of_the_dial_nearest_within_the_range() -> None:
    ei = clear_film(choices=Choices(white=0.45, shadow=-0.75))
    assert ei.nominal is not None
    low, high = (end.value or 0.0 for end in ei.range)
    assert low <= float(exact_ei(ei.nominal)) <= high
    # The recommended index is the upper end itself, so the step below it is set.
    assert float(exact_ei(ei.nominal)) * 10**0.1 > high


def test_a_film_of_too_short_a_range_gets_no_index() -> None:
    patches = Patches(fully_exposed={"visual": 0.30}, unexposed={"visual": 0.85})
    ei = analysed({"visual": slide(STEPS, dmin=0.30, height=0.55)}, patches=patches).working_ei
    assert ei.recommended.value is None
    assert ei.nominal is None
    assert ei.placements == {}
    assert ei.reason.startswith("This is hardly an image: density goes from 0.30 to 0.85 only.")


def test_a_strip_that_stops_before_the_highlights_clear_names_no_index() -> None:
    inside = STEPS < -1.3
    ei = analysed({"visual": slide(STEPS)[inside]}, log_h=STEPS[inside]).working_ei
    assert ei.recommended.value is None
    assert ei.nominal is None
    bound = ei.criteria["highlight"].ei.bound
    assert bound is not None
    assert bound[0] == "<"
    assert bound[1] > metered_exposure() * 10.0 ** -(true_log_h(0.35) - 0.70)
    assert any("more exposure" in sentence for sentence in ei.advice)


def test_doubling_the_exposure_halves_the_index() -> None:
    once = analysed({"visual": slide(STEPS)}).working_ei
    twice = analysed({"visual": slide(STEPS)}, log_h=STEPS + STOP).working_ei
    for name, criterion in once.criteria.items():
        assert criterion.ei.value is not None
        assert twice.criteria[name].ei.value == pytest.approx(criterion.ei.value / 2, rel=1e-6)


def test_on_a_metered_strip_tones_do_not_depend_on_the_meter_and_the_standard_s_middle_does() -> None:
    one, other = (
        analysed({"visual": slide(STEPS)}, ei=50.0, choices=Choices(meter_constant=k)).working_ei for k in (12.5, 14.0)
    )
    for name in ("highlight", "cleared", "shadow"):
        assert one.criteria[name] == other.criteria[name]
    middles = [found.criteria["middle"].ei.value or 0.0 for found in (one, other)]
    assert middles[0] / middles[1] == pytest.approx(14.0 / 12.5)


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
    with pytest.raises(StripError, match="the kind is reversal, but density rises with exposure"):
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


def test_a_run_against_the_direction_is_reported_with_the_exchanges_that_mend_it() -> None:
    readings = slide(STEPS)
    readings[8], readings[9], readings[10], readings[11] = readings[[11, 10, 9, 8]]
    told = [n for n in analysed({"visual": readings}).warnings if n.code == "rows-exchanged"]
    assert [n.step for n in told] == [10, 11]
    assert "Exchange the readings of log h -1.35 and log h -1.80" in told[0].message


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


def test_the_interval_of_the_layers_spread_is_the_wider_of_plain_and_reflected_draws() -> None:
    # A strip whose draws lie to one side, so that the two intervals differ.
    spread = analyse(load_strip(FOLDER / "heron-filtered.toml"), FEW_DRAWS).working_ei.layers
    assert spread is not None
    rows, ends = spread.t_stops.rows, spread.t_stops.known_ends
    assert rows is not None
    plain = np.quantile(rows[1:], [0.025, 0.975])
    # Reflected about the estimate v, a draw q becomes 2 v - q.
    turned = 2.0 * rows[0] - plain[::-1]
    assert ends == pytest.approx([max(min(plain[0], turned[0]), 0.0), max(plain[1], turned[1])], abs=1e-9)
    assert abs(plain - turned).max() > 0.024


def test_where_dmin_was_not_reached_a_point_above_it_lies_at_more_exposure_than_the_strip_shows() -> None:
    seen = STEPS[true_log_h(0.5) > STEPS]
    short = analysed({"visual": slide(seen, dmin=0.13)}, log_h=seen).channels["visual"]
    level = float(short.ensemble.density[0].min()) + 0.9
    # The level counted from the last density: the true one is lower, and so at more exposure.
    found = reach(short.ensemble, np.full_like(short.ensemble.log_h_error, level), dmin(short.ensemble), "the level")
    assert found.quantity.bound is not None
    way, end = found.quantity.bound
    assert way == ">"
    at = float(np.interp(-level, -short.ensemble.density[0], short.ensemble.grid))
    assert at - 0.1 < end <= at
