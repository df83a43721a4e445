"""Ten films of every temper, each with the answer that a photographer would sign.

Expected values are calculated from the films' closed forms by the definitions alone (`tests.bench.index_truth`, which
shares no code with the package); the strips are read to 0.01 without error.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import pytest

from curves.sensitometry.core.units import exact_ei
from curves.sensitometry.uncertainty.results import Basis, State
from tests.bench.index_truth import SHADOW, WHITE, landing, truth_of
from tests.sensitometry.analysis.ten_films import FILMS, METER, analysis_of


@dataclass(frozen=True)
class Answer:
    """What the tool has to say of a film.

    Attributes:
        signed: the answer in a photographer's words.
        dial: the number to set.
        basis: what decides.
        states: of white, grey and shadow at that number.
        says: clauses that the reason must hold.
        held_by: what holds the white back.
        warned: codes of the warnings that it must come with.
    """

    signed: str
    dial: float
    basis: Basis
    states: tuple[State, State, State]
    says: tuple[str, ...]
    held_by: str | None = None
    warned: tuple[str, ...] = field(default=())


ANSWERS = {
    "clear": Answer(
        "A true slide film: put the whites where they just keep tone; at 80 grey comes out at a density near 1.",
        80.0, "highlight", ("holds", "holds", "holds"), ("The film clears", "Scene white is laid on T"),
    ),
    "orange base": Answer(
        "A masked film never shows white: put grey in the middle of what there is, and do not blame fog.",
        16.0, "middle", ("holds", "holds", "holds"), ("does not clear", "colour of a mask", "not fog"), "mask",
    ),
    "low contrast": Answer(
        "A flat film holds everything: clean whites are all there is to win, and the shadows stay grey.",
        32.0, "highlight", ("holds", "holds", "holds"), ("The film clears",),
    ),
    "high contrast": Answer(
        "This film cannot hold the scene: keep the faces from going black, and let the whites burn out.",
        80.0, "grey", ("gone", "holds", "holds"),
        ("too dense for a grey", "stops longer than this film", "keeps white and 85 keeps mid-grey"),
    ),
    "fogged": Answer(
        "Fog has eaten the whites: judge by the middle, and find the fog before you judge by anything else.",
        40.0, "middle", ("holds", "holds", "holds"), ("does not clear", "Fog, 0.32 above the base"), "fog",
    ),
    "one layer slow": Answer(
        "Expose for the shadows that the other two layers lose first; the slow blue leaves the highlights yellow.",
        50.0, "shadow", ("holds", "holds", "holds"), ("the shadow just keeps its texture",),
    ),
    "dense base": Answer(
        "The base is grey, not fogged: whites are dull whatever you do, so go between highlights and middle.",
        32.0, "mixed", ("holds", "holds", "holds"), ("a grey base is not a veil", "count for 37 %"), "base",
    ),
    "expired": Answer(
        "An old film with weak blacks: it still makes a picture near 50, and forgives less than half a stop.",
        50.0, "shadow", ("thin", "holds", "holds"), ("Fog, 0.17 above the base", "keeps its texture"), "fog",
    ),
    "short strip": Answer(
        "The wedge stopped a little early, but the base says how far the film can still clear: 25 is safe meanwhile.",
        25.0, "cleared", ("not known", "holds", "holds"), ("Dmin lies between 0.07 and 0.24", "holds all of it"),
    ),
    "two emulsions": Answer(
        "Two films in one: it just fits the scene at 50, and whoever says where its middle is is guessing.",
        50.0, "cleared", ("thin", "holds", "no texture"), ("hardly has a range",), None, ("two-shoulders",),
    ),
}  # fmt: skip

# Steps of 0.15 tell a curve between them to about this [stops]; a corner of the rule, where two tones meet, doubles it.
NEAR, DENSITY = 0.07, 0.03


@pytest.mark.parametrize("name", ANSWERS)
def test_the_answer_is_one_that_a_photographer_would_sign(name: str) -> None:
    wanted, ei = ANSWERS[name], analysis_of(name).working_ei
    assert ei.nominal == wanted.dial, wanted.signed
    assert ei.basis == wanted.basis
    assert tuple(tone.state for tone in ei.placements.values()) == wanted.states
    for clause in wanted.says:
        assert clause in ei.reason
    assert ei.base is not None
    assert ei.base.held_by == wanted.held_by
    assert {n.code for n in analysis_of(name).warnings} >= set(wanted.warned)
    assert ("two-shoulders" in {n.code for n in analysis_of(name).warnings}) == ("two-shoulders" in wanted.warned)


@pytest.mark.parametrize("name", ANSWERS)
def test_the_index_is_the_true_one(name: str) -> None:
    truth, q = truth_of(FILMS[name].eye), analysis_of(name).working_ei.recommended
    assert q.value is not None
    assert q.low is not None
    assert q.high is not None
    assert abs(math.log2(q.value / truth.index)) < NEAR
    assert q.low < truth.index < q.high


@pytest.mark.parametrize("name", [name for name in ANSWERS if name != "short strip"])
def test_so_are_the_ends_of_the_range_and_what_is_missing_of_it(name: str) -> None:
    truth, ei = truth_of(FILMS[name].eye), analysis_of(name).working_ei
    for end, true in zip(ei.range, (truth.low, truth.high), strict=True):
        assert end.value is not None
        assert abs(math.log2(end.value / true)) < 2 * NEAR
    assert ei.highlight_share == pytest.approx(truth.share, abs=0.02)
    assert (ei.shortfall is not None) == (truth.low > truth.high)
    if ei.shortfall is not None:
        assert ei.shortfall.stops.value == pytest.approx(math.log2(truth.low / truth.high), abs=NEAR)
        assert sum(stops or 0.0 for stops in ei.shortfall.lost) == pytest.approx(ei.shortfall.stops.value)


@pytest.mark.parametrize("name", ANSWERS)
def test_white_grey_and_shadow_land_on_the_densities_that_are_named(name: str) -> None:
    film, ei = FILMS[name], analysis_of(name).working_ei
    assert ei.nominal is not None
    for tone, placed in zip((WHITE, 0.0, SHADOW), ei.placements.values(), strict=True):
        true = landing(film.eye, float(exact_ei(ei.nominal)), METER, tone)
        q = placed.density
        assert q.value == pytest.approx(true, abs=DENSITY)
        assert q.low is not None
        assert q.high is not None
        assert q.low < true < q.high


def test_a_film_of_low_dmax_has_its_index_beside_its_range_with_no_step_at_dmin_plus_2() -> None:
    # Dmax 1.62: Dmin + 2.00 does not exist, and S is the touch alone.
    found = analysis_of("expired")
    s = found.channels["visual"].points["S"]
    truth = truth_of(FILMS["expired"].eye)
    assert truth.by_touch
    assert s.log_h.value == pytest.approx(truth.s, abs=0.02)
    assert s.meaning == "shadow: S is where the line from T touches the shoulder"
    assert found.speeds["iso_2240"].value.value == pytest.approx(truth.middle, rel=0.02)


def test_the_short_strip_names_both_indexes_and_its_bounds_contradict_none() -> None:
    # From the base up to what the last step has, every Dmin is reckoned with: at the one the film is as it is below.
    ei = analysis_of("short strip").working_ei
    assert "with the one the index is 26, with the other 28" in ei.reason
    assert [end.value for end in ei.range] == [None, None]
    assert [end.bound[0] if end.bound else None for end in ei.range] == ["<", ">"]
    assert ei.highlight_share is None
    truth = truth_of(FILMS["short strip"].eye)
    for end, true, way in zip(ei.range, (truth.low, truth.high), (1.0, -1.0), strict=True):
        assert end.bound is not None
        assert way * true < way * end.bound[1]


def test_grey_never_lands_in_the_black_and_never_washes_out() -> None:
    # Within half a step of the dial of its limits: net 0.40 and 1.40, or 30 and 60 % of the range.
    for name, film in FILMS.items():
        truth = truth_of(film.eye)
        least, most = min(0.40, 0.30 * (truth.dmax - truth.dmin)), min(1.40, 0.60 * (truth.dmax - truth.dmin))
        index = analysis_of(name).working_ei.recommended.value
        assert index is not None
        net = landing(film.eye, index, METER, 0.0) - truth.dmin
        assert least - 0.05 < net < most + 0.05, name
