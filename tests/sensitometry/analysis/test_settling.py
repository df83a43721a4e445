"""Which numbers must settle before an analysis stops drawing, and how many draws are added until they do."""

from __future__ import annotations

import numpy as np
import pytest

from curves.sensitometry.analysis import analyse as analysing
from curves.sensitometry.core.choices import Choices
from curves.sensitometry.core.units import Channel, DensityKind, FloatArray, Kind
from curves.sensitometry.measures.points import dmin, speed_point
from curves.sensitometry.measures.reversal_points import reversal_points
from curves.sensitometry.strip.exposure import GivenExposure
from curves.sensitometry.strip.strip import Patches, Strip
from tests.draws import FEW_DRAWS
from tests.sensitometry.shapes import STEPS, slide

ASKED = "curves.sensitometry.analysis.analyse.needed_draws"


def strip(kind: Kind = "reversal", last: float = 0.0, **centres: float) -> Strip:
    """Return a strip up to a log H, each channel's curve about a centre, with a patch where it clears."""
    inside = last + 1e-9 >= STEPS
    sign = 1.0 if kind == "reversal" else -1.0
    readings: dict[Channel, FloatArray] = {
        c: slide(sign * STEPS[inside], centre=sign * centres[c]) for c in ("red", "green", "visual") if c in centres
    }
    patches = Patches(unexposed=dict.fromkeys(readings, 0.15)) if kind == "negative" else Patches()
    density: DensityKind = "visual" if set(readings) == {"visual"} else "status A"
    return Strip("invented", kind, density, GivenExposure("lux-seconds"), STEPS[inside], readings, patches=patches)


def settling(
    monkeypatch: pytest.MonkeyPatch, one: Strip, channel: Channel
) -> tuple[list[FloatArray], dict[str, FloatArray]]:
    """Return the rows that an analysis asks to settle, and by name those that a channel has."""
    asked: list[FloatArray] = []

    def settled(rows: FloatArray) -> float:
        asked.append(rows)
        return 1.0

    monkeypatch.setattr(ASKED, settled)
    ensemble = analysing.analyse(one, FEW_DRAWS).channels[channel].ensemble
    thin = dmin(ensemble)
    if one.kind == "negative":
        points = {"speed": speed_point(ensemble, thin)}
    else:
        found = reversal_points(ensemble, thin)
        points = {"T": found.t, "S": found.s, "M": found.m}
    known = {name: point.rows + ensemble.log_h_error + ensemble.meter_error for name, point in points.items()}
    return asked, known | {"Dmin": thin.rows + ensemble.level_error}


def names(asked: list[FloatArray], known: dict[str, FloatArray]) -> list[str]:
    return sorted(next(name for name, rows in known.items() if np.array_equal(rows, a, equal_nan=True)) for a in asked)


def test_t_m_and_dmin_of_a_slide_must_settle_with_the_errors_of_light_meter_and_zero(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    assert names(*settling(monkeypatch, strip(visual=-1.5), "visual")) == ["Dmin", "M", "T"]


def test_the_channel_that_the_eye_sees_is_the_one_that_must_settle(monkeypatch: pytest.MonkeyPatch) -> None:
    assert names(*settling(monkeypatch, strip(red=-1.3, green=-1.5), "green")) == ["Dmin", "M", "T"]


def test_the_speed_point_and_dmin_of_a_negative_must_settle(monkeypatch: pytest.MonkeyPatch) -> None:
    assert names(*settling(monkeypatch, strip("negative", visual=-1.5), "visual")) == ["Dmin", "speed"]


def test_a_point_off_the_strip_is_not_waited_for(monkeypatch: pytest.MonkeyPatch) -> None:
    assert names(*settling(monkeypatch, strip(last=-1.5, visual=-1.5), "visual")) == ["Dmin"]


@pytest.mark.parametrize(
    ("times", "draws"), [(1.0, 250), (1.001, 500), (2.0, 500), (2.3, 750), (4.0, 1000), (4.1, 1000)]
)
def test_draws_are_added_once_in_whole_blocks_as_many_as_are_asked_for_up_to_the_most(
    monkeypatch: pytest.MonkeyPatch, times: float, draws: int
) -> None:
    monkeypatch.setattr(ASKED, lambda rows: times if rows.size == 251 else 1.0)
    found = analysing.analyse(strip(visual=-1.5), Choices(draws=250, most_draws=1000))
    assert (found.draws, found.settled) == (draws, True)


def test_the_number_that_settles_last_decides(monkeypatch: pytest.MonkeyPatch) -> None:
    answers = iter([1.0, 3.0, 2.0, 1.0, 1.5, 1.0])
    monkeypatch.setattr(ASKED, lambda _: next(answers))
    found = analysing.analyse(strip(visual=-1.5), Choices(draws=250, most_draws=1000))
    assert (found.draws, found.settled) == (750, False)
    assert next(answers, None) is None
