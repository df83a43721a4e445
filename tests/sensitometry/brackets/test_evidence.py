"""What judged frames say of the right exposure, against numbers that follow from the stated rule."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
import pytest
from scipy.stats import norm

from curves import Frames, Strip
from curves.errors import StripError
from curves.sensitometry.brackets.evidence import BEYOND, Evidence
from curves.sensitometry.core.units import Kind
from curves.sensitometry.strip.exposure import SLIPS, Eye, Judgement, side_of

DARK: Judgement = "too dark"
RIGHT: Judgement = "right"
LIGHT: Judgement = "too light"


def evidence(
    judged: Mapping[float, Judgement | None], kind: Kind = "reversal", exposure: Frames | None = None
) -> Evidence:
    """Return the evidence of frames by their stops."""
    strip = Strip.from_readings(
        {},
        kind=kind,
        exposure=exposure or Frames(50.0, frame_uncertainty_stops=0.0),
        positions=list(judged),
        judgements=tuple(judged.values()),
    )
    found = Evidence.of(strip)
    assert found is not None
    return found


@pytest.mark.parametrize(
    ("judgement", "kind", "side"),
    [("too dark", "reversal", -1), ("too light", "reversal", 1), ("right", "reversal", 0),
     ("too dark", "negative", 1), ("too light", "negative", -1), ("right", "negative", 0)],
)  # fmt: skip
def test_a_judgement_is_of_the_film_itself(judgement: Judgement, kind: Kind, side: int) -> None:
    # By definition: more exposure makes a reversal lighter and a negative denser.
    assert side_of(judgement, kind) == side


def test_the_chance_of_a_judgement_is_that_of_the_stated_rule() -> None:
    # From the definition: normal, half a stop in all, half of the variance from frame to frame; a slip may be any word.
    eye, spread = Eye(), 0.5 / math.sqrt(2.0)
    over = norm.cdf((0.8 - 0.5) / spread)
    found = eye.chance(np.array([1.0, 0.0, -1.0]), np.array([0.8, 0.8, 0.8]), 0.0)
    under = norm.cdf((-0.8 - 0.5) / spread)
    expected = SLIPS / 3.0 + (1.0 - SLIPS) * np.array([over, 1.0 - over - under, under])
    np.testing.assert_allclose(found, expected, rtol=1e-9)
    assert found.sum() == pytest.approx(1.0)


def test_the_error_of_a_frame_adds_to_that_of_the_eye() -> None:
    # From the definition: independent errors add in their squares.
    wide = Eye(0.5).chance(np.array([1.0]), np.array([0.8]), 0.3)
    same = Eye(math.sqrt(0.5 + 2.0 * 0.09 - 0.25)).chance(np.array([1.0]), np.array([0.8]), 0.0)
    np.testing.assert_allclose(wide, same, rtol=1e-9)


def test_judgements_alike_on_both_sides_put_the_right_exposure_in_the_middle() -> None:
    found = evidence({-2.0: DARK, -1.0: DARK, 0.0: RIGHT, 1.0: LIGHT, 2.0: LIGHT})
    low, middle, high = found.quantiles(np.array([0.025, 0.5, 0.975]))
    assert middle == pytest.approx(0.0, abs=1e-6)
    assert low == pytest.approx(-high, abs=1e-4)


def test_one_right_frame_is_what_convolution_makes_of_it() -> None:
    # From the definition, by numerical integration that shares no code: the chance of "right" averaged over the taste.
    found = evidence({0.0: RIGHT})
    places, spread = np.array([-1.5, -0.3, 0.0, 0.9]), 0.5 / math.sqrt(2.0)
    taste = np.linspace(-6.0, 6.0, 20001) * spread
    weight = norm.pdf(taste, scale=spread) * (taste[1] - taste[0])
    surplus = 0.0 - places[:, None] - taste
    right = norm.cdf((surplus + 0.5) / spread) - norm.cdf((surplus - 0.5) / spread)
    expected = ((SLIPS / 3.0 + (1.0 - SLIPS) * right) * weight).sum(axis=1)
    np.testing.assert_allclose(found.chance(places), expected, rtol=2e-4)


def test_more_frames_by_one_eye_never_know_more_than_its_taste_allows() -> None:
    # From the definition: the taste, 0.354 stops, is the same in every frame, so half the interval stays over 0.69.
    halves = []
    for repeats in (1, 5, 40):
        stops = np.repeat(np.arange(-3.0, 4.0), repeats)
        side = np.sign(np.where(np.abs(stops) < 0.5, 0.0, stops))
        found = Evidence(stops, side, ("",) * stops.size, Eye(), 0.0, {})
        low, high = found.quantiles(np.array([0.025, 0.975]))
        halves.append((high - low) / 2.0)
    assert halves[0] > halves[1] > halves[2] > 1.96 * Eye().taste - 0.005


def test_all_frames_on_one_side_give_a_bound_that_so_many_judgements_have_a_twentieth_of_a_chance_at() -> None:
    dark, light = evidence(dict.fromkeys((-1.0, 0.0, 1.0), DARK)), evidence(dict.fromkeys((-1.0, 0.0, 1.0), LIGHT))
    assert (dark.one_sided, light.one_sided) == (-1, 1)
    assert dark.bound() == pytest.approx(-light.bound(), abs=0.021)
    assert dark.chance(np.array([dark.bound()]))[0] == pytest.approx(0.05, abs=0.004)
    # The right exposure may lie below the most exposed frame, which may have been misjudged, but not by much.
    assert 0.0 < dark.bound() < 1.5


def test_the_right_exposure_is_looked_for_three_stops_beyond_the_frames() -> None:
    found = evidence({-1.0: RIGHT, 2.0: LIGHT})
    assert found.places[0] == -1.0 - BEYOND
    assert found.places[-1] == 2.0 + BEYOND


def test_a_frame_judged_against_one_of_less_exposure_is_told() -> None:
    found = evidence({-2.0: LIGHT, -1.0: RIGHT, 0.0: DARK, 1.0: LIGHT}).contradictions()
    assert found == [
        "stops -2.00 is judged to have too much exposure, and stops +0.00, with 2.0 stops more, too little: look at"
        " these frames again, and whether each judgement stands beside its own frame."
    ]


def test_the_same_judgements_of_a_negative_do_not_contradict() -> None:
    judged: Mapping[float, Judgement] = {-1.0: LIGHT, 0.0: RIGHT, 1.0: DARK}
    assert evidence(judged, "negative").contradictions() == []
    assert len(evidence(judged).contradictions()) == 1


def test_two_frames_of_one_exposure_judged_too_dark_and_too_light_contradict() -> None:
    strip = Strip.from_readings(
        {}, kind="reversal", exposure=Frames(50.0), positions=[0.0, 0.0], judgements=(DARK, LIGHT)
    )
    found = Evidence.of(strip)
    assert found is not None
    assert "with as much, too little" in found.contradictions()[0]


def test_frames_that_were_not_judged_say_nothing() -> None:
    judged = evidence({-1.0: DARK, 0.0: None, 1.0: LIGHT})
    assert judged.stops.tolist() == [-1.0, 1.0]
    assert judged.counts == {"too dark": 1, "right": 0, "too light": 1}


def test_a_stated_eye_is_believed() -> None:
    sharp = Frames(50.0, frame_uncertainty_stops=0.0, eye=Eye(0.1, 0.2))
    ends = [
        evidence({-1.0: DARK, 0.0: RIGHT, 1.0: LIGHT}, exposure=e).quantiles(np.array([0.025, 0.975]))
        for e in (sharp, Frames(50.0, frame_uncertainty_stops=0.0))
    ]
    assert np.ptp(ends[0]) < 0.6 * np.ptp(ends[1])
    assert (Eye(0.1).assumed, Eye().assumed) == (False, True)


@pytest.mark.parametrize(
    ("judgements", "said"),
    [((DARK,), "1 judgements for 2 rows"), (("dark", LIGHT), "'dark' is not known"), ((), "no channel was read")],
)
def test_judgements_that_cannot_be_are_refused(judgements: tuple[Judgement, ...], said: str) -> None:
    with pytest.raises(StripError, match=said):
        Strip.from_readings({}, kind="reversal", exposure=Frames(50.0), positions=[0.0, 1.0], judgements=judgements)


@pytest.mark.parametrize(("field", "value"), [("uncertainty_stops", -0.1), ("right_within_stops", 0.0)])
def test_an_eye_that_cannot_be_is_refused(field: str, value: float) -> None:
    with pytest.raises(StripError, match="out of range"):
        Eye(**{field: value})
