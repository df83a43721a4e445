import json
from functools import cache
from typing import Any

import numpy as np
import pytest

from curves import analyse, curve_frame, steps_frame
from curves.files.results.content import as_json
from curves.files.results.frames import as_csv
from curves.sensitometry.measures.table import measures_of
from curves.sensitometry.strip.exposure import GivenExposure
from curves.sensitometry.strip.strip import Patches, Strip
from curves.sensitometry.uncertainty.results import Analysis
from tests.draws import FEW_DRAWS
from tests.sensitometry.shapes import STEPS, slide


def strip(last: float = 0.5) -> Strip:
    inside = last >= STEPS
    readings = slide(STEPS)[inside]
    readings[5] += 0.4
    return Strip(
        "invented “Heron 80”",
        "reversal",
        "status A",
        GivenExposure("lux-seconds"),
        STEPS[inside],
        {"green": readings, "red": slide(STEPS, centre=-1.6)[inside], "blue": slide(STEPS, centre=-1.4)[inside]},
        patches=Patches(base={"green": 0.08}),
    )


@cache
def analysed(last: float = 0.5) -> Analysis:
    return analyse(strip(last), FEW_DRAWS)


def content(last: float = 0.5) -> dict[str, Any]:
    return dict(json.loads(as_json([analysed(last)])))


def test_the_json_has_the_promised_keys() -> None:
    found = content()
    assert found["format"] == 2
    (one,) = found["strips"]
    assert {"title", "kind", "density", "log_h_unit", "channels", "speeds", "working_ei", "warnings"} <= set(one)
    assert list(one["channels"]) == ["red", "green", "blue", "visual"]
    green = one["channels"]["green"]
    assert {m.key for m in measures_of("reversal")} | {"points", "steps"} <= set(green)
    assert set(green["points"]) == {"T", "S", "M"}
    assert set(green["points"]["T"]) >= {"log_h", "density"}
    assert {"step", "log_h", "density", "repeats", "fitted", "residual", "flag"} <= set(green["steps"][0])
    assert set(one["speeds"]["iso_2240"]) >= {"value", "nominal", "degrees", "conforms", "why_not"}
    ei = one["working_ei"]
    assert {"recommended", "nominal", "range", "basis", "reason", "criteria", "base"} <= set(ei)
    assert set(ei["criteria"]) == {"highlight", "middle", "shadow", "cleared"}
    assert {"base", "dmin", "veil", "clears", "white_percent"} <= set(ei["base"])


def test_a_quantity_has_a_value_and_interval_or_a_bound_and_a_reason() -> None:
    green = content()["strips"][0]["channels"]["green"]
    assert set(green["dmin"]) >= {"value", "low", "high", "how"}
    short = content(last=-1.4)["strips"][0]["channels"]["green"]["dmin"]
    assert short["value"] is None
    assert short["bound"][0] == "<"
    assert "still falling" in short["why"]


def test_a_step_set_aside_keeps_its_reading_and_says_why() -> None:
    green = content()["strips"][0]["channels"]["green"]
    (flagged,) = [s for s in green["steps"] if s["flag"]]
    assert flagged["density"] == pytest.approx(slide(STEPS)[5] + 0.4, abs=1e-5)
    assert "set aside" in flagged["flag"]
    assert len(green["steps"]) == STEPS.size


def test_the_json_holds_no_nan_and_keeps_letters_as_they_are() -> None:
    text = as_json([analysed()])
    assert "NaN" not in text
    assert "Infinity" not in text
    assert "“Heron 80”" in text


def test_the_tables_hold_every_step_and_the_whole_curve() -> None:
    analysis = analysed()
    steps, curve = steps_frame(analysis), curve_frame(analysis)
    assert len(steps) == 4 * STEPS.size
    assert set(steps["channel"]) == {"red", "green", "blue", "visual"}
    assert (curve["green_low"] <= curve["green_high"]).all()
    assert np.ptp(curve["log_h"]) == pytest.approx(3.0)
    assert as_csv(curve).splitlines()[0].startswith("log_h,red,red_low,red_high,red_gradient,green")
