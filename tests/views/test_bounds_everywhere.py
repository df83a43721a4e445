"""A number that the strip does not show is a bound with its reason and advice in every view, never a number."""

import html
import json
import re
from collections.abc import Iterator

import pytest

from curves import Choices, analyse, load_strip
from curves.files.results.content import as_json
from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.uncertainty.results import Analysis
from curves.views.pages.report import report_page
from curves.views.text.strip import ei_text, measures_text
from curves.views.words import digits
from tests.simulate import FOLDER
from tests.views import sample


@pytest.fixture(scope="module", params=["heron-short", "heron-frames", "too short"])
def short(request: pytest.FixtureRequest) -> Analysis:
    if request.param == "too short":
        return sample.too_short()
    return analyse(load_strip(FOLDER / f"{request.param}.toml"), Choices(draws=200))


def missing(found: Analysis) -> Iterator[Quantity]:
    """Yield what has no value: measures, points, speeds and what the tones ask for."""
    for channel in found.channels.values():
        yield from (q for q in channel.measures.values() if q.value is None)
        yield from (p.log_h for p in channel.points.values() if p.log_h.value is None)
    yield from (s.value for s in found.speeds.values() if s.value.value is None)
    yield from (c.ei for c in found.working_ei.criteria.values() if c.ei.value is None)


def flat(text: str) -> str:
    return " ".join(text.split())


def test_each_has_a_reason_and_most_say_what_to_do(short: Analysis) -> None:
    lost = list(missing(short))
    assert lost
    assert all(q.why for q in lost)
    advised = [q for q in lost if re.search(r"\b(give|read|test)\b", q.why or "")]
    assert len(advised) >= 0.6 * len(lost)


def test_the_terminal_shows_bound_and_reason(short: Analysis) -> None:
    told = flat(measures_text(short)) + flat(ei_text(short, Choices()))
    for channel in short.channels.values():
        for q in [*channel.measures.values(), *(p.log_h for p in channel.points.values())]:
            if q.value is None:
                assert flat(q.why or "") in told
                assert digits.value(q, 2) in told or digits.value(q, 1) in told


def test_the_page_shows_bound_and_reason(short: Analysis) -> None:
    page = flat(html.unescape(re.sub(r"<[^>]+>", " ", report_page([short], plotly="beside"))))
    for q in missing(short):
        assert flat(q.why or "") in page


def test_the_json_holds_null_bound_and_reason(short: Analysis) -> None:
    def check(content: object) -> int:
        if isinstance(content, dict):
            lost = content.get("value", 0) is None
            if lost:
                assert content["why"]
                assert content["bound"] is None or content["bound"][0] in "<>"
                assert "low" not in content
            return lost + sum(check(v) for v in content.values())
        return sum(check(v) for v in content) if isinstance(content, list) else 0

    assert check(json.loads(as_json([short]))) >= len(list(missing(short)))


def test_a_bound_has_no_nominal_speed(short: Analysis) -> None:
    for speed in short.speeds.values():
        if speed.value.value is None:
            assert speed.nominal is None
            assert speed.degrees is None
            assert not speed.conforms
