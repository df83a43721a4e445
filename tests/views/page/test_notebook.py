"""How results look in a notebook."""

from __future__ import annotations

from xml.etree import ElementTree

import numpy as np
import plotly.graph_objects as go
import pytest

import curves
from curves.sensitometry.core.choices import Choices
from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.uncertainty.results import Analysis
from curves.views.page import notebook
from curves.views.page.figures import figures
from tests.views import sample
from tests.views.page.test_figures import traces

SVG = "{http://www.w3.org/2000/svg}"


def html_of(result: object) -> ElementTree.Element:
    """Return what a notebook shows of a result, which is well-formed."""
    assert curves.Quantity is Quantity
    shown = getattr(result, "_repr_html_", None)
    assert shown is not None
    return ElementTree.fromstring(shown())


def words(element: ElementTree.Element) -> str:
    return "".join(element.itertext())


def test_a_quantity_is_written_with_its_interval_or_its_reason() -> None:
    assert str(curves.Quantity(9.78, 7.0, 14.7)) == "10 (7 to 15)"
    assert words(html_of(curves.Quantity(9.78, 7.0, 14.7))) == "10 (7 to 15)"
    assert words(html_of(curves.Quantity(-0.333, -0.395, -0.271))) == "−0.33 (−0.40 to −0.27)"
    assert words(html_of(curves.Quantity(0.31))) == "0.310"
    missing = curves.Quantity.missing("the curve is <still> falling at the base-plus-fog line", below=0.85)
    assert str(missing) == "below 0.850: the curve is <still> falling at the base-plus-fog line"
    assert words(html_of(missing)) == "below 0.850: the curve is <still> falling at the base-plus-fog line"


def test_a_quantity_is_short_in_its_repr() -> None:
    assert repr(Quantity(9.7771, 7.0021, 14.7112, u=2.0, note="a note")) == "Quantity(9.777, 7.002 to 14.71)"
    assert repr(Quantity(0.31)) == "Quantity(0.31)"
    assert repr(Quantity.missing("off the strip", above=2.0)) == "Quantity(> 2: off the strip)"
    assert repr(Quantity.missing("off the strip")) == "Quantity(not known: off the strip)"


def test_an_analysis_shows_the_answer_and_a_small_curve_without_a_network() -> None:
    analysis = sample.colour_reversal()
    shown = html_of(analysis)
    text = words(shown)
    assert text.startswith("Heron 80, reversal, first developer 7:00: set EI ")
    assert f"Before rounding: {analysis.working_ei.recommended}." in text
    assert analysis.working_ei.reason in text
    assert str(analysis) == text[: len(str(analysis))]
    markup = notebook.analysis_html(analysis)
    assert len(markup) < 20_000
    assert "<script" not in markup
    assert "href" not in markup
    assert markup.count("http") == 1  # the name of the SVG language


def test_an_analysis_without_an_index_says_what_to_do_next() -> None:
    analysis = sample.too_short()
    text = words(html_of(analysis))
    assert "Before rounding" not in text
    assert analysis.working_ei.advice
    assert all(sentence in text for sentence in analysis.working_ei.advice)


def test_the_small_picture_holds_every_channel_and_rings_the_steps_set_aside() -> None:
    picture = html_of(sample.colour_reversal()).find(f".//{SVG}svg")
    assert picture is not None
    assert [span.text for span in picture.iter(f"{SVG}tspan")] == ["red", "green", "blue", "visual"]
    assert len(list(picture.iter(f"{SVG}circle"))) == 1
    width, height = float(picture.attrib["width"]), float(picture.attrib["height"])
    for line in picture.iter(f"{SVG}path"):
        pairs = line.attrib["d"].replace("M", "L").replace("h0", "").replace("Z", "").split("L")[1:]
        for x, y in (pair.split() for pair in pairs if "V" not in pair and "H" not in pair):
            assert 0.0 <= float(x) <= width
            assert 0.0 <= float(y) <= height


def test_a_curve_shows_itself_and_why_its_steps_do_not_follow_it() -> None:
    x = np.linspace(-3.0, 0.0, 21)
    good = curves.fit_curve(x, 2.0 - 0.5 * x, kind="reversal", draws=50)
    assert repr(good) == "Curve(reversal, 21 steps, log H -3.00 to 0.00, density 3.50 to 2.00, sigma 0.002)"
    assert "do not follow" not in words(html_of(good))
    bad = curves.fit_curve(x, 2.0 + 0.05 * x, kind="reversal", draws=0)
    assert "The steps do not follow the curve: density rises with exposure" in words(html_of(bad))


def test_results_are_short_in_their_repr() -> None:
    analysis = sample.colour_reversal()
    assert repr(analysis).startswith("Analysis('Heron 80, reversal, first developer 7:00', red green blue visual, W")
    assert len(repr(analysis)) < 120
    assert repr(analysis.channels["visual"]) == "ChannelFinding(visual, estimated, 21 steps)"
    assert repr(sample.too_short().working_ei).startswith("WorkingEI(none, by the ")


@pytest.mark.parametrize("case", [sample.colour_reversal, sample.relative_reversal, sample.too_short, sample.negative])
def test_the_figure_is_the_pages_main_figure(case: object) -> None:
    assert callable(case)
    analysis: Analysis = case()
    figure = curves.figure(analysis)
    assert isinstance(figure, go.Figure)
    drawn = figures(analysis, Choices())["curve"]
    assert [t.to_plotly_json().get("y") for t in figure.data] == [t.get("y") for t in drawn["data"]]
    named = [t.name for t in figure.data if t.showlegend]
    assert named == list(analysis.channels)
    assert figure.layout.title.text == analysis.strip.title
    assert traces(drawn, "visual" if "visual" in analysis.channels else "red")


def test_the_figure_draws_the_scene_where_the_analysis_has_it() -> None:
    strip = sample.relative_reversal().strip
    choices = Choices(draws=0, most_draws=0, white=0.5)
    analysis = curves.analyse(strip, choices)
    assert analysis.choices == choices
    at = {note.text: note.x for note in curves.figure(analysis).layout.annotations}
    assert at["white"] - at["grey"] == pytest.approx(0.5, abs=1e-4)
    other = {note.text: note.x for note in curves.figure(analysis, Choices(white=0.6)).layout.annotations}
    assert other["white"] - other["grey"] == pytest.approx(0.6, abs=1e-4)
