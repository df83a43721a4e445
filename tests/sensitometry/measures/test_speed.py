"""Each speed rule alone: its named parameters, the points it used, and every reason why it is not the standard's."""

import numpy as np
import pytest

from curves.sensitometry.core.units import LAYERS
from curves.sensitometry.measures import points
from curves.sensitometry.measures.speeds import LogHOrigin, fractional_gradient, iso_6, iso_2240, iso_5800
from curves.sensitometry.uncertainty.ensemble import Ensemble
from curves.sensitometry.uncertainty.results import Speed
from tests.sensitometry.shapes import exact, slide

GRID = np.linspace(-3.2, 0.4, 3601)
MEASURED = LogHOrigin(seconds=0.02)
# A low shoulder, so that the tangent fixes S.
SLIDE = exact(GRID, slide(GRID, height=2.2))
NEGATIVE = exact(GRID, slide(-2.8 - GRID), "negative")


def value(speed: Speed) -> float:
    assert speed.value.value is not None
    return speed.value.value


def test_the_tangent_rule_can_be_put_off() -> None:
    base = points.dmin(SLIDE)
    on, off = (iso_2240(SLIDE, base, "visual", MEASURED, tangent=tangent) for tangent in (True, False))
    assert on.branch == "S is where the line from T touches the shoulder"
    assert off.branch == "S is at Dmin + 2.00"
    assert off.points["S"].density == pytest.approx(2.15, abs=0.01)
    assert value(on) < value(off)


def test_a_speed_follows_from_the_points_it_names() -> None:
    speed = iso_2240(SLIDE, points.dmin(SLIDE), "visual", MEASURED)
    t, s = (speed.points[name].log_h.value for name in "TS")
    assert t is not None
    assert s is not None
    assert value(speed) == pytest.approx(10.0 / 10.0 ** ((t + s) / 2))
    six = iso_6(NEGATIVE, points.dmin(NEGATIVE), "visual", MEASURED)
    at = six.points["speed"].log_h.value
    assert at is not None
    assert value(six) == pytest.approx(0.8 / 10.0**at)


def test_the_criterion_of_a_negative_speed_can_be_chosen() -> None:
    base = points.dmin(NEGATIVE)
    low, high = (iso_6(NEGATIVE, base, "visual", MEASURED, criterion=c) for c in (0.10, 0.20))
    assert value(high) < value(low)
    layers = dict.fromkeys(LAYERS, (NEGATIVE, base))
    assert value(iso_5800(layers, "status M", MEASURED, criterion=0.30)) < value(iso_5800(layers, "status M", MEASURED))
    steep = fractional_gradient(NEGATIVE, base, "visual", MEASURED, fraction=0.5)
    assert value(steep) < value(fractional_gradient(NEGATIVE, base, "visual", MEASURED))


@pytest.mark.parametrize(
    ("reference", "told"),
    [
        (LogHOrigin(seconds=5.0), "exposed for 5 s, the standard asks for 0.001 to 0.5 s"),
        (LogHOrigin(), "exposure time is not on record"),
        (LogHOrigin(seconds=0.02, relative=True), "it rests on the meter"),
        (LogHOrigin(seconds=0.02, converted=True), "converted by one factor"),
    ],
)
@pytest.mark.parametrize("film", [SLIDE, NEGATIVE])
def test_every_reason_of_the_exposure_and_the_reading_is_given(
    film: Ensemble, reference: LogHOrigin, told: str
) -> None:
    rule = iso_2240 if film.kind == "reversal" else iso_6
    speed = rule(film, points.dmin(film), "visual", reference)
    assert any(told in reason for reason in speed.why_not)
    assert not speed.conforms


def test_a_scanners_density_is_never_the_standards() -> None:
    speed = iso_2240(SLIDE, points.dmin(SLIDE), "scan", MEASURED)
    assert speed.why_not == ("density is scan, the standard asks for visual",)
