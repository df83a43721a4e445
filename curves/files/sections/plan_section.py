"""The section [plan] of a record: what was expected of the strip before it was exposed."""

from __future__ import annotations

from typing import Any

from curves.errors import RecordError, StripError
from curves.files.base.fields import Section, check_number
from curves.sensitometry.core.units import CHANNELS
from curves.sensitometry.core.values import POSITIVE, STOPS
from curves.sensitometry.strip.origin import SHARE, Expected, PlannedEnds, PlannedNumber, PredictedInterval

_OF_ENDS = ("thin_end", "dense_end", "chance", "alone", "strip", "strips", "box", "off_stops")
_OF_NUMBER = ("after", "number", "channel", "films", "own_value", "own_half_width", "both_value", "both_half_width")


def planned_in(section: Section) -> PlannedEnds | PlannedNumber | None:
    """Return the prediction that the section [plan] holds; None where the record has no plan.

    Args:
        section: the section, empty if it is missing.

    Raises:
        RecordError: a key is missing, unknown or out of range.
    """
    if "after" in section:
        elsewhere = dict.fromkeys(_OF_ENDS, "it goes with a plan of the first strip, which has no key after")
        section.only(*_OF_NUMBER, elsewhere=elsewhere)
        return _planned_number(section)
    section.only(*_OF_ENDS, elsewhere=dict.fromkeys(_OF_NUMBER, "it goes with the key after"))
    return _planned_ends(section) if section.keys else None


def _planned_number(section: Section) -> PlannedNumber:
    """Return the prediction of a plan after a strip."""
    channel = section.word("channel", CHANNELS) if "channel" in section else None
    own = "own_value" in section or "own_half_width" in section
    try:
        return PlannedNumber(
            section.text("after", needed="the title of the strip that the plan was made from"),
            section.text("number", needed='the name of the number, such as number = "ei"'),
            channel,
            section.whole("films", needed="a whole number, such as films = 19", least=2),
            _interval(section, "own") if own else None,
            _interval(section, "both"),
        )
    except StripError as error:
        raise RecordError(error.what, where=section.where, needed=error.needed) from error


def _interval(section: Section, name: str) -> PredictedInterval:
    """Return a number and half the width of its interval, by the beginning of the keys' names."""
    return PredictedInterval(_three(section, f"{name}_value"), _three(section, f"{name}_half_width"))


def _planned_ends(section: Section) -> PlannedEnds:
    """Return the prediction of the plan of a first strip."""
    shares = {key: section.number(key, SHARE, needed=f"a chance, such as {key} = 0.95") for key in ("chance", "alone")}
    box = section.number("box", POSITIVE, needed="the speed that the plan began with, such as box = 80")
    off = section.number("off_stops", STOPS, needed="how far that might be wrong, such as off_stops = 1.0")
    numbers = {k: section.whole(k, needed=f"a whole number, such as {k} = 1", least=1) for k in ("strip", "strips")}
    assert box is not None
    assert off is not None
    try:
        return PlannedEnds(
            _three(section, "thin_end"),
            _three(section, "dense_end"),
            shares["chance"] or 0.0,
            shares["alone"] or 0.0,
            numbers["strip"],
            numbers["strips"],
            box,
            off,
        )
    except StripError as error:
        raise RecordError(error.what, where=section.where, needed=error.needed) from error


def plan_section(planned: PlannedEnds | PlannedNumber) -> dict[str, Any]:
    """Return the contents of the section [plan] for a prediction."""
    if isinstance(planned, PlannedNumber):
        return _section_of_number(planned)
    return {
        "thin_end": [round(x, 3) for x in planned.thin],
        "dense_end": [round(x, 3) for x in planned.dense],
        "chance": round(planned.chance, 3),
        "alone": round(planned.alone, 3),
        "strip": planned.strip,
        "strips": planned.strips,
        "box": planned.box,
        "off_stops": planned.off_stops,
    }


def _section_of_number(planned: PlannedNumber) -> dict[str, Any]:
    """Return the contents of the section [plan] of a strip that was planned after another."""
    section: dict[str, Any] = {"after": planned.after, "number": planned.number}
    if planned.channel is not None:
        section["channel"] = planned.channel
    section["films"] = planned.films
    for name, interval in (("own", planned.own), ("both", planned.both)):
        if interval is not None:
            section[f"{name}_value"] = [float(f"{x:.4g}") for x in interval.value]
            section[f"{name}_half_width"] = [float(f"{x:.3g}") for x in interval.half_width]
    return section


def _three(section: Section, key: str) -> Expected:
    """Return the least, the expected and the greatest value that a key lists."""
    listed = section.take(key)
    needed = f"the least, the expected and the greatest value, such as {key} = [-0.5, 0.1, 0.7]"
    if not isinstance(listed, list) or len(listed) != 3:
        raise RecordError(f"'{key}' is not three numbers", where=section.where, needed=needed)
    least, middle, most = (check_number(x, section.at(key)) for x in listed)
    return least, middle, most
