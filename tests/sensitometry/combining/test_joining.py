"""Strips exposed differently as one: places by overlap and by records, errors that survive, remarks, refusals."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from curves import Choices, Contact, Frames, GivenExposure, Strip, StripError, analyse, load_strip
from curves.sensitometry.analysis.analyse import analyse_alone
from curves.sensitometry.combining.joining import JoinedStrip, _zero, join
from curves.sensitometry.combining.overlap import linked, overlap
from curves.sensitometry.core.units import STOP
from curves.sensitometry.curve.posterior import BETWEEN
from curves.sensitometry.strip.wedge import Pieces
from curves.sensitometry.uncertainty.sources import sources_of
from tests.bench.joining import count, two_strips
from tests.matched_film import twice_read, write_matched
from tests.simulate import FOLDER

FEW = Choices(draws=250, most_draws=250)


def demo(name: str) -> Strip:
    """Return a demo strip."""
    return load_strip(FOLDER / f"{name}.toml")


def pieces_of(joined: JoinedStrip) -> Pieces:
    """Return the exposures of a joined strip."""
    assert isinstance(joined.strip.exposure, GivenExposure)
    assert joined.strip.exposure.pieces is not None
    return joined.strip.exposure.pieces


def test_strips_are_linked_by_their_widest_overlaps() -> None:
    first, second = (analyse(demo(name), FEW) for name in ("heron-reversal", "heron-short"))
    one = overlap(first, second, [0.0, 0.0])
    assert one is not None
    # By hand: of three overlaps that close a circle the narrowest tells nothing of its own.
    widths = {(0, 1): 0.3, (0, 2): 1.0, (1, 2): 0.8}
    found = [(replace(one, density=(0.5, 0.5 + width)), pair) for pair, width in widths.items()]
    kept, group = linked(found, 4)
    assert [pair for _, pair in kept] == [(0, 2), (1, 2)]
    assert len({*group[:3]}) == 1
    assert group[3] not in group[:3]


def test_what_a_matching_leaves_open_is_an_error_of_the_joined_strip_s_zero(tmp_path: Path) -> None:
    rng = np.random.default_rng(12)
    strip = load_strip(write_matched(tmp_path, twice_read(rng, "status A"), "status A", (2, 7, 11, 15, 20), rng))
    assert strip.match is not None
    # The densitometer's zero is not given, so 0.01 is assumed; errors of one kind add by their squares.
    assert _zero(strip) == pytest.approx(math.hypot(0.01, strip.match.uncertainty))


def relative(strip: Strip, moved: float = 0.0) -> Strip:
    """Return a strip whose log H counts from nothing known."""
    return replace(
        strip, exposure=GivenExposure(), wedge=None, position=strip.log_h + moved, labels=(), title="relative"
    )


@pytest.mark.parametrize(
    ("films", "missed", "known"),
    # One film of twenty is expected to be told, and one of each number's intervals to miss: of sixty three, and of a
    # hundred such counts one goes past seven (binomial).
    [(8, 2, 6), pytest.param(60, 7, 45, marks=pytest.mark.slow)],
)
def test_joined_films_hold_the_truth_and_nothing_is_told_for_nothing(films: int, missed: int, known: int) -> None:
    """Count films of families that no constant was chosen by; `tests.bench.joining` runs more."""
    found = count(films)
    assert found["refused"] == 0
    assert found["told"] <= missed
    for name in ("index", "dmin", "dmax"):
        assert found[f"{name} held"] >= found[f"{name} known"] - missed
    assert found["index known"] >= known


@pytest.mark.parametrize(("films", "told"), [(4, 4), pytest.param(12, 11, marks=pytest.mark.slow)])
def test_a_stop_that_no_record_tells_is_told(films: int, told: int) -> None:
    assert count(films, off=1.0)["told"] >= told


def test_the_joined_strip_shows_both_ends_that_neither_strip_shows() -> None:
    strips, _, _ = two_strips(4)
    alone = [analyse(strip, FEW).channels["visual"].measures for strip in strips]
    both = analyse(join(*strips, choices=FEW).strip, FEW).channels["visual"].measures
    assert alone[0]["dmin"].value is None
    assert alone[1]["dmax"].value is None
    assert both["dmin"].value is not None
    assert both["dmax"].value is not None


def test_each_reading_is_there_once_and_keeps_its_exposure() -> None:
    full, short = demo("heron-reversal"), demo("heron-short")
    joined = join(full, short, names=["full", "short"], choices=FEW)
    assert joined.strip.position.size == full.position.size + short.position.size
    assert sorted(joined.strip.readings["red"]) == sorted([*full.readings["red"], *short.readings["red"]])
    of_row = pieces_of(joined).of_row
    assert of_row.count("full") == of_row.count("short") == 21
    assert joined.strip.labels[0].startswith("full, log H ")
    assert (np.diff(joined.strip.position) <= 0.0).all()


def test_the_overlap_shows_what_a_record_does_not() -> None:
    full, short = demo("heron-reversal"), demo("heron-short")
    # The record of the second has a stop too much: the film got a stop less than it tells.
    wrong = replace(short, exposure=replace_lux(short, 300.0))
    joined = join(full, wrong, choices=FEW)
    (both,) = joined.overlaps
    assert both.found.value == pytest.approx(-1.0, abs=0.1)
    assert both.contradicts
    assert not both.bends
    assert any("The curves contradict the records" in remark for remark in joined.remarks)
    # The curves lie on each other again; how far the two together are off is not known.
    apart = (joined.moved[1].value or 0.0) - (joined.moved[0].value or 0.0)
    assert apart == pytest.approx(-1.0, abs=0.1)
    uncertainty = joined.strip.exposure.uncertainty_stops
    assert uncertainty is not None
    assert uncertainty > 0.4


def replace_lux(strip: Strip, lux: float) -> Contact:
    """Return the exposure of a strip under another light."""
    assert isinstance(strip.exposure, Contact)
    return replace(strip.exposure, lux=lux)


def test_where_records_and_curves_agree_the_offset_is_surer_than_the_records_have_it() -> None:
    joined = join(demo("heron-reversal"), demo("heron-short"), choices=FEW)
    # Own arithmetic: each light is known to 0.1 stop by its record; the overlap, known to 0.07, takes the difference.
    between = pieces_of(joined).between_stops
    assert between is not None
    assert 0.02 < between < 0.07
    assert joined.strip.exposure.uncertainty_stops == pytest.approx(0.137, abs=0.02)
    # Light 0.1 / sqrt 2; the wedge as a whole, 0.02 of density, 0.066 stops; its scale at its middle.


def test_an_exposure_that_is_unsure_moves_as_a_whole() -> None:
    joined = join(demo("heron-reversal"), demo("heron-short"), choices=FEW)
    assert isinstance(joined.strip.exposure, GivenExposure)
    unsure = replace(pieces_of(joined), between_stops=0.5)
    strip = replace(joined.strip, exposure=replace(joined.strip.exposure, pieces=unsure))
    assert sources_of(strip)[BETWEEN].u == 0.5
    alone = analyse_alone(strip, [BETWEEN], FEW).channels["red"].ensemble
    # At the shadows both exposures lie, so that the curve moves by 0.5 / sqrt 2 stops there; at the highlights, where
    # only the long exposure lies, by 0.5.
    assert alone.density[1:].std(axis=0).max() > 0.05
    t = analyse_alone(strip, [BETWEEN], FEW).channels["red"].points["T"].log_h
    assert t.u is not None
    assert 0.7 * 0.5 * STOP < t.u < 1.3 * 0.5 * STOP


def test_the_same_films_rows_are_free_of_the_offset_where_it_is_zero() -> None:
    joined = join(demo("heron-reversal"), demo("heron-short"), choices=FEW)
    assert isinstance(joined.strip.exposure, GivenExposure)
    sure = replace(pieces_of(joined), between_stops=0.0)
    strip = replace(joined.strip, exposure=replace(joined.strip.exposure, pieces=sure))
    assert BETWEEN not in sources_of(strip)


def test_a_relative_strip_is_laid_where_its_curve_fits() -> None:
    full, short = demo("heron-reversal"), demo("heron-short")
    joined = join(full, relative(short, moved=2.0), names=["full", "short"], choices=FEW)
    assert joined.strip.log_h_unit == "lux-seconds"
    assert joined.moved[1].value is None
    of_short = [x for x, name in zip(joined.strip.position, pieces_of(joined).of_row, strict=True) if name == "short"]
    assert sorted(of_short) == pytest.approx(sorted(short.log_h), abs=0.05)


def test_relative_strips_alone_stay_relative() -> None:
    joined = join(relative(demo("heron-reversal")), replace(relative(demo("heron-short"), 1.0), title="b"), choices=FEW)
    assert joined.strip.log_h_unit == "relative"
    assert joined.strip.exposure.uncertainty_stops is None
    (both,) = joined.overlaps
    assert both.found.value == pytest.approx(-1.0 / STOP, abs=0.15)
    assert not both.contradicts


def test_metered_strips_are_brought_to_one_index() -> None:
    frames = demo("heron-frames")
    assert isinstance(frames.exposure, Frames)
    slower = replace(
        frames,
        exposure=replace(frames.exposure, ei=25.0),
        position=frames.position - 1.0,
        readings={c: v + 0.01 for c, v in frames.readings.items()},
        title="at 25",
    )
    joined = join(frames, slower, names=["a", "b"], choices=FEW)
    assert joined.strip.exposure.ei == 50.0
    # EI 25 asks for a stop more than EI 50, and each frame is a stop less against it: the same exposures.
    both: dict[str, list[float]] = {name: [] for name in ("a", "b")}
    for x, name in zip(joined.strip.position, pieces_of(joined).of_row, strict=True):
        both[name].append(x)
    assert np.array(both["a"]) == pytest.approx(np.array(both["b"]), abs=0.03)
    assert both["a"][0] == pytest.approx(frames.log_h.max(), abs=0.03)


def test_strips_without_overlap_lie_where_their_records_have_them() -> None:
    full = demo("heron-reversal")
    upper, lower = (
        replace(full, position=full.position[part], readings={c: v[part] for c, v in full.readings.items()},
                labels=(), title=title, exposure=replace_lux(full, lux))
        for part, title, lux in ((slice(0, 10), "upper", 2000.0), (slice(11, None), "lower", 2001.0))
    )  # fmt: skip
    joined = join(upper, lower, choices=FEW)
    assert joined.overlaps == ()
    assert [moved.value for moved in joined.moved] == [0.0, 0.0]
    assert any("nothing checks it" in remark for remark in joined.remarks)
    between = pieces_of(joined).between_stops
    assert between == pytest.approx(0.1, abs=0.02)
    with pytest.raises(StripError, match="its log H is relative, and its densities overlap those of no other"):
        join(upper, relative(lower), choices=FEW)


def test_curves_of_two_shapes_are_told_apart() -> None:
    full, short = demo("heron-reversal"), demo("heron-short")
    steeper = {c: np.round(1.4 * (v - 1.5) + 1.5, 2) for c, v in short.readings.items()}
    joined = join(full, replace(short, readings=steeper, patches=full.patches), choices=FEW)
    assert any("curves differ in shape" in remark for remark in joined.remarks)


def test_the_overlap_of_two_strips_turns_its_sign_with_their_order() -> None:
    one, other = (analyse(demo(name), FEW) for name in ("heron-reversal", "heron-short"))
    there, back = overlap(one, other, (0.0, 0.0)), overlap(other, one, (0.0, 0.0))
    assert there is not None
    assert back is not None
    assert there.rows == pytest.approx(-back.rows)
    moved = overlap(one, other, (0.0, STOP))
    assert moved is not None
    assert moved.found.value == pytest.approx((there.found.value or 0.0) - 1.0)


@pytest.mark.parametrize(
    ("others", "words"),
    [
        (("heron-reversal",), "one strip has nothing to be joined with"),
        (("heron-reversal", "heron-reversal"), "its exposures and readings are those of another strip"),
        (("heron-reversal", "wren-reversal"), "film is Wren 25, but Heron 80"),
        (("heron-reversal", "heron-frames"), "log H is relative to metered mid-grey, but in lux-seconds"),
        (("heron-reversal", "heron-filtered"), "filter is pale blue 40 mired"),
    ],
)
def test_strips_that_cannot_be_joined_are_refused(others: tuple[str, ...], words: str) -> None:
    with pytest.raises(StripError) as caught:
        join(*(demo(name) for name in others), choices=FEW)
    assert words in str(caught.value)


def test_a_joined_strip_is_not_joined_again() -> None:
    joined = join(demo("heron-reversal"), demo("heron-short"), choices=FEW)
    with pytest.raises(StripError, match="it is joined already"):
        join(joined.strip, demo("heron-short"), choices=FEW)


def test_two_exposures_of_one_name_are_refused() -> None:
    with pytest.raises(StripError, match="two exposures have one name"):
        join(demo("heron-reversal"), demo("heron-short"), names=["a", "a"], choices=FEW)


@pytest.mark.parametrize("draws", [0, 1, 2])
def test_with_next_to_no_draws_strips_are_still_joined(draws: int) -> None:
    joined = join(demo("heron-reversal"), demo("heron-short"), choices=Choices(draws=draws, most_draws=draws))
    assert all(math.isfinite(moved.value or 0.0) for moved in joined.moved)


def test_exposures_for_other_rows_than_there_are_is_refused() -> None:
    short = demo("heron-short")
    exposure = GivenExposure("lux-seconds", pieces=Pieces(("a", "b")))
    with pytest.raises(StripError, match="2 exposures are named for 21 rows"):
        replace(short, exposure=exposure, wedge=None, position=short.log_h)


def test_pieces_of_one_exposure_are_refused() -> None:
    with pytest.raises(StripError, match="all rows belong to one exposure"):
        Pieces(("a", "a"))
