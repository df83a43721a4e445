"""Grain as JSON."""

from __future__ import annotations

import json
import re

from curves.files.results.content import grain_content, json_text
from curves.sensitometry.grain.comparison import compare_films
from tests.grain_demo import film
from tests.views.words.test_glossary import keys_of


def test_the_json_holds_films_patches_verdicts_and_warnings_under_plain_keys() -> None:
    films = [film("Heron", 10.0, seed=1, side=110, samples=3), film("Stork", 15.0, seed=2, side=110, frames=False)]
    content = json.loads(json_text(grain_content(compare_films(films))))
    assert list(content) == ["format", "aperture_um", "density", "films", "verdicts", "warnings"]
    assert (content["format"], content["aperture_um"], content["density"]) == (2, 48.0, 1.0)
    heron, stork = content["films"]
    assert list(heron["channels"]) == ["red", "green", "blue", "visual"]
    assert list(stork["channels"]) == ["visual"]
    assert (heron["visual_estimated"], stork["visual_estimated"]) == (True, False)
    assert (heron["noise_known"], stork["noise_known"]) == ("clear and dark", "nothing")
    patch = heron["channels"]["visual"]["patches"][0]
    assert patch["label"] == "step 1"
    assert patch["granularity"]["low"] < patch["granularity"]["value"] < patch["granularity"]["high"]
    assert stork["channels"]["visual"]["patches"][0]["scanner_noise"] is None
    assert content["verdicts"][0]["films"] == ["Heron", "Stork"]
    assert {n["code"] for n in content["warnings"]} == {"noise", "colour"}
    assert all(re.fullmatch(r"[a-z][a-z0-9_]*", key) for key in keys_of(content))


def test_a_bound_keeps_its_side_its_number_and_its_reason() -> None:
    content = json.loads(json_text(grain_content(compare_films([film("Heron", 1.0, side=150, densities=(2.6,))]))))
    found = content["films"][0]["channels"]["visual"]["patches"][0]["granularity"]
    assert found["value"] is None
    assert found["bound"][0] == "<"
    assert found["why"].startswith("the scanner's noise is more than the grain")
