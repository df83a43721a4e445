"""Errors say what, where, what is needed and what to try, in one or two lines."""

from __future__ import annotations

import pytest

from curves.errors import CurvesError, GrainError, OutputError, RecordError, StripError, nearest


def test_an_error_with_only_a_fault_is_one_sentence() -> None:
    assert str(CurvesError("the file is empty")) == "the file is empty."


def test_a_full_error_is_two_lines_place_first_and_advice_last() -> None:
    error = RecordError(
        "'lots' is not a number",
        where="heron.toml, line 4, key seconds",
        needed="an exposure time in seconds",
        hint="write 0.02",
    )
    assert str(error) == (
        "heron.toml, line 4, key seconds: 'lots' is not a number; needed: an exposure time in seconds.\n"
        "Try: write 0.02."
    )


def test_a_hint_without_a_need_still_stands_on_its_own_line() -> None:
    assert str(StripError("two steps were read", hint="read the others")).splitlines() == [
        "two steps were read.",
        "Try: read the others.",
    ]


def test_the_parts_of_an_error_can_be_read_separately() -> None:
    error = OutputError("the disk is full", where="outputs", needed="5 MB", hint="make room")
    assert (error.what, error.where, error.needed, error.hint) == (
        "the disk is full",
        "outputs",
        "5 MB",
        "make room",
    )
    assert error.args == ("the disk is full",)


def option(setting: str) -> str:
    return "--" + setting.replace("=", " ")


@pytest.mark.parametrize(
    ("settings", "hint", "last"),
    [
        (("kind",), "", "Try: give --kind."),
        (("ei", "lux", "seconds"), "", "Try: give --ei, --lux or --seconds."),
        (
            ("match=absolute",),
            "compare densities as they are",
            "Try: compare densities as they are (--match absolute).",
        ),
    ],
)
def test_settings_that_would_mend_a_fault_are_named_as_they_are_given(
    settings: tuple[str, ...], hint: str, last: str
) -> None:
    error = RecordError("it broke", hint=hint, settings=settings)
    assert error.in_words(option).splitlines()[1] == last
    assert str(error).splitlines()[1] == last.replace("--match ", "match=").replace("--", "")


def test_a_setting_that_is_itself_wrong_stands_in_front() -> None:
    error = RecordError("0 is out of range", where="ei", needed="more than 0", settings=("ei",))
    assert error.in_words(option) == "--ei: 0 is out of range; needed: more than 0."
    assert str(error) == "ei: 0 is out of range; needed: more than 0."


def test_an_error_can_be_told_of_another_place_as_another_kind() -> None:
    first = StripError("it broke", where="wedge", needed="care", hint="try", settings=("wedge", "steps=4"))
    second = RecordError.of(first, "a.toml, [wedge]")
    assert str(second) == "a.toml, [wedge]: it broke; needed: care.\nTry: try (steps=4)."


@pytest.mark.parametrize("kind", [RecordError, StripError, GrainError, OutputError])
def test_every_kind_is_caught_as_the_one_base_error(kind: type[CurvesError]) -> None:
    with pytest.raises(CurvesError, match=r"^it broke\.$"):
        raise kind("it broke")


def test_a_misspelt_name_is_answered_with_the_nearest_known_one() -> None:
    assert nearest("incremnt", ["steps", "increment", "first"]) == "write 'increment'"


def test_a_name_like_no_other_is_answered_with_all_known_ones() -> None:
    assert nearest("zzz", ["steps", "increment"]) == "use one of: steps, increment"


def test_known_names_may_come_from_any_iterable() -> None:
    assert nearest("zzz", (name for name in ("a", "b"))) == "use one of: a, b"


def test_a_clause_that_quotes_what_nobody_reads_to_the_end_is_shown_by_its_ends() -> None:
    error = RecordError(f"'{'x' * 70_000}' is not a number", where="a.csv, line 2", needed="a number")
    shown = str(error)
    assert shown.startswith("a.csv, line 2: 'xxx")
    assert shown.endswith("xxx' is not a number; needed: a number.")
    assert " [...] " in shown
    assert len(shown) < 600
    assert str(RecordError("y" * 600)) == f"{'y' * 600}."


@pytest.mark.parametrize("sign", ["\x1b[2J", "\x07", "\x9b", "\x7f", "\u202e", "\u2066", "\r"])
def test_a_sign_that_commands_a_terminal_is_shown_by_another(sign: str) -> None:
    assert sign[0] not in str(RecordError(f"{sign}x"))
