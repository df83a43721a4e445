"""A strip whose log H counts from an exposure that nobody stated: what holds, and what there is not."""

import json

import numpy as np
import pytest

from curves.errors import StripError
from curves.files.results.content import as_json
from curves.sensitometry.analysis.analyse import analyse, measure_budgets
from curves.sensitometry.core.choices import Choices
from curves.sensitometry.core.units import LAYERS, Channel, FloatArray, Kind
from curves.sensitometry.filters.from_strips import log_h_offset
from curves.sensitometry.strip.exposure import NO_ORIGIN, GivenExposure
from curves.sensitometry.strip.strip import Strip
from curves.views.pages.report import report_page
from curves.views.text.answer import answer_line
from curves.views.text.strip import ei_text, measures_text

STEPS = np.arange(-2.4, 0.61, 0.15)
KINDS: list[Kind] = ["reversal", "negative"]
DRAWN = Choices(draws=200, most_draws=200)


def strip(kind: Kind, exposure: GivenExposure, moved: float = 0.0) -> Strip:
    """Return a strip of three layers of logistic curves, its log H counted from ``moved`` [log10]."""
    sign = -1.0 if kind == "reversal" else 1.0
    layers: dict[Channel, FloatArray] = {}
    for channel, place in zip(LAYERS, (-0.85, -0.9, -0.95), strict=True):
        layers[channel] = 0.15 + 2.6 / (1.0 + np.exp(-sign * (STEPS - place) / 0.22))
    return Strip("invented", kind, "status A", exposure, STEPS + moved, layers, process="invented", sample="one strip")


@pytest.mark.parametrize("kind", KINDS)
def test_relative_log_h_has_no_index_and_no_speed_and_says_what_to_state(kind: Kind) -> None:
    found = analyse(strip(kind, GivenExposure()), DRAWN)
    ei = found.working_ei
    missing = [
        ei.recommended,
        *ei.range,
        *(c.ei for c in ei.criteria.values()),
        *(s.value for s in found.speeds.values()),
    ]
    assert found.speeds
    assert {(q.value, q.bound, q.why) for q in missing} == {(None, None, NO_ORIGIN)}
    assert (ei.nominal, ei.placements, ei.budget) == (None, {}, None)
    assert all(s.nominal is None and not s.conforms and s.why_not[0] == NO_ORIGIN for s in found.speeds.values())
    assert '[exposure] log_h): "lux-seconds"' in ei.advice[0]
    assert not {"exposure", "meter", "constant", "light colour"} & {source.key for source in found.sources}


@pytest.mark.parametrize("kind", KINDS)
def test_relative_log_h_keeps_every_other_number_wherever_it_counts_from(kind: Kind) -> None:
    known = analyse(strip(kind, GivenExposure("lux-seconds", uncertainty_stops=0.0)), DRAWN)
    for moved in (0.0, 3.7):
        found = analyse(strip(kind, GivenExposure(), moved), DRAWN)
        for channel, one in found.channels.items():
            for key, q in one.measures.items():
                same = known.channels[channel].measures[key]
                assert q.value == (None if same.value is None else pytest.approx(same.value)), key
                assert (q.low is None) == (same.low is None), key
            for name, point in one.points.items():
                there = known.channels[channel].points[name].log_h.value
                assert point.log_h.value == (None if there is None else pytest.approx(there + moved))


@pytest.mark.parametrize("kind", KINDS)
def test_views_of_relative_log_h_name_it_and_no_index(kind: Kind) -> None:
    found = analyse(strip(kind, GivenExposure()), DRAWN)
    words = " ".join(ei_text(found, DRAWN).split())
    assert "log H relative" in words
    assert "No index can be named yet." in words
    assert "lux-seconds (" not in words
    assert answer_line(found).startswith("invented: working EI is not known, range n")
    assert "Points: log H [relative]" in measures_text(found)
    page = report_page([found], choices=DRAWN, plotly="beside")
    assert "log H, relative" in page
    assert "exposures given as relative log H" in page
    assert "lux-seconds, from the given light" not in page
    content = json.loads(as_json([found]))["strips"][0]
    assert content["log_h_unit"] == "relative"
    assert content["working_ei"]["recommended"] == {"value": None, "bound": None, "why": NO_ORIGIN}


def test_no_budget_of_an_index_and_no_offset_between_strips_are_found_from_relative_log_h() -> None:
    relative = strip("reversal", GivenExposure())
    assert measure_budgets(relative, "ei", DRAWN) == {}
    assert measure_budgets(relative, "iso_2240", DRAWN) == {}
    found = analyse(relative, DRAWN)
    with pytest.raises(StripError, match="log H is relative"):
        log_h_offset(found, found, 0.0, meter_known=None)
