"""The page of a report: whole, self-contained, and honest about what is missing."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable
from dataclasses import replace
from html.parser import HTMLParser

import pytest

from curves.sensitometry.core.choices import Choices
from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import two_digits
from curves.sensitometry.measures.table import measures_of
from curves.sensitometry.uncertainty.results import Analysis, Notice
from curves.views.page.frame import MARKER, PLOTLY_BESIDE, plotly_library
from curves.views.page.tables import Reasons
from curves.views.pages.report import report_page
from curves.views.words import digits
from tests.views import sample

CASES = [sample.colour_reversal, sample.relative_reversal, sample.too_short, sample.negative]


def page_of(*analyses: Analysis) -> str:
    """Return a page without the plotting library in it."""
    return report_page(analyses, plotly="beside")


class Outline(HTMLParser):
    """Collects what a page is made of."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.headings: list[int] = []
        self.ids: list[str] = []
        self.links: list[str] = []
        self.addresses: list[str] = []
        self.open: list[str] = []
        self.text: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        if re.fullmatch("h[1-6]", tag):
            self.headings.append(int(tag[1]))
        if given.get("id"):
            self.ids.append(str(given["id"]))
        if tag == "a" and given.get("href"):
            self.links.append(str(given["href"]))
        self.addresses += [str(given[key]) for key in ("src", "href", "srcset", "action") if given.get(key)]
        if tag not in ("meta", "link", "path", "br", "input"):
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if tag != "path":
            assert self.open.pop() == tag
        if tag not in ("b", "i", "span", "strong", "sup", "a"):
            self.text.append(" ")

    def handle_data(self, data: str) -> None:
        if not self.open or self.open[-1] not in ("style", "script"):
            self.text.append(data)


def words_of(page: str) -> str:
    """Return the words that a page shows, with single spaces."""
    return re.sub(r"\s+", " ", "".join(Outline(page).text))


@pytest.mark.parametrize("case", CASES)
def test_the_same_findings_give_the_same_page(case: Callable[[], Analysis]) -> None:
    assert page_of(case()) == page_of(case())


@pytest.mark.parametrize("case", CASES)
def test_a_page_asks_no_network_for_anything(case: Callable[[], Analysis]) -> None:
    page = page_of(case())
    assert not re.search(r"https?://|//[a-z]+\.|@import|url\(", page)
    assert {a for a in Outline(page).addresses if not a.startswith(("#", "data:"))} == {PLOTLY_BESIDE}


def test_a_page_holds_the_plotting_library_once_unless_told_otherwise() -> None:
    whole = report_page([sample.negative(), sample.relative_reversal()])
    assert whole.count(plotly_library()) == 1
    assert PLOTLY_BESIDE not in whole.replace(plotly_library(), "")
    assert len(page_of(sample.colour_reversal()).encode()) < 170_000
    assert len(page_of(sample.negative()).encode()) < 120_000


@pytest.mark.parametrize("case", CASES)
def test_the_tool_knows_its_own_pages(case: Callable[[], Analysis]) -> None:
    assert MARKER in page_of(case())[:4096]


def test_elements_close_headings_descend_in_steps_and_ids_are_unique() -> None:
    for analyses in ([sample.colour_reversal()], [sample.too_short(), sample.negative(), sample.relative_reversal()]):
        outline = Outline(page_of(*analyses))
        assert outline.open == []
        assert outline.headings[0] == 1
        assert outline.headings.count(1) == 1
        assert all(b - a <= 1 for a, b in zip(outline.headings, outline.headings[1:], strict=False))
        assert len(outline.ids) == len(set(outline.ids))
        assert {link[1:] for link in outline.links} <= set(outline.ids)


def test_every_figure_has_its_place_and_its_words() -> None:
    page = page_of(sample.colour_reversal(), sample.negative())
    stored = re.search(r'<script type="application/json" id="figures">(.*?)</script>', page, re.S)
    assert stored
    drawn = json.loads(stored[1])
    assert [f["id"] for f in drawn] == [
        *(f"strip-1-{name}" for name in ("curve", "gradient", "residual", "layers")),
        *(f"strip-2-{name}" for name in ("curve", "gradient", "residual")),
    ]
    for figure in drawn:
        assert re.search(rf'id="{figure["id"]}" role="group" aria-label="[^"]+"', page)


