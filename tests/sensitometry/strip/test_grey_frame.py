"""Strips exposed under a light that nobody measured, and the grey frame that gives them a place."""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pytest

from curves import Choices, analyse
from curves.errors import StripError
from curves.sensitometry.core.units import STOP, Channel
from curves.sensitometry.strip.exposure import Contact
from curves.sensitometry.strip.metering import GreyFrame
from curves.sensitometry.strip.strip import Strip
from curves.sensitometry.strip.wedge import Wedge
from curves.sensitometry.uncertainty.sources import sources_of
from tests.simulate import scenarios

WEDGE = Wedge.nominal(21, 0.15)
FILM = scenarios()["wren-reversal"].film
LIGHT = Contact(500.0, 0.02, light="daylight 5500 K")
UNKNOWN = Contact(light="daylight 5500 K")


def strip_under(exposure: Contact, noise: float = 0.0, seed: int = 1) -> Strip:
    """Return a strip of the film under 10 lux-seconds, read with scatter, whatever its record knows of the light."""
    density = FILM.density("visual", 1.0 - WEDGE.density)
    scatter = noise * np.random.default_rng(seed).standard_normal(density.size)
    return Strip.from_readings(density + scatter, kind="reversal", exposure=exposure, wedge=WEDGE)


def grey(log_h: float, **others: float) -> GreyFrame:
    """Return the frame of a card that got an exposure on the same film [log10 lux-seconds]."""
    densities: Mapping[Channel, float] = {"visual": float(FILM.density("visual", np.array([log_h]))[0])}
    return GreyFrame(80.0, densities, **others)


def test_log_h_counts_from_the_most_exposed_step_where_the_light_is_not_known() -> None:
    strip = strip_under(UNKNOWN)
    assert strip.log_h_unit == "relative"
    assert strip.log_h.max() == 0.0
    assert np.diff(strip.log_h) == pytest.approx(-0.15)


def test_all_but_the_index_and_the_speeds_are_those_of_a_known_light() -> None:
    known, unknown = (analyse(strip_under(light), Choices(draws=100)) for light in (LIGHT, UNKNOWN))
    for key in ("dmin", "dmax", "gamma", "range_stops"):
        pair = [found.channels["visual"].measures[key] for found in (known, unknown)]
        assert pair[0].value == pytest.approx(pair[1].value, abs=1e-6)
    assert unknown.working_ei.recommended.value is None
    assert all(speed.value.value is None for speed in unknown.speeds.values())
    assert "One grey frame would add the index" in unknown.working_ei.advice[0]
    assert {"wedge", "exposure", "meter"}.isdisjoint(sources_of(unknown.strip))


@pytest.mark.parametrize("over", [0.0, 1.0])
def test_a_grey_frame_lies_where_its_density_lies_on_the_strip(over: float) -> None:
    # The metered grey at EI 80 got 0.1 lux-seconds, the frame `over` stops more: by the construction above.
    strip = strip_under(replace(UNKNOWN, grey_frame=grey(-1.0 + over * STOP, stops=over)))
    assert strip.log_h_unit == "relative to metered mid-grey"
    assert strip.metering.index_at_zero == pytest.approx(80.0, rel=0.01)
    # The most exposed step got 1.0 - 0.05 of log H: 1.95 above the grey.
    assert strip.log_h.max() == pytest.approx(1.95, abs=0.02)


def test_the_place_of_a_grey_frame_is_as_sure_as_its_uncertainty_says() -> None:
    off = []
    for seed in range(120):
        rng = np.random.default_rng((5, seed))
        at = rng.uniform(-1.3, -0.5)
        frame = grey(at)
        read = GreyFrame(80.0, {"visual": frame.densities["visual"] + 0.03 * float(rng.standard_normal())})
        exposure = replace(UNKNOWN, grey_frame=read)
        strip = replace(strip_under(UNKNOWN, 0.03, seed), repeatability=0.03, exposure=exposure)
        assert isinstance(strip.exposure, Contact)
        assert strip.exposure.grey_log_h is not None
        place, u = strip.exposure.grey_log_h
        off.append((place - (at - 0.95)) / u)
    # The binomial law: 120 counts of 0.95 scatter by 0.02.
    assert 0.90 <= np.mean(np.abs(off) < 2.0) <= 1.0
    assert 0.6 < np.std(off) < 1.2


def test_the_frame_is_a_source_of_error_of_its_own() -> None:
    source = sources_of(strip_under(replace(UNKNOWN, grey_frame=grey(-1.0))))["grey frame"]
    assert source.assumed
    assert source.u is not None
    # A shutter of 0.15 stop, and the readings over the slope.
    assert 0.15 < source.u < 0.2
    stated = sources_of(strip_under(replace(UNKNOWN, grey_frame=grey(-1.0, uncertainty_stops=0.3))))["grey frame"]
    assert not stated.assumed
    assert stated.u == pytest.approx(0.3, abs=0.01)


@pytest.mark.parametrize(
    ("frame", "why"),
    [
        (GreyFrame(80.0, {"visual": 3.9}), "does not lie on the strip"),
        (GreyFrame(80.0, {"red": 1.0}), "read in red, and the strip was not"),
        (grey(0.9), "hardly changes"),
    ],
)
def test_a_frame_that_has_no_place_is_refused(frame: GreyFrame, why: str) -> None:
    with pytest.raises(StripError, match=why):
        strip_under(replace(UNKNOWN, grey_frame=frame))


@pytest.mark.parametrize(("lux", "seconds", "why"), [(25.0, None, "the time is not"), (None, 0.0, "out of range")])
def test_half_a_light_is_refused(lux: float | None, seconds: float | None, why: str) -> None:
    with pytest.raises(StripError, match=why):
        Contact(lux, seconds)


def test_a_frame_without_a_density_is_refused() -> None:
    with pytest.raises(StripError, match="no density"):
        GreyFrame(80.0, {})
