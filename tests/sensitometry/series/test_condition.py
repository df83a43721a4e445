"""What a condition's key says: its name, its unit, and the usual effect of more of it, by common practice."""

import pytest

from curves.sensitometry.core.units import Kind
from curves.sensitometry.series.condition import Condition, conditions_of


@pytest.mark.parametrize(
    ("key", "name", "unit", "by_ratio"),
    [
        ("first_developer_minutes", "first developer", "min", True),
        ("first_developer_celsius", "first developer", "°C", False),
        ("developer_dilution", "developer dilution", "", True),
        ("storage_celsius", "storage", "°C", False),
        ("minutes", "minutes", "min", True),
        ("age_months", "age", "months", False),
        ("glow", "glow", "", False),
    ],
)
def test_a_key_ends_with_its_unit(key: str, name: str, unit: str, by_ratio: bool) -> None:
    found = Condition(key, "reversal")
    assert (found.name, found.unit, found.by_ratio) == (name, unit, by_ratio)


@pytest.mark.parametrize(
    ("key", "kind", "number", "way"),
    [
        ("first_developer_minutes", "reversal", "ei", 1),
        ("first_developer_minutes", "reversal", "T", -1),
        ("first_developer_minutes", "reversal", "dmin", -1),
        ("first_developer_minutes", "reversal", "gamma", 0),
        ("first_developer_minutes", "reversal", "dmax", 0),
        ("first_developer_celsius", "reversal", "iso_2240", 1),
        ("first_developer_dilution", "reversal", "iso_2240", -1),
        ("developer_rolls", "reversal", "ei", -1),
        ("agitation_per_minute", "reversal", "ei", 1),
        ("second_developer_minutes", "reversal", "dmax", 1),
        ("second_developer_minutes", "reversal", "ei", 0),
        ("colour_developer_minutes", "negative", "gamma", 1),
        ("developer_minutes", "negative", "speed", -1),
        ("developer_age_days", "negative", "gamma", -1),
        ("age_months", "negative", "ei", -1),
        ("film_age_months", "reversal", "dmax", -1),
        ("storage_celsius", "negative", "dmin", 1),
        ("bleach_minutes", "reversal", "ei", 0),
    ],
)
def test_the_usual_direction_of_a_number_is_common_practice(key: str, kind: Kind, number: str, way: int) -> None:
    assert Condition(key, kind).way(number) == way


def test_the_first_development_leaves_dmax_and_the_second_leaves_speed() -> None:
    first = Condition("first_developer_minutes", "reversal").effect
    assert first.stays == {"dmax"}
    assert "fog" in first.if_moved
    second = Condition("second_developer_minutes", "reversal").effect
    assert {"ei", "T", "dmin"} <= second.stays
    thinner = Condition("first_developer_dilution", "reversal").effect
    assert thinner.stays == {"dmax"}
    assert thinner.says.startswith("A thinner developer develops less. More first development")


def test_a_key_that_the_trade_does_not_know_has_no_direction_and_says_so() -> None:
    found = Condition("glow", "reversal").effect
    assert not found.rises | found.falls | found.stays
    assert "no usual direction" in found.says


def test_a_setting_is_shown_with_its_unit() -> None:
    assert Condition("first_developer_minutes", "reversal").shown(8.5) == "8.5 min"
    assert Condition("first_developer_minutes", "reversal").shown(8.456, 1) == "8.5 min"
    assert Condition("developer_dilution", "reversal").shown(20.0) == "20"


def test_the_conditions_of_records_are_listed_with_their_settings() -> None:
    assert conditions_of([{"a": 2.0, "b": 1.0}, {"a": 1.0}, {"a": 2.0}]) == {"a": [1.0, 2.0], "b": [1.0]}