def test_the_main_curve_stands_in_the_page_without_script_or_library() -> None:
    analysis = sample.colour_reversal()
    still = page_of(analysis).split('<div class="still">')[1].split("</div>")[0]
    assert still.startswith("<svg")
    # A band, a curve and its straight-line part for every channel, and a mark for every step.
    assert still.count("<polygon") == len(analysis.channels)
    assert still.count("h0") == sum(step.flag is None for found in analysis.channels.values() for step in found.steps)
    for word in ("log H [lux-seconds]", "density", "Dmin", "shadow", "grey", "white"):
        assert word in still
    assert not re.search("NaN|nan|inf|None", still)


def test_words_of_a_record_cannot_become_markup() -> None:
    hostile = "</script><script>alert(1)</script> \"quoted\" & 'more' <b>"
    analysis = sample.relative_reversal()
    strip = replace(analysis.strip, title=hostile, film=hostile, process=hostile + "p", notes=hostile, labels=())
    visual = analysis.channels["visual"]
    steps = tuple(replace(step, label=hostile, flag=hostile) for step in visual.steps)
    page = page_of(replace(analysis, strip=strip, channels={"visual": replace(visual, steps=steps)}))
    assert "alert(1)</script>" not in page
    assert "<script>alert" not in page
    assert Outline(page).open == []
    assert hostile in words_of(page)


def test_the_answer_comes_first() -> None:
    analysis = sample.relative_reversal()
    ei = analysis.working_ei
    words = words_of(page_of(analysis))
    low, high = (two_digits(end.value or 0.0) for end in ei.range)
    order = [f"EI {ei.nominal:g}", f"Usable from {low} to {high}.", ei.reason, "The curves",
             "Does the film clear? Yes.", "How sure is this? The index", "The numbers What",
             "How it was found Curve."]  # fmt: skip
    at = [words.index(part) for part in order]
    assert at == sorted(at)


def test_the_page_names_what_it_rests_on_and_leads_to_its_parts() -> None:
    analysis = sample.colour_reversal()
    page = report_page([analysis], plotly="beside", records=["<heron>.toml"])
    words = words_of(page)
    facts = words[words.index("What this rests on record") :]
    # The wedge, the light and the number of readings are those of tests/views/sample.py.
    for fact in ("<heron>.toml", "63 of status A density", "21 steps from 0.05 to 3.05, nominal",
                 "25 lux for 0.8 s", f"from {analysis.draws} draws, seed 0", "stepwedge-curves"):  # fmt: skip
        assert fact in facts
    assert {f"#strip-1-{part}" for part in ("answer", "curves", "clearing", "sure", "numbers", "about")} <= set(
        Outline(page).links
    )


def test_the_ruler_names_the_index_to_set_and_the_ends_of_the_range_as_they_are() -> None:
    analysis = sample.relative_reversal()
    ei = analysis.working_ei
    ruler = page_of(analysis).split('<div class="ruler"')[1].split("</section>")[0]
    named = re.findall(r"<b class=\"[\w ]+\" style=\"left:([\d.]+)%\">([\d.]+)</b>", ruler)
    assert [text for _, text in named] == [*(two_digits(end.value or 0.0) for end in ei.range), f"{ei.nominal:g}"]
    bar = re.search(r'class="usable" style="left:([\d.]+)%;width:([\d.]+)%', ruler)
    assert bar
    # The colour fades over the interval of each end, so that it reaches as far as the intervals do.
    fade = re.search(r'class="fade" style="left:([\d.]+)%;width:([\d.]+)%;--sure:([\d.]+)%;--unsure:([\d.]+)%', ruler)
    assert fade
    left, width, sure, unsure = map(float, fade.groups())
    start, length = map(float, bar.groups())
    ends = [left, left + sure * width / 100, left + unsure * width / 100, left + width]
    per_stop = length / math.log2((ei.range[1].value or 0.0) / (ei.range[0].value or 1.0))
    low, high = ((end.low or 1.0, end.high or 1.0) for end in ei.range)
    known = [start + per_stop * math.log2(x / (ei.range[0].value or 1.0)) for x in (*low, *high)]
    assert ends == pytest.approx(known, abs=0.2)
    assert float(named[0][0]) == pytest.approx(float(bar[1]), abs=0.011)
    assert float(named[1][0]) == pytest.approx(float(bar[1]) + float(bar[2]), abs=0.011)


