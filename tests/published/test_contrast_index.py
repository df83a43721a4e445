"""The contrast index.

Source: its definition as handbooks of sensitometry give it (read): the slope of the line through an origin on the
base-plus-fog line that meets the curve at 0.2 and at 2.2 from that origin, equal units on both axes.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from curves.sensitometry.core.units import Kind
from curves.sensitometry.measures import contrast
from curves.sensitometry.measures.points import dmin
from tests.published.test_academy_negative import STRAIGHT, TOE
from tests.sensitometry.shapes import exact

SLOPES = [0.3, 0.45, 0.58, 0.70, 1.0, 1.4, 2.0, 3.0]


@pytest.mark.parametrize("kind", ["negative", "reversal"])
@pytest.mark.parametrize("slope", SLOPES)
def test_a_straight_line_of_slope_g_has_contrast_index_g(slope: float, kind: Kind) -> None:
    # Calculated: both radii lie on the line itself, whatever its slope.
    rising = np.linspace(-0.5, 8.0, 17_001)
    net = slope * np.clip(rising, 0.0, None)
    if kind == "negative":
        film = exact(rising, 0.15 + net, "negative", unexposed=0.15)
    else:
        film = exact(-rising[::-1], 0.15 + net[::-1], "reversal", fully_exposed=0.15)
    assert contrast.contrast_index(film, dmin(film)).value == pytest.approx(slope, rel=1e-3)


def test_the_index_counts_from_the_base_plus_fog_line() -> None:
    # Calculated: fog moves the whole construction upwards and changes no slope.
    x = np.linspace(-0.5, 6.0, 13_001)
    fogged = exact(x, 0.60 + 0.8 * np.clip(x, 0.0, None), "negative", unexposed=0.60)
    assert contrast.contrast_index(fogged, dmin(fogged)).value == pytest.approx(0.8, rel=1e-3)


def test_the_two_radii_of_a_curved_toe_lie_on_one_line_through_the_base() -> None:
    """The academy's negative (read): its index is checked against the construction, drawn with ruler and compasses."""
    log_h, density = np.array(TOE + STRAIGHT).T
    x = np.linspace(log_h[0], log_h[-1], 20_001)
    film = exact(x, np.interp(x, log_h, density), "negative", unexposed=0.0)
    index = contrast.contrast_index(film, dmin(film)).value
    assert index is not None
    angle = math.atan(index)
    near, far = (np.interp(radius * math.sin(angle), density, log_h) for radius in (0.2, 2.2))
    origins = near - 0.2 * math.cos(angle), far - 2.2 * math.cos(angle)
    assert origins[0] == pytest.approx(origins[1], abs=1e-3)
    # Below its straight-line slope of 0.55 and above its average gradient over 1.30, 0.437.
    assert 0.437 < index < 0.55


@pytest.mark.parametrize("last", [0.5, 1.0, 1.5])
def test_a_curve_that_ends_before_the_far_radius_has_no_index(last: float) -> None:
    # A line of slope 0.6 meets the far radius at net density 1.13, log H 1.89.
    x = np.linspace(-0.5, last, 4001)
    short = exact(x, 0.15 + 0.6 * np.clip(x, 0.0, None), "negative", unexposed=0.15)
    found = contrast.contrast_index(short, dmin(short))
    assert found.value is None
    assert "off the strip" in (found.why or "")


def test_a_slide_whose_dmax_lies_below_the_far_radius_has_no_index() -> None:
    # Slope 1.8 would meet the far radius at net density 1.92; this slide stops at 1.60.
    x = np.linspace(-3.0, 0.5, 7001)
    slide = exact(x, 0.15 + np.clip(-1.8 * x, 0.0, 1.60), fully_exposed=0.15)
    assert contrast.contrast_index(slide, dmin(slide)).value is None


def test_a_strip_that_starts_above_the_near_radius_of_a_shallow_line_still_has_its_index() -> None:
    # The near radius of slope 0.6 is at net density 0.103, log H 0.17; the strip starts at 0.09.
    x = np.linspace(0.15, 4.0, 7001)
    late = exact(x, 0.15 + 0.6 * x, "negative", unexposed=0.15)
    assert contrast.contrast_index(late, dmin(late)).value == pytest.approx(0.6, rel=1e-3)
