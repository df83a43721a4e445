"""Whether a strip kept to its plan: both ends on it, where they were expected, and the words for each case."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from curves import Analysis, Choices, Strip, analyse, load_strip
from curves.sensitometry.checks.kept_plan import KeptEnd, kept_ends
from curves.sensitometry.strip.origin import Expected, PlannedEnds, PlannedNumber, PredictedInterval
from tests.simulate import FOLDER, HERON_AS_SLIDE, HERON_NEGATIVE, METERED, truth

FEW = Choices(draws=250, most_draws=250)


def planned(name: str, thin: Expected, dense: Expected, strips: int = 1) -> Strip:
    """Return a demo strip that was exposed by a plan."""
    plan = PlannedEnds(thin, dense, 0.97, 0.90, 1, strips, 10.0, 1.0)
    return replace(load_strip(FOLDER / f"{name}.toml"), planned=plan)


def ends_of(strip: Strip) -> tuple[Analysis, KeptEnd, KeptEnd]:
    """Return the analysis of a strip, and the ends of its curve beside those of its plan."""
    analysis = analyse(strip, FEW)
    thin, dense = kept_ends(analysis.strip, analysis.channels)
    return analysis, thin, dense


def told(analysis: Analysis, code: str) -> str:
    """Return the one notice on the plan, which has a code."""
    (notice,) = (n for n in analysis.warnings if n.code.startswith("plan"))
    assert notice.code == code
    return notice.message


def test_the_ends_of_a_slide_are_those_of_its_outer_layers() -> None:
    analysis, thin, dense = ends_of(planned("heron-reversal", (0.0, 0.8, 1.5), (-2.0, -1.3, -0.6)))
    # The truth, from the definition: net 0.04 of the layer that clears last, 95 % of the image of the first.
    x = np.linspace(-4.5, 4.5, 90001)
    places = {}
    for channel in ("red", "green", "blue"):
        d = HERON_AS_SLIDE.density(channel, x)
        levels = d.min() + 0.04, 0.05 * d.min() + 0.95 * d.max()
        places[channel] = [float(np.interp(-level, -d, x)) for level in levels]
    for end, true in ((thin, max(p[0] for p in places.values())), (dense, min(p[1] for p in places.values()))):
        assert end.found.low is not None
        assert end.found.high is not None
        # The exposure's own error, 0.04 of log H, is not in the interval: the plan reckons with it already.
        assert end.found.low - 0.08 <= true <= end.found.high + 0.08
    words = told(analysis, "plan-held")
    assert words.startswith("The plan held: both ends of the curve lie on the strip.")
    assert "a chance of 90 % to hold both" in words


def test_an_end_that_the_strip_lost_is_told_with_its_side() -> None:
    analysis, thin, dense = ends_of(planned("heron-short", (0.0, 0.8, 1.5), (-2.0, -1.3, -0.6)))
    assert not thin.on_strip
    assert dense.on_strip
    words = told(analysis, "plan-missed")
    assert words.startswith("The plan did not hold: the thin end of the curve does not lie on the strip.")
    assert "and lies above 0.43" in words


def test_a_strip_of_several_is_not_blamed_for_the_end_that_another_holds() -> None:
    analysis, _, _ = ends_of(planned("heron-short", (0.0, 0.8, 1.5), (-2.0, -1.3, -0.6), strips=2))
    words = told(analysis, "plan-missed")
    assert "does not lie on this strip, one of 2 that were planned" in words
    assert "Join the strips of the plan" in words
    assert "all 2 strips together 97 %" in words


def test_ends_that_lie_elsewhere_are_told_though_the_wedge_held_them() -> None:
    analysis, thin, dense = ends_of(planned("heron-reversal", (-1.0, -0.5, 0.0), (-2.0, -1.3, -0.6)))
    assert not thin.foreseen
    assert dense.foreseen
    assert "but not where expected" in told(analysis, "plan-missed")


def test_a_negative_needs_its_toe_and_the_run_of_its_average_gradient() -> None:
    known = [truth(HERON_NEGATIVE, c) for c in ("red", "green", "blue")]
    # log H of the record counts from the mid-grey that was metered at EI 80.
    speed = max(k["speed"] for k in known) - (METERED - 1.90309)
    expected = (speed - 0.5 + 1.5, speed + 1.5, speed + 0.5 + 1.5)
    _, thin, dense = ends_of(planned("heron-negative", (-3.0, -1.5, -0.5), expected))
    assert thin.on_strip
    assert dense.foreseen
    assert dense.found.value is None or dense.found.value == pytest.approx(speed + 1.5, abs=0.15)


def test_a_strip_without_a_plan_says_nothing_of_one() -> None:
    analysis = analyse(load_strip(FOLDER / "heron-reversal.toml"), FEW)
    assert kept_ends(analysis.strip, analysis.channels) == ()
    assert not [n for n in analysis.warnings if n.code.startswith("plan")]


def after(own: PredictedInterval, strip: str = "heron-reversal") -> Analysis:
    """Return the analysis of a demo strip that was exposed by a plan after another."""
    plan = PlannedNumber("Heron 80, first", "ei", None, 19, own, own)
    return analyse(replace(load_strip(FOLDER / f"{strip}.toml"), planned=plan), FEW)


def test_a_number_and_a_width_that_were_expected_are_told_to_have_held() -> None:
    words = told(after(PredictedInterval((6.0, 10.0, 16.0), (0.2, 0.4, 0.9))), "plan-held")
    assert words.startswith("The plan after Heron 80, first held. It expected of this strip EI 6 to 16, known to ±0.20")
    # Of 19 films and one more each is as likely to be the least or the greatest: 2 in 20.
    assert words.endswith("a plan that is right misses the value by chance in 10 %.")


def test_a_number_that_lies_elsewhere_or_is_less_sure_misses_its_plan() -> None:
    faster = told(after(PredictedInterval((2.0, 3.0, 4.0), (0.2, 0.4, 0.9))), "plan-missed")
    assert "above what was expected" in faster
    wide = told(after(PredictedInterval((6.0, 10.0, 16.0), (0.01, 0.02, 0.03))), "plan-missed")
    assert "less sure than was expected" in wide
    # Narrower than the least is no miss.
    assert told(after(PredictedInterval((6.0, 10.0, 16.0), (1.0, 1.5, 2.0))), "plan-held")


def test_a_strip_that_shows_no_number_misses_its_plan_with_the_reason() -> None:
    words = told(after(PredictedInterval((6.0, 10.0, 16.0), (0.2, 0.4, 0.9)), "heron-short"), "plan-missed")
    assert "the strip shows none: the end of highlight detail" in words


def test_a_measure_is_held_against_its_plan_in_its_channel() -> None:
    strip = load_strip(FOLDER / "wren-reversal.toml")
    expected = PredictedInterval((0.5, 1.5, 9.0), (0.001, 0.05, 1.0))
    plan = PlannedNumber("Wren 25, first", "gamma", "visual", 19, expected, expected)
    words = told(analyse(replace(strip, planned=plan), FEW), "plan-held")
    assert "It expected of this strip visual gamma 0.50 to 9.00, known to ±0.00 to ±1.000" in words
