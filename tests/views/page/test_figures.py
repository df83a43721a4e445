"""The figures of a page: what they hold, and that the plotting library takes them."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import plotly.graph_objects as go
import pytest

from curves.sensitometry.core.choices import Choices
from curves.sensitometry.core.units import STOP, exact_ei
from curves.sensitometry.strip.metering import metered_exposure
from curves.sensitometry.uncertainty.results import Analysis
from curves.views.page.axes import STYLES, scene
from curves.views.page.figures import Figure, figures
from tests.views import sample

CASES = [sample.colour_reversal, sample.relative_reversal, sample.too_short, sample.negative]


def traces(figure: Figure, name: str) -> list[dict[str, Any]]:
    """Return the traces of a figure that bear a name."""
    return [trace for trace in figure["data"] if trace.get("name") == name]


@pytest.mark.parametrize("case", CASES)
def test_the_plotting_library_takes_every_figure(case: Callable[[], Analysis]) -> None:
    for figure in figures(case(), Choices()).values():
        go.Figure(figure)  # raises ValueError for a property that it does not know
        json.dumps(figure, allow_nan=False)


def test_channels_differ_in_dash_and_marker_and_not_in_colour_alone() -> None:
    assert len({style.dash for style in STYLES.values()}) == len(STYLES)
    assert len({style.marker for style in STYLES.values()}) == len(STYLES)


def test_every_trace_of_a_channel_says_whose_it_is() -> None:
    analysis = sample.colour_reversal()
    for figure in figures(analysis, Choices()).values():
        owners = {trace["meta"] for trace in figure["data"] if trace.get("xaxis") != "x2"}
        assert owners <= set(analysis.channels)


def test_a_step_set_aside_is_drawn_apart_from_the_others_and_says_why() -> None:
    analysis = sample.colour_reversal()
    figure = figures(analysis, Choices())["curve"]
    (kept,), (aside,) = traces(figure, "green, steps"), traces(figure, "green, set aside")
    flagged = [step for step in analysis.channels["green"].steps if step.flag]
    assert aside["y"] == [round(step.density, 4) for step in flagged]
    assert len(kept["x"]) + len(aside["x"]) == len(analysis.channels["green"].steps)
    assert "set aside" in aside["customdata"][0][1]
    assert aside["marker"]["symbol"] != kept["marker"]["symbol"]


def test_a_residual_off_the_scale_sits_at_its_edge() -> None:
    figure = figures(sample.colour_reversal(), Choices())["residual"]
    (aside,) = traces(figure, "green, set aside")
    edge = figure["layout"]["yaxis"]["range"][1]
    assert 0.8 * edge < aside["y"][0] < edge < 0.15


def test_words_of_the_record_are_not_markup_in_a_figure() -> None:
    analysis = sample.relative_reversal()
    visual = analysis.channels["visual"]
    steps = tuple(replace(step, label="step <a href='x'>&") for step in visual.steps)
    hostile = replace(analysis, channels={"visual": replace(visual, steps=steps)})
    text = json.dumps(figures(hostile, Choices()))
    assert "<a" not in text
    assert "&lt;a href='x'&gt;&amp;" in text


def test_the_stop_scale_of_a_relative_strip_counts_from_zero_log_h() -> None:
    layout = figures(sample.relative_reversal(), Choices())["curve"]["layout"]
    axis = layout["xaxis2"]
    assert axis["tickvals"][axis["ticktext"].index("0")] == 0.0
    assert "EI 25" in axis["title"]["text"]


def test_the_stop_scale_of_an_absolute_strip_counts_from_mid_grey_at_the_index_to_set() -> None:
    analysis = sample.colour_reversal()
    axis = figures(analysis, Choices())["curve"]["layout"]["xaxis2"]
    nominal = analysis.working_ei.nominal
    assert nominal is not None
    # H = k / EI, with k of a meter whose constant is not stated.
    grey = math.log10(metered_exposure() / float(exact_ei(nominal)))
    assert axis["tickvals"][axis["ticktext"].index("0")] == pytest.approx(grey, abs=1e-4)
    # A line of the grid for every whole stop, named or not.
    assert np.diff(axis["tickvals"]) == pytest.approx(STOP, abs=2e-4)


def test_without_an_index_there_is_no_stop_scale_and_no_scene() -> None:
    analysis = sample.too_short()
    assert scene(analysis, Choices()).tones == {}
    assert "xaxis2" not in figures(analysis, Choices())["curve"]["layout"]


def test_the_scene_lies_where_the_index_to_set_puts_it() -> None:
    analysis = sample.relative_reversal()
    nominal = analysis.working_ei.nominal
    assert nominal is not None
    tones = scene(analysis, Choices(white=0.6, shadow=-0.8)).tones
    assert tones["grey"] == pytest.approx(math.log10(float(exact_ei(25.0)) / float(exact_ei(nominal))))
    assert (tones["white"] - tones["grey"], tones["shadow"] - tones["grey"]) == pytest.approx((0.6, -0.8))


def test_the_layers_lie_about_their_mean() -> None:
    figure = figures(sample.colour_reversal(), Choices())["layers"]
    y = [traces(figure, layer)[0]["y"] for layer in ("red", "green", "blue")]
    # Three numbers rounded to 0.001.
    assert np.sum(y, axis=0) == pytest.approx(0.0, abs=1.6e-3)
    # Red clears first in this sample and blue last, so blue stays densest.
    assert max(y[2]) > max(y[1]) > max(y[0])


def test_black_and_white_has_no_figure_of_layers() -> None:
    assert "layers" not in figures(sample.negative(), Choices())


def test_a_gradient_is_positive_for_both_kinds() -> None:
    for case in (sample.relative_reversal, sample.negative):
        (line,) = traces(figures(case(), Choices())["gradient"], "visual")
        assert min(line["y"]) >= 0.0
        assert max(line["y"]) > 0.5