def test_advice_and_every_warning_are_shown() -> None:
    analysis = sample.colour_reversal()
    words = words_of(page_of(analysis))
    assert analysis.warnings
    for sentence in (*analysis.working_ei.advice, *(notice.message for notice in analysis.warnings)):
        assert sentence in words


@pytest.mark.parametrize("case", CASES)
def test_every_measure_is_shown_and_explained(case: Callable[[], Analysis]) -> None:
    page = page_of(case())
    for measure in measures_of(case().strip.kind):
        assert f'<th scope="row">{measure.label}' in page
        assert measure.what in words_of(page)


def test_a_missing_number_shows_its_bound_and_leads_to_the_reason() -> None:
    analysis = sample.too_short()
    dmin = analysis.channels["red"].measures["dmin"]
    assert dmin.bound is not None
    page = page_of(analysis)
    shown = re.search(rf'{digits.value(dmin, 2)}</b><sup><a href="#([\w-]+)">', page)
    assert shown
    reason = re.search(rf'<li id="{shown[1]}"><b>\w+</b> (.*?)</li>', page)
    assert reason
    assert reason[1] == f"{dmin.why}."
    index = analysis.working_ei.recommended
    assert index.value is None
    assert f"EI {digits.value(index)}" in words_of(page)


def test_every_reason_is_given_once() -> None:
    reasons = Reasons("why")
    marks = [reasons.mark(why) for why in ("one", "two", "one")]
    assert marks[0] == marks[2] != marks[1]
    assert reasons.listed().count("<li") == 2
    assert [re.sub("<.*?>", "", reasons.mark(str(n))) for n in range(24, 28)] == ["c", "d", "e", "f"]


def test_a_range_open_at_one_end_says_so() -> None:
    analysis = sample.relative_reversal()
    ei = analysis.working_ei
    unknown = Quantity.missing("off the strip")
    for ends, words in (((unknown, Quantity(40.0)), "up to 40;"), ((Quantity(12.0), unknown), "Usable from 12 up;")):
        assert words in words_of(page_of(replace(analysis, working_ei=replace(ei, range=ends))))


def test_a_scene_longer_than_the_film_is_said_so_in_the_first_words() -> None:
    assert "No index keeps both ends of the scene: the scene is 1.1 stops longer" in words_of(
        page_of(sample.colour_reversal())
    )


def test_why_a_speed_is_not_the_standards_is_said() -> None:
    analysis = sample.colour_reversal()
    words = words_of(page_of(analysis))
    assert analysis.speeds["iso_2240"].why_not
    for reason in analysis.speeds["iso_2240"].why_not:
        assert reason in words


def test_choices_are_stated_as_they_were_made() -> None:
    page = report_page([sample.colour_reversal()], choices=Choices(white=0.61, shadow=-0.75), plotly="beside")
    words = words_of(page)
    assert "white 0.61 log H above mid-grey" in words
    assert "shadow 0.75 below it (2.5 stops)" in words


def test_the_kind_of_density_brings_its_caution() -> None:
    analysis = sample.relative_reversal()
    scanned = replace(analysis, strip=replace(analysis.strip, density="scan"))
    assert "Density by a scanner's own" in words_of(page_of(scanned))
    assert "Density by a scanner's own" not in words_of(page_of(analysis))


def test_the_foot_of_a_page_names_the_tool() -> None:
    assert "Made by stepwedge-curves." in page_of(sample.negative())


def test_a_strip_seen_alone_and_among_others_says_the_same() -> None:
    alone, among = page_of(sample.negative()), page_of(sample.relative_reversal(), sample.negative())
    cut = words_of(alone).index("What to set the meter to")
    answer = words_of(alone)[cut : cut + 400]
    assert answer in words_of(among)


def test_a_doubt_about_every_number_stands_in_the_answer_above_the_range() -> None:
    doubt = Notice("rows-exchanged", "The readings of steps 14 and 15 look <exchanged>.")
    page = report_page([replace(sample.colour_reversal(), warnings=(doubt,))])
    told = "The readings of steps 14 and 15 look &lt;exchanged&gt;."
    assert 0 < page.index(told) < page.index('class="range"')
