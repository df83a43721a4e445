import html
import json
from collections.abc import Iterator
from pathlib import Path

import pytest

from curves import Choices, analyse, load_strip
from curves.errors import RecordError
from curves.files.results.content import as_json
from curves.sensitometry.measures.table import MEASURES
from curves.views.pages.report import report_page
from curves.views.words.glossary import explained, find, listing
from curves.views.words.terms import TERMS
from tests.commands.run import run
from tests.simulate import FOLDER, scenarios
from tests.views import sample


def keys_of(content: object) -> Iterator[str]:
    """Yield every key inside JSON content."""
    if isinstance(content, dict):
        for key, value in content.items():
            yield key
            yield from keys_of(value)
    elif isinstance(content, list):
        for value in content:
            yield from keys_of(value)


@pytest.mark.parametrize("name", scenarios())
def test_every_key_of_the_json_is_explained(name: str) -> None:
    content = json.loads(as_json([analyse(load_strip(FOLDER / f"{name}.toml"), Choices(draws=50))]))
    known = {key for term in TERMS for key in term.keys} | {"speed point"}
    assert set(keys_of(content)) <= known


def test_no_key_is_explained_twice() -> None:
    keys = [key for term in TERMS for key in term.keys]
    assert len(keys) == len(set(keys))


def test_every_measure_is_a_term_with_its_own_words() -> None:
    for measure in MEASURES:
        assert find(measure.key).what == measure.what
        assert find(measure.label).found


@pytest.mark.parametrize("name", ["veil", "range_stops", "ISO 2240", "iso_2240", "WORKING EI", "log h"])
def test_a_term_is_found_by_name_or_key(name: str) -> None:
    assert len(explained(find(name))) > 40


def test_a_word_that_is_not_there_names_the_closest() -> None:
    with pytest.raises(RecordError, match="Try: Gamma"):
        find("gama")
    with pytest.raises(RecordError, match="Try: scan flare"):
        find("flare")


def test_texts_fit_a_terminal_of_eighty_columns() -> None:
    texts = [listing(), *(explained(term) for term in TERMS)]
    assert max(len(line) for text in texts for line in text.splitlines()) < 80


@pytest.mark.parametrize("name", ["curve", "flag", "interval", "bound"])
def test_the_page_quotes_the_glossary_on_how_it_was_found(name: str) -> None:
    page = html.unescape(report_page([sample.colour_reversal()], plotly="beside"))
    term = find(name)
    assert term.what in page
    assert term.found in page
    assert term.remark in page


@pytest.mark.parametrize("name", ["status A", "status M", "visual density", "scan density"])
def test_every_kind_of_density_says_what_it_may_be_used_for(name: str) -> None:
    term = find(name)
    assert term.found
    assert term.remark


@pytest.mark.parametrize(
    "command",
    [
        ("scan", "wren-scan.tif", "--clear", "60000", "--area", "0,90,760,240", "--kind", "reversal",
         "--wedge", "21x0.15", "--lux", "500", "--seconds", "0.02"),
        ("grain", "wren-patch.tif", "--clear", "area:4,4,46,216", "--patch", "56,4,266,216"),
    ],
    ids=["scan", "grain"],
)  # fmt: skip
def test_every_key_that_a_picture_gives_is_explained(tmp_path: Path, command: tuple[str, ...]) -> None:
    name, picture, *options = command
    words = [name, str(FOLDER / picture), *(["strip"] if name == "scan" else []), *options, "--json"]
    done = run(tmp_path, *words)
    assert done.returncode == 0, done.stderr
    assert set(keys_of(json.loads(done.stdout))) <= {key for term in TERMS for key in term.keys}


@pytest.mark.parametrize("name", ["contact", "camera", "frames", "lux"])
def test_the_ways_of_exposing_are_explained(name: str) -> None:
    assert find(name).name == name
    assert find(name).found


def test_the_list_cuts_no_definition_short() -> None:
    told = " ".join(listing().split())
    assert "..." not in told
    for term in TERMS:
        assert " ".join(term.what.split()) in told
