"""The index by eye: of judgements alone, and joined with densities, row by row."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from curves import Choices, Frames, Patches, Strip, analyse
from curves.errors import StripError
from curves.sensitometry.analysis.analyse import analyse_for_index
from curves.sensitometry.brackets.by_eye import SharedErrors, joined
from curves.sensitometry.brackets.evidence import Evidence
from curves.sensitometry.combining.together import together
from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import STOP, FloatArray
from curves.sensitometry.strip.exposure import Eye, Judgement
from curves.sensitometry.uncertainty.intervals import summarise
from tests.bench.judged import SimulatedEye, judged_film, tallies
from tests.sensitometry.shapes import slide

STOPS = np.arange(-5.0, 6.0)
DARK: Judgement = "too dark"
RIGHT: Judgement = "right"
LIGHT: Judgement = "too light"
DRAWS = Choices(draws=500, most_draws=500)


def words(right: float) -> tuple[Judgement, ...]:
    """Return the likeliest judgement of each frame of `STOPS`, the right exposure lying ``right`` stops over."""
    return tuple(DARK if s < right - 0.5 else LIGHT if s > right + 0.5 else RIGHT for s in STOPS)


def bracket(judgements: tuple[Judgement | None, ...] = (), *, read: bool, metering: float = 0.0) -> Strip:
    """Return a bracket of an invented film about EI 25, judged, read, or both."""
    density = np.round(slide(STOPS * STOP - 1.0, dmin=0.12, centre=-1.0), 2)
    return Strip.from_readings(
        {"visual": density} if read else {},
        kind="reversal",
        exposure=Frames(25.0, uncertainty_stops=metering, frame_uncertainty_stops=0.15),
        positions=STOPS,
        title="Wren 25, bracket",
        patches=Patches({}, {"visual": 3.02}, {"visual": 0.12}) if read else None,
        repeatability=0.01,
        meter_constant=12.5,
        judgements=judgements,
    )


def test_judgements_about_the_middle_frame_give_its_index() -> None:
    found = analyse_for_index(bracket(words(0.0), read=False), DRAWS).working_ei
    assert found.nominal == 25
    assert found.basis == "eye"
    # By the rule alone, half a width of 0.97 stops: regression, computed by this code.
    assert found.recommended.low is not None
    assert found.recommended.high is not None
    assert math.log2(found.recommended.high / found.recommended.low) / 2.0 == pytest.approx(0.96, abs=0.06)


def test_frames_that_need_two_stops_more_halve_the_index_twice() -> None:
    at = [analyse_for_index(bracket(words(right), read=False), DRAWS).working_ei.recommended for right in (0.0, 2.0)]
    assert at[0].value is not None
    assert at[1].value is not None
    assert math.log2(at[0].value / at[1].value) == pytest.approx(2.0, abs=0.01)


def test_the_metering_of_the_bracket_widens_the_index_and_stands_in_its_budget() -> None:
    known, unknown = (
        analyse_for_index(bracket(words(0.0), read=False, metering=m), DRAWS).working_ei for m in (0.0, 0.6)
    )
    # Independent errors add in their squares.
    narrow, wide = (np.std(np.log2(np.asarray(found.recommended.rows)[1:])) for found in (known, unknown))
    assert wide == pytest.approx(math.hypot(float(narrow), 0.6), rel=0.08)
    assert unknown.budget is not None
    assert {line.key for line in unknown.budget.lines} == {"judgement", "exposure"}
    assert sum(line.share for line in unknown.budget.lines) == pytest.approx(1.0)


def test_a_bracket_that_is_too_dark_throughout_bounds_the_index_and_says_what_to_do() -> None:
    found = analyse_for_index(bracket((DARK,) * 11, read=False), DRAWS)
    index = found.working_ei.recommended
    assert index.value is None
    assert index.bound is not None
    assert index.bound[0] == "<"
    # The most exposed frame is rated EI 25 / 32; it alone may have been misjudged, by half a stop and no more.
    assert 0.5 < index.bound[1] < 25.0 / 32.0 * 2.0**0.5
    assert found.working_ei.advice[0].startswith("The bracket is one-sided: expose frames with more exposure")


def test_a_strip_that_was_only_judged_has_no_curve() -> None:
    with pytest.raises(StripError, match="the frames were judged by eye, and no density was read"):
        analyse(bracket(words(0.0), read=False))


def test_an_index_without_judgements_is_that_of_the_densities_to_the_digit() -> None:
    plain = analyse(bracket(read=True), DRAWS).working_ei
    assert plain.by_eye is None
    told = analyse(bracket((None,) * 10 + (LIGHT,), read=True), DRAWS).working_ei
    # A frame five stops over that is too light says next to nothing.
    assert told.recommended.value == pytest.approx(plain.recommended.value, rel=1e-3)


def test_what_the_eye_says_is_told_beside_what_the_densities_say() -> None:
    found = analyse(bracket(words(0.0), read=True), DRAWS).working_ei
    assert found.by_eye is not None
    assert found.by_eye.frames == {"too dark": 5, "right": 1, "too light": 5}
    assert found.by_eye.without is not None
    assert found.by_eye.without.value == analyse(bracket(read=True), DRAWS).working_ei.recommended.value


def rows_of(centre: float, spread: float, shared: FloatArray) -> Quantity:
    """Return an index at EI 25 whose place among the frames is normal, with errors shared by all frames [log10]."""
    rng = np.random.default_rng(3)
    places = np.r_[centre, centre + spread * rng.standard_normal(shared.size - 1)]
    return summarise(25.0 * 10.0 ** -(STOP * places + shared))


def evidence(right: float) -> Evidence:
    """Return the evidence of the likeliest judgements."""
    side = np.sign(np.where(np.abs(STOPS - right) <= 0.5, 0.0, STOPS - right))
    return Evidence(STOPS, side, tuple(map(str, STOPS)), Eye(), 0.15, {"right": 1})


def test_two_normals_join_by_their_weights() -> None:
    shared = SharedErrors(25.0, np.zeros(20001), 0)
    eye = evidence(0.0)
    own = float(np.std(shared.places(np.asarray(joined(rows_of(0.0, 9.0, shared.rows), eye, shared)[0].rows))[1:]))
    index, told = joined(rows_of(0.5, 0.5, shared.rows), eye, shared)
    places = shared.places(np.asarray(index.rows))
    # The weighted mean of two normal distributions, from the definition; the eye's is nearly normal.
    assert np.mean(places[1:]) == pytest.approx(0.5 * own**2 / (own**2 + 0.25), abs=0.04)
    assert np.std(places[1:]) == pytest.approx(0.5 * own / math.hypot(own, 0.5), rel=0.06)
    assert told.kept == pytest.approx(own**2 / (own**2 + 0.25), abs=0.05)
    assert not told.contradicts


def test_errors_that_all_frames_share_stay_in_their_rows() -> None:
    errors = np.r_[0.0, 0.05 * np.random.default_rng(8).standard_normal(4000)]
    shared = SharedErrors(25.0, errors, 0)
    index, _ = joined(rows_of(0.0, 0.3, errors), evidence(0.0), shared)
    without = np.log10(np.asarray(index.rows)) + errors
    assert abs(np.corrcoef(without[1:], errors[1:])[0, 1]) < 0.05
    # Another strip with the same error in the same row: its difference is free of it.
    assert np.std(without[1:]) < 0.3 * STOP


def test_a_precise_curve_learns_nothing_from_the_eye() -> None:
    shared = SharedErrors(25.0, np.zeros(4001), 0)
    before = rows_of(0.1, 0.02, shared.rows)
    after, told = joined(before, evidence(0.0), shared)
    assert after.value == pytest.approx(before.value, rel=1e-3)
    assert after.low == pytest.approx(before.low, rel=2e-3)
    assert told.kept > 0.99


def test_the_interval_grows_without_a_jump_as_eye_and_curve_fall_apart_and_holds_the_eye_in_the_end() -> None:
    shared = SharedErrors(25.0, np.zeros(4001), 0)
    ends = []
    for apart in np.arange(0.0, 3.01, 0.05):
        index, told = joined(rows_of(float(apart), 0.2, shared.rows), evidence(0.0), shared)
        assert index.high is not None
        assert index.low is not None
        ends.append((math.log2(index.low / 25.0), math.log2(index.high / 25.0), told.contradicts))
    low, high, told_so = (np.array(column) for column in zip(*ends, strict=True))
    assert np.abs(np.diff(low)).max() < 0.25
    assert np.abs(np.diff(high)).max() < 0.25
    assert not told_so[0]
    assert told_so[-1]
    # The eye's place, index 25, lies inside the interval once the two are far apart.
    assert high[-1] > -0.1


def test_an_interval_that_is_wider_than_its_draws_stays_so() -> None:
    shared = SharedErrors(25.0, np.zeros(4001), 0)
    plain = rows_of(0.0, 0.02, shared.rows)
    assert plain.low is not None
    wide = replace(plain, low=plain.low / 1.2)
    assert joined(wide, evidence(0.0), shared)[0].low == pytest.approx(plain.low / 1.2, rel=0.01)


def test_an_eye_and_densities_that_contradict_each_other_are_told() -> None:
    sure = bracket(words(3.0), read=True)
    found = analyse(sure, DRAWS)
    assert "eye-contradicts" in [notice.code for notice in found.warnings]
    assert found.working_ei.by_eye is not None
    assert found.working_ei.by_eye.contradicts
    assert found.working_ei.by_eye.apart is not None
    assert found.working_ei.by_eye.apart < -1.0


WHOLE = tuple(range(-4, 5))


@pytest.mark.slow
def test_intervals_by_eye_hold_the_truth() -> None:
    # The whole run, `tests.bench.judged`, counts 93 to 97 % of 400 films.
    found = tallies([judged_film(seed, 2.0, WHOLE) for seed in range(120)], ["alone"])["alone"]
    assert len(found.held) > 110
    assert 0.90 <= np.mean(found.held) <= 0.99
    assert np.median(found.half) == pytest.approx(0.97, abs=0.05)


@pytest.mark.slow
def test_judgements_beside_densities_shorten_the_interval_and_it_still_holds() -> None:
    found = tallies([judged_film(seed, 2.0, WHOLE) for seed in range(40)], ["read", "both"])
    assert np.median(found["both"].half) < np.median(found["read"].half)
    assert np.mean(found["both"].held) >= 0.88
    assert np.mean(found["both"].told) <= 0.15


@pytest.mark.slow
def test_a_one_sided_bracket_bounds_the_truth() -> None:
    eyes = (SimulatedEye(0.35 * float(t)) for t in np.random.default_rng(4).standard_normal(60))
    films = [judged_film(seed, 0.5, (-6.0, -5.0, -4.0, -3.0, -2.0), eye) for seed, eye in enumerate(eyes)]
    found = tallies(films, ["alone"])["alone"]
    assert len(found.bounds) > 50
    assert np.mean(found.bounds) >= 0.95


def eyed(title: str, judgements: tuple[Judgement, ...]) -> Strip:
    """Return a bracket that was only judged, with a title of its own."""
    return replace(bracket(judgements, read=False), title=title, film="Wren 25", process="reversal")


def test_rolls_that_one_eye_judged_share_its_taste_and_no_number_of_rolls_averages_it_away() -> None:
    rolls = [eyed(f"roll {n}", words(right)) for n, right in enumerate((0.0, 0.0, 1.0, -1.0, 0.0, 0.0))]
    # The rolls' own frames: each has another error of its shutter, so each has another label of its frames.
    rolls = [replace(roll, labels=tuple(f"{roll.title}, {label}" for label in roll.labels)) for roll in rolls]
    found = together(*rolls).recommended
    assert found.low is not None
    assert found.high is not None
    # From the definition: the taste, 0.354 stops, is in all of them: half the interval stays over 0.69.
    assert 0.66 < math.log2(found.high / found.low) / 2.0 < 0.85


def test_an_eye_and_a_strip_join_by_their_weights() -> None:
    strip = replace(bracket(read=True), title="strip", film="Wren 25", process="reversal")
    found = together(strip, eyed("roll", words(0.0)))
    assert found.strips[0].weight is not None
    assert found.strips[1].weight is not None
    assert found.strips[0].weight + found.strips[1].weight == pytest.approx(1.0)
    assert found.strips[1].analysis.channels == {}
