"""Each speed rule alone: the points it used, and every reason why it is not the standard's."""

import numpy as np
import pytest

from curves.sensitometry.measures import points
from curves.sensitometry.measures.speeds import LogHOrigin, as_speed, iso_6, iso_2240
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


def test_the_tangent_fixes_s_where_it_lies_lower() -> None:
    speed = iso_2240(SLIDE, points.dmin(SLIDE), "visual", MEASURED)
    assert speed.branch == "S is where the line from T touches the shoulder"
    density = speed.points["S"].density
    assert density is not None
    assert density < 2.15


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


def test_a_speed_that_no_standard_defines_neither_conforms_nor_fails_to() -> None:
    known = iso_6(NEGATIVE, points.dmin(NEGATIVE), "visual", MEASURED)
    own = as_speed(known.value, None, known.branch, NEGATIVE, known.points)
    assert (own.conforms, own.why_not) == (None, ())
    assert (own.nominal, own.degrees) == (known.nominal, known.degrees)
