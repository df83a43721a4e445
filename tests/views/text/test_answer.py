"""The answer on one screen: what it holds, in what order, in how many lines; an index of one's own; one line."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from curves.sensitometry.core.choices import Choices
from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import Channel, two_digits
from curves.sensitometry.uncertainty.results import Analysis, LayerSpread, Notice, WhiteCast, WhiteHolder
from curves.views.text.answer import MOST_LINES, answer_line, answer_text
from curves.views.text.strip import columns_text as columns
from curves.views.words import digits
from tests.views import sample

SAMPLES = [sample.colour_reversal(), sample.relative_reversal(), sample.too_short(), sample.negative()]


def told(analysis: Analysis) -> str:
    return answer_text(analysis, Choices(), "curves filters heron.toml --drawer FILE", "--full")


def columns_text(analysis: Analysis) -> str:
    return columns(analysis, "--full")


def slow_blue(analysis: Analysis) -> Analysis:
    """Return results with a blue layer that lies two stops from the red one, its white yellow."""
    known: dict[Channel, Quantity] = {
        "red": Quantity(0.05, 0.02, 0.08),
        "green": Quantity(0.06, 0.03, 0.09),
        "blue": Quantity(0.85, 0.7, 1.0),
    }
    cast = WhiteCast(("yellow",), net=known, excess=known)
    layers = LayerSpread(Quantity(2.0, 1.8, 2.2), Quantity(2.0, 1.8, 2.2), "blue")
    return replace(analysis, working_ei=replace(analysis.working_ei, cast=cast, layers=layers))


@pytest.mark.parametrize("analysis", SAMPLES, ids=lambda a: a.strip.title)
def test_an_answer_fits_a_screen(analysis: Analysis) -> None:
    lines = told(analysis).splitlines()
    assert len(lines) <= MOST_LINES == 20
    assert max(map(len, lines)) <= 79
    assert all(line == line.rstrip() for line in lines)


@pytest.mark.parametrize("analysis", SAMPLES, ids=lambda a: a.strip.title)
def test_the_numbers_fit_a_screen_too(analysis: Analysis) -> None:
    lines = columns_text(analysis).splitlines()
    table = lines[: lines.index("")]
    assert len(table) <= 22
    assert max(map(len, lines)) <= 79
    assert table[2].split() == list(analysis.channels)


def test_an_answer_never_names_an_index_without_the_densities_that_the_scene_gets() -> None:
    for analysis in SAMPLES:
        ei = analysis.working_ei
        for text in (told(analysis), columns_text(analysis), answer_line(analysis)):
            if ei.nominal is None:
                assert not re.search(r"Set +\d|EI \d", text)
                continue
            assert f"{ei.nominal:g}" in text
            for name, tone in ei.placements.items():
                assert re.search(rf"{name} .*{re.escape(digits.value(tone.density, 2))}", text), (name, text)


def test_the_range_is_printed_as_it_is_and_the_index_as_a_step_of_the_dial() -> None:
    analysis = sample.relative_reversal()
    ei = analysis.working_ei
    low, high = (end.value for end in ei.range)
    assert low is not None
    assert high is not None
    assert f"Usable    {two_digits(low)} to {two_digits(high)}:" in told(analysis)
    assert f"Set       {ei.nominal:g} on any meter: no filter was used." in told(analysis)


def test_the_standards_speed_stands_beside_the_index() -> None:
    for analysis, name in ((sample.colour_reversal(), "ISO 2240"), (sample.negative(), "ISO")):
        assert re.search(rf"^{name}.* \d+/\d+°, ", told(analysis), re.M)


def test_what_holds_white_back_is_named() -> None:
    analysis = sample.colour_reversal()
    base = analysis.working_ei.base
    assert base is not None
    answers: dict[WhiteHolder, str] = {
        "base": "no process clears it",
        "mask": "film's own, not fog",
        "fog": "above the base",
    }
    for held, words in answers.items():
        other = replace(analysis, working_ei=replace(analysis.working_ei, base=replace(base, held_by=held)))
        assert words in " ".join(told(other).split())


def test_the_colour_of_white_comes_before_all_else_and_leads_to_filters() -> None:
    text = told(slow_blue(sample.colour_reversal()))
    lines = text.splitlines()
    words = " ".join(text.split())
    assert lines[2].startswith("Look at   White would be yellow: the layers lie 2.0 (1.8 to 2.2) stops apart at")
    assert "white has 0.85 above Dmin in blue, 0.05 in red. First: curves filters heron.toml --drawer FILE Set" in words
    assert len(lines) <= MOST_LINES
    assert "White would be yellow" in columns_text(slow_blue(sample.colour_reversal()))


def test_a_colour_that_is_not_sure_is_said_to_be_likely() -> None:
    analysis = slow_blue(sample.colour_reversal())
    assert analysis.working_ei.cast is not None
    cast = replace(analysis.working_ei.cast, colours=("red", "yellow"))
    text = told(replace(analysis, working_ei=replace(analysis.working_ei, cast=cast)))
    assert "White would likely be red or yellow:" in text


@pytest.mark.parametrize(
    ("apart", "said"),
    [
        # A third of a stop beyond the interval: the near end decides.
        (Quantity(0.6, 0.32, 0.9), False),
        (Quantity(0.6, 0.35, 0.9), True),
        (Quantity.missing("T lies off the strip in blue", above=1.0), True),
        (Quantity.missing("T lies off the strip in blue", above=0.2), False),
        (Quantity.missing("T lies off the strip in red, green, blue"), False),
    ],
)
def test_white_is_told_from_a_third_of_a_stop_beyond_the_interval(apart: Quantity, said: bool) -> None:
    analysis = slow_blue(sample.colour_reversal())
    layers = LayerSpread(apart, apart, None)
    text = told(replace(analysis, working_ei=replace(analysis.working_ei, layers=layers)))
    assert ("White would be yellow" in text) == said


def test_a_grave_remark_has_its_place_and_the_rest_are_counted() -> None:
    analysis = slow_blue(sample.colour_reversal())
    grave = tuple(Notice("patch-disagrees", f"{n}: readings were swapped. " + "Read them again. " * 8) for n in "ab")
    routine = Notice("assumed-uncertainty", "Assumed, because the record gives no value.")
    text = told(replace(analysis, warnings=(*grave, routine)))
    assert "a: readings were swapped." in text
    assert "b: readings were swapped." not in text
    assert "because the record gives no value" not in text
    assert re.search(r"More +--full: all numbers, and \d more remarks?$", text)


def test_a_bound_is_shown_in_its_column_and_a_number_that_is_missing_as_a_dash() -> None:
    text = columns_text(sample.too_short())
    assert re.search(r"^Dmin +below \d\.\d\d", text, re.M)
    assert re.search(r"^Average gradient +-", text, re.M)


def test_a_negatives_range_never_leaves_out_the_index_to_set() -> None:
    # The index to set is rounded from the low end, and may lie below it: the range is told from above alone.
    analysis = sample.negative()
    high = analysis.working_ei.range[1].value
    assert high is not None
    for text in (told(analysis), columns_text(analysis), answer_line(analysis)):
        assert f"up to {two_digits(high)}" in text
        assert f" to {two_digits(high)}" not in text.replace(f"up to {two_digits(high)}", "")


def test_a_doubt_about_every_number_comes_before_all_else_and_is_never_counted_away() -> None:
    remarks = [Notice("step-set-aside", f"Step {n} does not fit. " * 6) for n in range(4)]
    exchanged = Notice("rows-exchanged", "The readings of steps 14 and 15 look exchanged.")
    encoded = Notice("scan-doubt", "The scan is read as linear, but it states a gamma of 2.20.")
    for analysis in SAMPLES:
        doubted = slow_blue(replace(analysis, warnings=(*remarks, exchanged, encoded)))
        lines = told(doubted).splitlines()
        assert len(lines) <= MOST_LINES
        words = " ".join(" ".join(lines).split())
        assert f"Doubt {encoded.message} Doubt {exchanged.message} Look at" in words
        assert "more remarks" in words
        shown = " ".join(columns_text(doubted).split())
        assert shown.index(encoded.message) < shown.index(exchanged.message) < shown.index("White")
