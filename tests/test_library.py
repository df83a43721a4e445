"""The library's face: what it exports, when it loads, and that a checker of types sees what it is."""

from __future__ import annotations

import ast
import doctest
import inspect
import pickle
from collections.abc import Callable
from pathlib import Path
from typing import Any, assert_type

import numpy as np
import pytest

import curves
from tests import reference
from tests.test_house import run_python

FACE = Path(curves.__file__)
NAMES = [name for name in curves.__all__ if name != "__version__"]


def homes() -> dict[str, str]:
    """Return the module that each name is imported from where only a checker of types looks."""
    found: dict[str, str] = {}
    for node in ast.walk(ast.parse(FACE.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module and node.module.startswith("curves."):
            found |= {alias.name: node.module for alias in node.names}
    return found


@pytest.mark.parametrize("name", NAMES)
def test_a_public_name_is_what_a_checker_of_types_sees_each_time_it_is_asked_for(name: str) -> None:
    first, second = getattr(curves, name), getattr(curves, name)
    assert first is second
    assert not inspect.ismodule(first)
    assert first.__module__ == homes()[name]
    assert first.__name__ == name


@pytest.mark.parametrize("name", NAMES)
def test_a_public_name_is_documented(name: str) -> None:
    documented = getattr(curves, name)
    assert inspect.getdoc(documented)
    if inspect.isfunction(documented):
        assert documented.__annotations__.keys() == {*inspect.signature(documented).parameters, "return"}


def test_the_names_are_listed_once_in_order_and_are_all_that_dir_shows() -> None:
    assert sorted(homes()) == sorted(NAMES)
    assert dir(curves) == sorted(curves.__all__)
    assert curves.__all__ == sorted(curves.__all__)


def test_a_name_that_is_not_there_is_an_attribute_error() -> None:
    name = "analyze"
    with pytest.raises(AttributeError, match="module 'curves' has no attribute 'analyze'"):
        getattr(curves, name)


def test_an_error_loads_nothing_heavy_and_a_result_is_dressed_whichever_name_came_first() -> None:
    assert run_python("import sys, curves; curves.StripError; print('numpy' in sys.modules)").strip() == "False"
    dressed = run_python(
        "import curves; strip = curves.load_strip('wedge_data/wren-reversal.toml');"
        "analysis = curves.analyse(strip, curves.Choices(draws=0, most_draws=0));"
        "print(analysis); print('svg' in analysis._repr_html_()); import sys; print('plotly' in sys.modules)"
    )
    assert dressed.startswith("Wren 25, reversal: set EI ")
    assert dressed.splitlines()[1:] == ["True", "False"]


def small_strip() -> curves.Strip:
    return curves.Strip.from_readings(
        [0.3, 0.4, 0.8, 1.6, 2.4, 2.6],
        kind="reversal",
        exposure=curves.Contact(500.0, 0.02),
        wedge=curves.Wedge.nominal(6, 0.5),
    )


def test_a_checker_of_types_sees_what_each_call_returns() -> None:
    # mypy reads these; at run time they pass anything.
    analysis = assert_type(curves.analyse(small_strip(), curves.Choices(draws=50, most_draws=50)), curves.Analysis)
    ei = assert_type(analysis.working_ei.recommended, curves.Quantity)
    assert_type(curves.difference(ei, ei), curves.Quantity)
    assert_type(curves.fit_curve([0, 1, 2, 3, 4], [2.0, 1.8, None, 0.9, 0.5], kind="reversal"), curves.Curve)
    assert_type(curves.Wedge.measured([0.05, 0.20]), curves.Wedge)
    assert_type(analysis.channels["visual"].points["T"], curves.Point)


def test_the_example_of_the_easy_constructor_is_true() -> None:
    runner = doctest.DocTestRunner()
    for example in doctest.DocTestFinder().find(curves.Strip.from_readings, globs=wanted()):
        runner.run(example)
    assert runner.summarize(verbose=False) == (0, 2)


def wanted() -> dict[str, object]:
    return {name: getattr(curves, name) for name in ("Strip", "Contact", "Wedge")}


def test_the_manual_holds_the_reference_as_the_docstrings_have_it() -> None:
    text = reference.CHAPTER.read_text(encoding="utf-8")
    assert reference.rewritten(text) == text
    assert sorted(name for names in reference.GROUPS.values() for name in names) == sorted(NAMES)


def test_results_can_be_pickled() -> None:
    strip = small_strip()
    analysis = curves.analyse(strip, curves.Choices(draws=50, most_draws=50))
    again = pickle.loads(pickle.dumps(analysis))
    assert again.working_ei.recommended == analysis.working_ei.recommended
    assert repr(again.strip) == repr(strip)
    np.testing.assert_array_equal(again.strip.readings["visual"], strip.readings["visual"])


@pytest.mark.parametrize("of", [curves.analyse, curves.analyse_for_index])
def test_a_path_in_place_of_a_strip_is_refused_in_words(of: Callable[[Any], object]) -> None:
    with pytest.raises(curves.StripError, match=r"'strip\.toml' is of the wrong type; needed: Strip"):
        of("strip.toml")


def test_a_table_in_place_of_a_record_is_told_what_is_needed(tmp_path: Path) -> None:
    table = tmp_path / "strip.csv"
    table.write_text("step,visual\n1,0.1\n", encoding="utf-8")
    with pytest.raises(curves.RecordError, match=r"this is not TOML(.|\n)*Try: name a record \(.toml\)\."):
        curves.load_strip(table)
