"""Readings entered wrongly are told with what mends them; clean strips, flat ends and soft toes are left in peace."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from curves.sensitometry.checks.suspicion import suspicions
from curves.sensitometry.core.units import Channel, FloatArray, Kind
from curves.sensitometry.strip.exposure import Frames
from curves.sensitometry.strip.strip import Strip
from tests.bench.drawn_strips import SHAPES, Shapes, bracket, draw
from tests.bench.ideal import best_chance, distance, without_errors
from tests.bench.misreadings import CLEAR, CLEARLY, MISTAKES, OTHERS, clean, moves, told, trials
from tests.sensitometry.checks.test_suspicion import strip

Readings = dict[Channel, FloatArray]


def entered(change: Callable[[Readings], object], good: Strip | None = None) -> Strip:
    good = good or strip()
    readings = {c: v.copy() for c, v in good.readings.items()}
    change(readings)
    return replace(good, readings=readings)


def exchange(first: int, second: int, *channels: Channel) -> Callable[[Readings], object]:
    def change(readings: Readings) -> None:
        for channel in channels or tuple(readings):
            readings[channel][[first - 1, second - 1]] = readings[channel][[second - 1, first - 1]]

    return change


@pytest.mark.parametrize("pair", [(8, 9), (13, 14), (5, 13)])
def test_exchanged_rows_are_told_with_the_exchange_that_mends_them(pair: tuple[int, int]) -> None:
    (notice,) = suspicions(entered(exchange(*pair)))
    assert (notice.code, notice.channel, notice.step) == ("rows-exchanged", None, pair[0])
    assert f"Exchange the readings of steps {pair[0]} and {pair[1]}, or read both again." in notice.message


def test_readings_exchanged_in_one_channel_are_told_with_the_channel() -> None:
    (notice,) = suspicions(entered(exchange(10, 11, "green")))
    assert (notice.code, notice.channel, notice.step) == ("rows-exchanged", "green", 10)
    assert "Exchange the readings of steps 10 and 11 in green" in notice.message


def test_two_exchanges_are_both_told() -> None:
    twice = entered(exchange(11, 12), entered(exchange(7, 8)))
    assert {(n.code, n.step) for n in suspicions(twice)} == {("rows-exchanged", 7), ("rows-exchanged", 11)}


@pytest.mark.parametrize(("by", "stands", "belongs"), [(1, 6, 12), (-1, 12, 6)])
def test_a_block_shifted_by_a_row_is_told_with_where_the_row_belongs(by: int, stands: int, belongs: int) -> None:
    def shift(readings: Readings) -> None:
        for values in readings.values():
            values[5:12] = np.roll(values[5:12], by)

    (notice,) = suspicions(entered(shift))
    assert (notice.code, notice.step) == ("rows-shifted", 6)
    assert "from step 6 to step 12" in notice.message
    assert f"what stands at step {stands} belongs at step {belongs}" in notice.message


def test_a_skipped_step_is_told_with_where_to_read_again() -> None:
    def skip(readings: Readings) -> None:
        for values in readings.values():
            values[8:-1] = values[9:]

    (notice,) = suspicions(entered(skip))
    assert (notice.code, notice.step) == ("step-skipped", 8)
    assert "between steps 8 and 9" in notice.message
    assert "every reading from step 9 on belongs one step further on" in notice.message


def test_a_patch_read_twice_is_told_with_where_the_later_readings_belong() -> None:
    def again(readings: Readings) -> None:
        for values in readings.values():
            values[10:] = values[9:-1].copy()

    (notice,) = suspicions(entered(again))
    assert (notice.code, notice.step) == ("read-twice", 11)
    assert notice.message.startswith("step 10 and step 11 read alike")
    # What stands at step 12 is the reading of patch 11.
    assert "every later reading belongs one step back" in notice.message


@pytest.mark.parametrize(("by", "alike", "gap", "way"), [(1, "14 and step 15", "6 and 7", "less"),
                                                         (-1, "6 and step 7", "14 and 15", "more")])  # fmt: skip
def test_a_step_skipped_and_another_read_twice_are_told_as_rows_that_belong_one_step_further(
    by: int, alike: str, gap: str, way: str
) -> None:
    def slip(readings: Readings) -> None:
        for values in readings.values():
            values[6:14] = values[6 + by : 14 + by].copy()

    (notice,) = suspicions(entered(slip))
    assert (notice.code, notice.step) == ("rows-displaced", 7)
    assert notice.message.startswith(f"step {alike} read alike, and a step looks skipped between steps {gap}:")
    assert f"the readings from step 7 to step 14 belong one step further to the {way} exposed end" in notice.message


@pytest.mark.parametrize("kind", ["reversal", "negative"])
def test_an_end_that_turns_back_is_told_by_how_much(kind: Kind) -> None:
    good = strip(3, 0.01)
    if kind == "negative":
        good = replace(good, kind=kind, readings={c: 3.6 - v for c, v in good.readings.items()})
    turn = np.array([0.05, 0.04, 0.03, 0.02, 0.01]) * (1.0 if kind == "reversal" else -1.0)

    def solarise(readings: Readings) -> None:
        for values in readings.values():
            values[:5] += turn

    (notice,) = suspicions(entered(solarise, good))
    word = "rises" if kind == "reversal" else "falls"
    assert (notice.code, notice.step) == ("against-direction", 1)
    assert f"red and green density {word} with exposure between step 4 and step 1 by 0.05" in notice.message
    assert "solarises at its most exposed end" in notice.message


def test_steps_that_run_backwards_and_that_no_exchange_mends_are_told_as_that() -> None:
    def rise(readings: Readings) -> None:
        for values in readings.values():
            values[9:14] += 0.35

    found = [n for n in suspicions(entered(rise, strip(2, 0.005))) if n.code == "against-direction"]
    assert len(found) == 1
    assert "no single exchange mends it" in found[0].message


def test_a_wild_reading_is_left_to_the_fit() -> None:
    def slip(readings: Readings) -> None:
        readings["red"][8] = 0.5

    assert suspicions(entered(slip)) == ()


def test_channels_read_at_few_steps_do_not_keep_the_others_from_being_searched() -> None:
    good = strip(2)
    few = np.where(np.arange(21) < 9, good.readings["blue"], np.nan)
    codes = [
        n.code for n in suspicions(entered(exchange(13, 14), replace(good, readings={**good.readings, "blue": few})))
    ]
    assert codes == ["rows-exchanged"]


def test_frames_whose_exposures_are_off_by_more_than_their_distance_are_not_ordered() -> None:
    third = bracket(1, 1.0 / 3.0)
    crossed = entered(lambda r: exchange(15, 16)(r), third)
    apart = entered(lambda r: exchange(9, 19)(r), third)
    assert isinstance(third.exposure, Frames)
    assert suspicions(third) == ()
    assert suspicions(apart) != ()
    loose = replace(third, exposure=Frames(50.0), position=third.position / 4.0, labels=())
    assert "rows-exchanged" not in [n.code for n in suspicions(replace(loose, readings=crossed.readings))]


def test_a_strip_of_few_steps_and_one_of_very_many_are_not_searched() -> None:
    good = strip(2)
    few = replace(good, position=good.position[:5], readings={c: v[[1, 0, 2, 4, 3]] for c, v in good.readings.items()},
                  labels=())  # fmt: skip
    assert [n.code for n in suspicions(few)] == []


@pytest.mark.parametrize("name", list(MISTAKES))
def test_mistakes_that_move_the_index_are_told(name: str) -> None:
    # A sample of the bench: colour strips of 21 steps, an even wedge, readings that scatter by 0.01. The bench holds
    # the rest, with what cannot be told.
    missed = clear = 0
    for seed in range(40):
        rng = np.random.default_rng((7, seed))
        case = draw(rng, "reversal", steps=21, channels=3, noise=0.01, wedge=0.0)
        wrong = MISTAKES[name](rng, case)
        if wrong is None or wrong.clear < CLEARLY.get(name, CLEAR):
            continue
        clear += 1
        missed += not told(case, wrong.readings) and moves(case, wrong)
    assert clear >= 10
    # Where a step was skipped beside a corner of the curve, nobody can tell.
    assert missed <= (0.4 if "skipped" in name else 0.05) * clear


def test_hardly_a_clean_strip_is_suspected() -> None:
    # By the bench fewer than one in a hundred: seven of 300 are beyond chance.
    cases = [draw(np.random.default_rng((8, seed))) for seed in range(300)]
    assert sum(bool(told(case, case.read_with(case.exact))) for case in cases) <= 6


def test_the_best_test_knows_a_clean_strip_of_a_family_and_an_exchange() -> None:
    # By the definition of the best test: a clean film is at no distance, where the chance is that of a false alarm;
    # exchanged rows are at most root 2 of their difference away from the film that they come from.
    case = without_errors(draw(np.random.default_rng((9, 4)), steps=21, channels=1, wedge=0.0, noise=0.01))
    log_h = -3.0 / 20 * np.arange(21.0)
    readings = case.read_with(case.exact)
    film = case.family, 0.0
    assert distance(readings, case.kind, log_h, case.noise, 0.0, *film) < 0.5
    steep = int(np.abs(np.diff(readings[0])).argmax())
    apart = abs(readings[0, steep + 1] - readings[0, steep]) / case.noise
    readings[:, [steep, steep + 1]] = readings[:, [steep + 1, steep]]
    assert 0.7 * apart < distance(readings, case.kind, log_h, case.noise, 0.0, *film) <= 1.05 * np.sqrt(2.0) * apart
    assert best_chance(0.0, 1) == pytest.approx(0.01)
    assert best_chance(0.0, 20) == pytest.approx(0.0005)


LEAST_TOLD = {
    "neighbouring rows exchanged": 0.97,
    "the same in one channel": 0.96,
    "distant rows exchanged": 0.97,
    "a row moved, a block shifted": 0.97,
    "read twice and skipped": 0.66,
    "channels exchanged from a step on": 0.94,
    "a step skipped": 0.58,
    "the same on the steep part": 0.80,
    "solarised end, 0.05": 0.84,
}
"""Share of the clear mistakes that are told on strips of all kinds, a standard error below what was counted in 160 of
each. Regression: computed by this code [unitless]."""


@pytest.mark.slow
@pytest.mark.parametrize("name", list(MISTAKES))
def test_clear_mistakes_on_strips_of_every_kind_are_told(name: str) -> None:
    found = [bool(t.told) for t in trials(name, 400) if t.entered.clear >= CLEARLY.get(name, CLEAR)]
    share = LEAST_TOLD[name]
    assert np.mean(found) >= share - 2.0 * np.sqrt(share * (1.0 - share) / len(found))


@pytest.mark.slow
@pytest.mark.parametrize("shapes", [SHAPES, OTHERS], ids=["of the best test", "others"])
def test_fewer_than_one_in_a_hundred_clean_strips_are_suspected(shapes: Shapes) -> None:
    # Of each family and each sort of strip, three standard errors of the count are allowed.
    groups = clean(3000, shapes)
    assert groups["all"]["suspected"] <= 0.01 * 3000
    suspected = {group: (codes["suspected"], 0.01 * codes["strips"]) for group, codes in groups.items()}
    beyond = {group: of for group, of in suspected.items() if of[0] > of[1] + 3.0 * np.sqrt(of[1]) + 1.0}
    assert not beyond
