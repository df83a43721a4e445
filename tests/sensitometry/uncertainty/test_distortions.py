"""Errors that grow along a strip, each by hand from what it does to exposures and to readings."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import pytest

from curves.sensitometry.analysis.analyse import analyse
from curves.sensitometry.core.units import STOP, Channel, FloatArray
from curves.sensitometry.strip.exposure import Camera, Contact, Exposure, GivenExposure
from curves.sensitometry.strip.origin import ScanOrigin
from curves.sensitometry.strip.strip import Strip
from curves.sensitometry.strip.wedge import Wedge
from curves.sensitometry.uncertainty import distortions
from curves.sensitometry.uncertainty.sources import Errors, sources_of
from tests.draws import NO_DRAWS
from tests.sensitometry.shapes import slide

GRID = np.linspace(-3.0, 1.0, 401)
INSIDE = slice(60, -60)
WEDGE = Wedge.nominal(21, 0.15, first=0.05)
LIGHT = Contact(lux=25.0, seconds=0.4)


@dataclass(frozen=True, eq=False)
class Given(Errors):
    """Errors of which some are given in place of drawn ones; all others are zero."""

    values: Mapping[str, float] = field(default_factory=dict)

    def common(self, key: str, *_: str) -> FloatArray:
        return np.array([0.0, self.values.get(key, 0.0)])


def errors(of: Strip, **values: float) -> Errors:
    sources = sources_of(of)
    return Given(sources, 1, 0, frozenset(sources), {key.replace("_", " "): u for key, u in values.items()})


def strip(exposure: Exposure = LIGHT, first: int = 1, wedge: Wedge | None = WEDGE) -> Strip:
    position = np.arange(float(first), 22.0)
    if wedge is None:
        position = -0.15 * position
    return Strip(
        "invented", "reversal", "visual", exposure, position, {"visual": np.linspace(0.2, 2.0, position.size)}, wedge
    )


def moved(of: Strip, **values: float) -> tuple[FloatArray, FloatArray]:
    """Return where the densities 0 and 1 less log H end, and their gradient, for one error of each source."""
    line = np.broadcast_to(1.0 - GRID, (2, GRID.size))
    density, gradient = distortions.moved_along_log_h(of, GRID, line, np.full(line.shape, -1.0), errors(of, **values))
    assert density[0] == pytest.approx(line[0])
    assert gradient[0] == pytest.approx(np.full(GRID.size, -1.0))
    # A line that falls by one density in a decade shows at each true log H the log H that was assumed.
    return 1.0 - density[1][INSIDE], gradient[1][INSIDE]


def test_without_errors_nothing_moves() -> None:
    line = np.broadcast_to(1.0 - GRID, (2, GRID.size))
    found = distortions.moved_along_log_h(strip(), GRID, line, line, errors(strip()))
    assert found[0] is line


@pytest.mark.parametrize("first", [1, 4])
def test_a_wedge_whose_scale_is_off_stretches_log_h_from_where_its_density_is_zero(first: int) -> None:
    # By hand: a step of density d has 1.02 d; its log H, assumed log10(10) - d, is log10(10) - 1.02 d.
    assumed, gradient = moved(strip(first=first), wedge_scale=0.02)
    d = (1.0 - GRID[INSIDE]) / 1.02
    assert assumed == pytest.approx(1.0 - d)
    assert gradient == pytest.approx(np.full(assumed.size, -1.0 / 1.02))


def test_before_a_camera_the_scale_counts_from_the_metered_step() -> None:
    # By hand: the metered step got two stops more than metered, whatever the wedge's scale; all others move.
    metered = 2.0 * STOP
    assumed, _ = moved(strip(Camera(80.0, 8, offset_stops=2.0)), wedge_scale=0.02)
    assert assumed == pytest.approx(metered + (GRID[INSIDE] - metered) / 1.02)


def test_light_that_is_uneven_turns_the_strip_about_the_middle_of_the_wedge() -> None:
    # By hand: even in density, a straight fall-off of standard deviation 0.3 stop is 0.3 * sqrt(12) stops from end to
    # end of the wedge's 3.0; the middle step, of density 1.55, keeps its exposure.
    fall = 0.3 * STOP * math.sqrt(12.0) / 3.0
    middle = 1.0 - 1.55
    assumed, gradient = moved(strip(), evenness=0.3)
    assert assumed == pytest.approx(middle + (GRID[INSIDE] - middle) / (1.0 + fall))
    assert gradient == pytest.approx(np.full(assumed.size, -1.0 / (1.0 + fall)))


def test_a_light_before_a_camera_or_a_strip_without_a_wedge_is_not_stretched() -> None:
    assert moved(strip(Camera(80.0, 8)), evenness=0.3)[0] == pytest.approx(GRID[INSIDE])
    assert moved(strip(GivenExposure("lux-seconds"), wedge=None), wedge_scale=0.02, evenness=0.3)[0] == pytest.approx(
        GRID[INSIDE]
    )


@pytest.mark.parametrize("first", [1, 6])
@pytest.mark.parametrize("flare", [0.01, -0.004])
def test_flare_adds_a_share_of_the_clear_steps_exposure_to_every_step_read_or_not(first: int, flare: float) -> None:
    # By hand: metered on step 8, of density 1.10, the clear step of 0.05 has log H 1.05; 10^true = 10^x + f 10^1.05.
    assumed, gradient = moved(strip(Camera(80.0, 8), first=first), flare=flare)
    far = GRID[INSIDE] > -0.3
    true = GRID[INSIDE][far]
    x = np.log10(10.0**true - flare * 10.0**1.05)
    assert assumed[far] == pytest.approx(x, abs=1e-4)
    # By the chain rule: dx/dtrue = 10^(true - x).
    assert gradient[far] == pytest.approx(-(10.0 ** (true - x)), rel=1e-3)


def test_where_flare_would_take_all_light_a_tenth_is_left() -> None:
    assumed, _ = moved(strip(Camera(80.0, 8)), flare=0.5)
    dark = GRID[INSIDE] < 1.05 + math.log10(0.5 / 0.9) - 0.01
    assert assumed[dark] == pytest.approx(GRID[INSIDE][dark] - 1.0)


def test_a_readers_scale_stretches_densities_and_their_gradients() -> None:
    one = strip()
    curve = analyse(one, NO_DRAWS).channels["visual"].curve
    (scale,) = distortions.density_scales(one, "visual", curve, errors(one, reader_scale=0.03), estimated=False)
    assert scale.at(2.0) == pytest.approx([0.0, 0.06])
    density = np.array([[0.5, 1.5], [0.6, 1.6]])
    found, gradient = scale.moved(density, np.full((2, 2), -2.0), density[0])
    assert found == pytest.approx(density + np.array([[0.0, 0.0], [0.015, 0.045]]))
    assert gradient == pytest.approx(np.array([[-2.0, -2.0], [-2.06, -2.06]]))


def test_an_error_that_would_turn_the_curve_round_leaves_it_level() -> None:
    falling = distortions.DensityScale(np.array([[0.0], [1.0]]), np.array([0.0, 4.0]), np.array([[0.0], [-8.0]]))
    _, gradient = falling.moved(np.ones((2, 3)), np.full((2, 3), -1.5), np.ones(3))
    assert gradient.tolist() == [[-1.5] * 3, [0.0] * 3]
    # Beyond the known densities an error stays as it is.
    assert falling.at(5.0)[1] == -8.0


def test_a_scans_scale_follows_its_size_along_density() -> None:
    readings = np.linspace(2.0, 0.2, 21)
    common: dict[Channel, FloatArray] = {"visual": np.linspace(0.04, 0.01, 21)}
    one = replace(
        strip(), readings={"visual": readings[::-1]}, density="scan", scan=ScanOrigin("a.tif", True, common=common)
    )
    drawn = errors(one, scan=0.05)
    curve = analyse(one, NO_DRAWS).channels["visual"].curve
    scale, _ = distortions.density_scales(one, "visual", curve, drawn, estimated=False)
    # By hand: the source's own size is the median of the common errors, 0.025; twice that was drawn. The readings run
    # from 0.2 to 2.0 along the rows, their errors from 0.04 down to 0.01.
    assert drawn.sources["scan"].u == pytest.approx(0.025)
    assert [scale.at(d)[1] for d in (0.2, 1.1, 2.0, 3.0)] == pytest.approx([0.08, 0.05, 0.02, 0.02], rel=0.02)


def colour(apart: float) -> Strip:
    """Return a colour slide whose red and blue layers lie so far from each other in density."""
    log_h = LIGHT.log_h(np.arange(1.0, 22.0), WEDGE)
    green = slide(log_h, dmin=0.5, centre=float(log_h.mean()))
    readings: dict[Channel, FloatArray] = {"red": green - apart / 2, "green": green, "blue": green + apart / 2}
    return Strip("invented", "reversal", "status A", LIGHT, np.arange(1.0, 22.0), readings, WEDGE)


@pytest.mark.parametrize(("apart", "size"), [(0.0, 0.02), (0.10, 0.02), (0.35, 0.03), (0.60, 0.04), (0.80, 0.04)])
def test_an_estimated_visual_density_is_the_less_certain_the_further_apart_its_layers_lie(
    apart: float, size: float
) -> None:
    # Measured on open data: rms 0.02 on nearly grey steps, 0.04 on single dyes; in between straight, our own choice.
    one = colour(apart)
    curve = analyse(one, NO_DRAWS).channels["visual"].curve
    found = distortions.density_scales(
        one, "visual", curve, replace(errors(one), active=frozenset({"visual"})), estimated=True
    )
    (scale,) = found
    at = np.searchsorted(scale.density, [0.5, 1.5, 2.5])
    covariance = scale.size[at] @ scale.size[at].T
    assert np.sqrt(np.diag(covariance)) == pytest.approx([size] * 3, rel=1e-3)
    # One density apart the error is correlated by exp(-1/2), two by exp(-2).
    assert covariance[0, 1:] / size**2 == pytest.approx(np.exp([-0.5, -2.0]), rel=0.01)
    assert np.ptp(scale.density) == pytest.approx(6.5, abs=0.06)
    assert scale.drawn.shape == (2, 14)
    assert not scale.drawn[0].any()


def test_only_an_estimated_density_and_active_sources_have_scales() -> None:
    one = colour(0.2)
    curve = analyse(one, NO_DRAWS).channels["visual"].curve

    def count(estimated: bool, *active: str) -> int:
        drawn = replace(errors(one), active=frozenset(active))
        return len(distortions.density_scales(one, "visual", curve, drawn, estimated=estimated))

    assert [count(True), count(True, "visual"), count(False, "visual"), count(True, "visual", "reader scale")] == [
        0,
        1,
        0,
        2,
    ]


def test_a_visual_density_estimated_from_a_scan_has_the_layers_mean_error_at_the_layers_mean_density() -> None:
    one = colour(0.4)
    middle = one.readings["green"]
    # By hand: errors of 0.01, 0.02 and 0.06 times the layers' mean density have a mean of 0.03 times that.
    common: dict[Channel, FloatArray] = {"red": 0.01 * middle, "green": 0.02 * middle, "blue": 0.06 * middle}
    one = replace(one, density="scan", scan=ScanOrigin("a.tif", True, common=common))
    curve = analyse(one, NO_DRAWS).channels["visual"].curve
    drawn = errors(one, scan=1.0)
    scale, _ = distortions.density_scales(one, "visual", curve, drawn, estimated=False)
    unit = drawn.sources["scan"].u
    assert unit is not None
    for density in (0.8, 1.5, 2.2):
        assert scale.at(density)[1] * unit == pytest.approx(0.03 * density, rel=0.02)


def changed(**given: Any) -> Strip:
    return replace(strip(), **given)


CALIBRATED = Wedge(WEDGE.density, np.full(21, 0.01), calibrated=True)


@pytest.mark.parametrize(
    ("one", "key", "u", "unit", "shape", "assumed"),
    [
        # Sizes that a record does not give: common practice, or our own choice, as `sources` states them.
        (strip(), "readings", 0.01, "density", "normal", True),
        (strip(), "steps", 0.02, "density", "normal", True),
        (strip(), "wedge scale", 0.01, "of the density", "normal", True),
        (changed(wedge=CALIBRATED), "wedge scale", 0.003, "of the density", "normal", True),
        (strip(), "wedge", 0.02, "density", "normal", True),
        (changed(wedge=CALIBRATED), "wedge", 0.01, "density", "normal", True),
        (strip(), "evenness", 0.05, "stops", "normal", True),
        (strip(), "exposure", 0.15, "stops", "normal", True),
        (strip(Camera(80.0, 8)), "exposure", 1 / 3 / math.sqrt(3.0), "stops", "rectangular", True),
        (strip(Camera(80.0, 8, uncertainty_stops=0.1)), "exposure", 0.1, "stops", "normal", False),
        (strip(Camera(80.0, 8)), "flare", 0.0005, "of the clear step's light", "normal", True),
        (strip(Camera(80.0, 8, flare=0.004)), "flare", 0.002, "of the clear step's light", "normal", True),
        (
            strip(Camera(80.0, 8, flare=0.004, flare_uncertainty=0.0)),
            "flare",
            0.0,
            "of the clear step's light",
            "normal",
            False,
        ),
        (strip(), "zero", 0.01, "density", "normal", True),
        (strip(), "reader scale", 0.01, "of the density", "normal", True),
        (changed(reader_scale=0.02), "reader scale", 0.02, "of the density", "normal", False),
        (strip(), "meter", 1 / 3 / math.sqrt(3.0), "stops", "rectangular", True),
        (strip(), "light colour", 1 / 3 / math.sqrt(3.0), "stops", "rectangular", True),
        # Between K = 12.5 and 14 (ISO 2720): half of log2(14 / 12.5) stops to either side.
        (strip(), "constant", math.log2(14.0 / 12.5) / 2.0 / math.sqrt(3.0), "stops", "rectangular", True),
        (colour(0.0), "visual", 0.02, "density", "normal", False),
    ],
)
def test_every_source_has_its_size_its_unit_and_its_shape(
    one: Strip, key: str, u: float, unit: str, shape: str, assumed: bool
) -> None:
    source = sources_of(one)[key]
    assert source.u == pytest.approx(u)
    assert (source.unit, source.shape, source.assumed) == (unit, shape, assumed)


def test_a_strip_has_no_sources_that_do_not_belong_to_it() -> None:
    assert not {"flare", "patches", "scan", "visual", "colour"} & set(sources_of(strip()))
    assert not {"evenness", "wedge", "meter", "light colour"} & set(sources_of(strip(Camera(80.0, 8))))
    assert not {"steps", "wedge scale", "wedge", "evenness"} & set(
        sources_of(strip(GivenExposure("lux-seconds"), wedge=None))
    )
    assert "constant" not in sources_of(changed(meter_constant=12.5))
    assert "light colour" not in sources_of(strip(replace(LIGHT, light="daylight 5500 K")))


@pytest.mark.parametrize(("shape", "most"), [("normal", 3.0), ("rectangular", math.sqrt(3.0))])
def test_an_error_is_drawn_with_its_size_and_shape_and_none_in_the_estimate(shape: str, most: float) -> None:
    one = strip()
    key = "meter" if shape == "rectangular" else "exposure"
    drawn = Errors.of(one, 500, 0)
    u = drawn.sources[key].u
    assert u is not None
    rows = drawn.common(key) / u
    assert rows[0] == 0.0
    assert rows[1:].std() == pytest.approx(1.0, rel=0.02)
    assert abs(rows[1:].mean()) < 0.01
    assert np.abs(rows).max() == pytest.approx(most, rel=0.15 if shape == "normal" else 0.01)
    # Stops and densities of the wedge add up as log H.
    both = drawn.log_h("exposure", "wedge")
    assert both == pytest.approx(STOP * drawn.common("exposure") + drawn.common("wedge"))
    assert not drawn.only("wedge").log_h("exposure").any()
    assert drawn.only("exposure").log_h("exposure", "wedge") == pytest.approx(STOP * drawn.common("exposure"))
    assert not drawn.common("no such source").any()
