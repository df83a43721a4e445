"""A plan in words: what a person reads before the film is cut."""

from __future__ import annotations

import pytest

from curves.sensitometry.core.units import Kind
from curves.sensitometry.planning.camera import dial
from curves.sensitometry.planning.light import Illuminance, at_distance
from curves.sensitometry.planning.population import FilmGuess, Maker
from curves.sensitometry.planning.ways import FirstPlan, by_camera, by_contact, by_frames
from curves.sensitometry.strip.reciprocity import Schwarzschild
from curves.sensitometry.strip.wedge import Wedge
from curves.views.plans.first_strip import answer, first_plan_text, remarks, settings, shortfalls
from curves.views.words.cautions import PATCHES, patch_lines

WEDGE, SHUTTER = Wedge.nominal(21, 0.15), dial("whole", (2.8, 16.0), (1 / 500.0, 0.5))
LONG = dial("whole", (2.8, 16.0), (1 / 500.0, 32.0))
FAILING = dial("whole", (2.8, 16.0), (1 / 500.0, 32.0), Schwarzschild(0.8))


def guess(off: float = 1.0, kind: Kind = "reversal", made_as: Maker = "transparency") -> FilmGuess:
    return FilmGuess(kind, made_as, 80.0, off, colour=False)


def contact(lux: float | None = 25.0, off: float = 1.0) -> FirstPlan:
    light = None if lux is None else Illuminance(lux)
    return by_contact(guess(off), WEDGE, 0.9, 0, light, SHUTTER)


def text(plan: FirstPlan, assumed: tuple[str, ...] = ()) -> str:
    return " ".join(first_plan_text(plan, {plan.way: plan}, assumed=assumed).split())


def test_the_answer_says_how_many_strips_and_their_chance() -> None:
    assert answer(contact()).startswith("One strip holds both ends of the curve with a chance of 9")
    assert answer(contact(off=3.0)).startswith("Two strips, ")


def test_no_line_is_wider_than_a_terminal() -> None:
    for plan in (contact(20000.0, 3.0), by_frames(guess(), 0.9, 0, None, 12.0, SHUTTER)):
        assert max(map(len, first_plan_text(plan, {plan.way: plan}, assumed=("off",)).splitlines())) <= 79


def test_a_setting_is_what_the_dial_shows() -> None:
    assert "1/8 s" in settings(contact())[1]
    assert "lux for 1/30 s" in settings(contact(None))[1]
    assert "filter 1." in settings(contact(20000.0))[1]


def test_a_camera_says_index_step_and_setting() -> None:
    plan = by_camera(guess(3.0), WEDGE, 0.9, 0, None, 12.5, None, SHUTTER)
    lines = settings(plan)
    assert "as metered" in lines[1]
    assert "stops from metered" in lines[2]
    assert f"Set the meter to EI {plan.ei:g} and read step 11" in lines[3]


def test_a_bracket_lists_stops_and_rated_indexes() -> None:
    plan = by_frames(guess(), 0.9, 0, 12.5, None, SHUTTER)
    assert answer(plan).startswith(f"{len(plan.strips)} frames in whole stops")
    assert sum("frame " in line for line in settings(plan)) == len(plan.strips)


@pytest.mark.parametrize("kind", ["reversal", "negative"])
def test_the_pieces_to_keep_say_what_each_settles(kind: Kind) -> None:
    joined = " ".join(" ".join(patch_lines(kind)).split())
    for name, what in PATCHES[kind]:
        assert name in joined
        assert what in joined
    # Film that got no light is the densest a reversal has, and the clearest that a negative has.
    assert "process: Dmax" in dict(PATCHES["reversal"])["unexposed"]
    assert "Dmin" in dict(PATCHES["negative"])["unexposed"]


def test_what_lacks_stands_under_the_settings() -> None:
    assert list(shortfalls(contact())) == []
    (strong,) = shortfalls(contact(20000.0))
    assert "grey filter of density 1." in strong
    (weak,) = shortfalls(contact(1.0))
    assert "too weak by" in weak
    assert "the chance is then 9" in weak


def test_a_guess_that_is_too_wide_is_told() -> None:
    plan = by_contact(guess(10.0), Wedge.nominal(9, 0.15), 0.9, 0, None, SHUTTER)
    assert any("narrow the guess" in line for line in shortfalls(plan))


def test_cautions_stand_at_the_end() -> None:
    found = text(contact())
    assert "get hot" in found
    assert "Never look at the sun" in found
    assert found.endswith("licensed practice.")


def test_what_is_assumed_is_said() -> None:
    assert "1 stop either way is assumed" in text(contact(), ("off",))
    assert "in its own process; nobody stated" in text(contact(), ("made_as",))
    assert "is assumed" not in text(contact())
    crossed = by_contact(guess(made_as="colour negative"), WEDGE, 0.9, 0, None, SHUTTER)
    assert "1.5 stops below the box speed, within 1.5 stops" in text(crossed)


def test_an_inverse_square_is_told_as_an_approximation() -> None:
    light = at_distance(Illuminance(25.0), 60.0, 90.0)
    plan = by_contact(guess(), WEDGE, 0.9, 0, light, LONG)
    assert "an approximation" in text(plan)


def test_long_times_are_told_with_or_without_a_law() -> None:
    plain, law = (by_contact(guess(), WEDGE, 0.9, 0, Illuminance(0.3), settings) for settings in (LONG, FAILING))
    assert "not corrected, since no law is known" in text(plain)
    assert "longer by the modified law with exponent 0.8" in text(law)
    assert not any("At a second and more" in line for line in remarks(contact(), assumed=()))


def test_a_camera_that_cannot_be_set_says_so() -> None:
    (weak,) = shortfalls(by_camera(guess(), WEDGE, 0.9, 0, None, 12.5, -4.0, SHUTTER))
    assert "put more light behind the wedge" in weak
    (strong,) = shortfalls(by_camera(guess(), WEDGE, 0.9, 0, None, 12.5, 22.0, SHUTTER))
    assert "grey filter of density" in strong
    assert "meter without it" in strong
