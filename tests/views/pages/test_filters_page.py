import json
import re
from functools import cache

import numpy as np
import pytest

from curves import Choices, analyse, load_strip
from curves.files.filters.drawer import read_drawer
from curves.sensitometry.core.units import LAYERS
from curves.sensitometry.filters.behind import BareStrip, Match
from curves.sensitometry.filters.prediction import ideal_pack
from curves.sensitometry.filters.stacks import find_stacks
from curves.views.pages.filters import filters_page
from curves.views.pages.stack_figures import stack_figures
from curves.views.text.filters import stacks_text
from tests.simulate import FOLDER

CHOICES = Choices(draws=100, most_draws=0)


@cache
def page(match: Match = "net", name: str = "heron-reversal") -> tuple[str, str]:
    """Return the page without its plotting library, and the text, of a demo strip and the demo drawer."""
    analysis = analyse(load_strip(FOLDER / f"{name}.toml"), CHOICES)
    bare = BareStrip.of(analysis, CHOICES, match)
    pack, found = ideal_pack(bare), find_stacks(bare, read_drawer(FOLDER / "drawer.csv"), most=2)
    return filters_page(analysis, bare, pack, found, plotly="beside"), stacks_text(analysis, bare, pack, found)


def test_bare_and_moved_curves_stand_side_by_side_and_every_stack_can_be_chosen() -> None:
    html = page()[0]
    figure, casts = json.loads(html.split('id="figures">')[1].split("</script>")[0])
    names = [trace["name"] for trace in figure["data"]]
    assert names == [
        f"{c}, {what}" for what in ("without filters", "behind the stack") for c in ("red", "green", "blue", "visual")
    ]
    assert figure["moved"] == [4, 5, 6, 7]
    listed = html.split('id="stack"')[1].split("</select>")[0]
    assert len(figure["stacks"]) == listed.count("<option") == html.count('name="stack-row"') == len(casts["stacks"])
    for stack in figure["stacks"]:
        assert len(stack["x0"]) == len(stack["dx"]) == len(stack["y"]) == 4
        assert [a["text"] for a in stack["annotations"]] == ["white", "grey", "shadow"]
    # No filter at all moves nothing: the last stack's curves are the bare ones.
    assert figure["stacks"][-1]["x0"][0] == figure["data"][0]["x0"]
    assert figure["stacks"][-1]["y"][0] == figure["data"][0]["y"]
    assert casts["stacks"][-1]["y"] == [trace["y"] for trace in casts["data"][:3]]


def test_a_faster_stack_that_is_as_good_is_named_as_in_the_terminal() -> None:
    html, text = page()
    assert "As good, as far as can be told, and faster: cyan CC20" in text
    assert html.count("As good, as far as can be told, and faster: cyan CC20") == 1


def test_the_casts_of_the_figure_are_those_of_the_numbers() -> None:
    analysis = analyse(load_strip(FOLDER / "heron-reversal.toml"), CHOICES)
    bare = BareStrip.of(analysis, CHOICES, "net")
    found = find_stacks(bare, read_drawer(FOLDER / "drawer.csv"), most=2)
    figure = stack_figures(analysis, bare, found)["cast"]
    for one, stack in zip(found.listed, figure["stacks"], strict=True):
        grey = float(one.prediction.grey[0])
        for place, layer in enumerate(LAYERS):
            y = stack["y"][place]
            x = stack["x0"][place] + stack["dx"][place] * np.arange(len(y))
            assert np.interp(grey, x, y) == pytest.approx(one.prediction.casts["grey"].layers[layer].value, abs=0.003)


def test_a_cast_has_a_swatch_of_its_hue_within_the_grey_without_it() -> None:
    html = page()[0]
    swatches = re.findall(r'class="hue" style="background:#(\w{6});border-color:#(\w{6})"', html)
    assert len(swatches) > 10
    for _, neutral in swatches:
        assert neutral[:2] == neutral[2:4] == neutral[4:]
    # Without filters white is too orange: least blue light.
    row = re.search(r'<th scope="row">white</th><td>(.*?)</td>', html)
    assert row is not None
    assert "orange" in row[1] or "red" in row[1] or "yellow" in row[1]
    shown = re.search(r"background:#(\w\w)(\w\w)(\w\w)", row[1])
    assert shown is not None
    assert int(shown[3], 16) == min(int(level, 16) for level in shown.groups())


def test_the_page_is_a_page_and_says_the_same_as_the_terminal() -> None:
    html, text = page()
    assert html.startswith("<!DOCTYPE html>")
    assert html.count("<h1>") == 1
    said = re.search(r"Meter through the filters: set \S+ Hand-held meter: set \S+", text)
    assert said is not None
    assert said[0] in html
    assert re.search(r"NaN|Infinity|\$\{?[a-z]+", html.split("<body>")[1].split("<script>")[0]) is None


def test_the_figure_counts_densities_as_the_layers_are_compared() -> None:
    def least(match: Match) -> list[float]:
        html = page(match)[0]
        figure = next(f for f in json.loads(html.split('id="figures">')[1].split("</script>")[0]) if "stacks" in f)
        return [min(trace["y"]) for trace in figure["data"][:4]]

    # Above its own Dmin a curve of a film that has flattened ends near 0; as they are, the layers end at their Dmin.
    assert least("net") == pytest.approx([0.0] * 4, abs=0.03)
    assert min(least("absolute")) > 0.25
    assert "above each curve&#x27;s own Dmin" in page("net")[0] or "above each curve's own Dmin" in page("net")[0]


def test_densities_as_they_are_may_be_compared() -> None:
    assert "Layers are compared as they are." in page("absolute")[0]
    assert "densities as they are" in page("absolute")[1]


def test_a_negative_has_a_page_too_and_is_told_to_print_the_other_way() -> None:
    html, text = page(name="heron-negative")
    assert "The hues are those of the negative" in " ".join(text.split())
    figure = next(f for f in json.loads(html.split('id="figures">')[1].split("</script>")[0]) if "stacks" in f)
    assert len(figure["data"]) == 6


def test_lines_fit_a_terminal_of_eighty_columns() -> None:
    for match, name in (("net", "heron-reversal"), ("absolute", "heron-reversal"), ("net", "heron-negative")):
        lines = page("absolute" if match == "absolute" else "net", name)[1].splitlines()
        assert max(map(len, lines)) < 80


@pytest.mark.parametrize("match", ["net", "absolute"])
def test_the_same_findings_give_the_same_page(match: Match) -> None:
    first = page(match)
    page.cache_clear()
    assert page(match) == first


def test_a_figure_holds_only_numbers_that_json_knows() -> None:
    analysis = analyse(load_strip(FOLDER / "heron-reversal.toml"), CHOICES)
    bare = BareStrip.of(analysis, CHOICES, "net")
    found = find_stacks(bare, read_drawer(FOLDER / "drawer.csv"), most=1)
    assert json.dumps(stack_figures(analysis, bare, found), allow_nan=False)


def test_a_strip_that_was_exposed_through_filters_says_that_stacks_come_on_top() -> None:
    _, text = page(name="heron-filtered")
    words = " ".join(text.split())
    assert "exposed through pale blue 40 mired + cyan CC05: these stacks come on top of pale blue" in words
