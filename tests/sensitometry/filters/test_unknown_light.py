"""Filters for a strip under a light that nobody measured: pack, cost and casts are those of a known light."""

from dataclasses import replace

import pytest

from curves import Choices, analyse, load_strip
from curves.files.filters.drawer import read_drawer
from curves.sensitometry.filters.behind import BareStrip
from curves.sensitometry.filters.prediction import ideal_pack
from curves.sensitometry.filters.stacks import find_stacks
from curves.sensitometry.strip.exposure import NO_ORIGIN, Contact
from curves.views.pages.filters import filters_page
from curves.views.text.filters import stacks_text
from tests.simulate import FOLDER

CHOICES = Choices(draws=100, most_draws=100)


@pytest.mark.parametrize("name", ["heron-reversal", "heron-negative"])
def test_pack_cost_and_casts_are_those_of_a_known_light_and_no_index_is_named(name: str) -> None:
    known = load_strip(FOLDER / f"{name}.toml")
    if not isinstance(known.exposure, Contact):
        known = replace(known, exposure=Contact(25.0, 1.6))
    unknown = replace(known, exposure=Contact(light=known.exposure.light))
    drawer = read_drawer(FOLDER / "drawer.csv")
    packs, stacks = [], []
    for strip in (known, unknown):
        analysis = analyse(strip, CHOICES)
        bare = BareStrip.of(analysis, CHOICES)
        packs.append(ideal_pack(bare))
        stacks.append(find_stacks(bare, drawer, most=2, max_stops=5.0))
        text = " ".join(stacks_text(analysis, bare, packs[-1], stacks[-1]).split())
        page = filters_page(analysis, bare, packs[-1], stacks[-1], plotly="beside", spell=str)
        assert (f"No index can be named: {NO_ORIGIN}" in text) == (strip is unknown)
        assert ("No index can be named" in page) == (strip is unknown)
        assert "too short" not in text + page
    one, other = packs
    for colour, value in one.cc.items():
        assert other.cc[colour].value == pytest.approx(value.value, abs=0.5)
    best, same = (found.best for found in stacks)
    assert best.names == same.names
    # The meter's constant moves the grey of one by a twelfth of a stop at most: cost and casts hardly notice.
    assert same.prediction.cost.value == pytest.approx(best.prediction.cost.value, abs=0.02)
    assert best.prediction.ei.value is not None
    assert (same.prediction.ei.value, same.prediction.ei.why) == (None, NO_ORIGIN)
    assert (same.nominal, same.nominal_through) == (None, None)
