"""The controls that place a scene on the curves at any index and read the figures by other scales, as HTML."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from curves.sensitometry.uncertainty.results import Analysis
from curves.views.page.frame import script_json
from curves.views.page.tables import channel_name, esc
from curves.views.placing.projected import projected_data, projected_patches
from curves.views.placing.scene_data import placing_data

SCRIPTS = ("placing/placing.js", "placing/projected.js", "placing/scales.js", "placing/layer.js", "placing/controls.js")
"""The scripts of the controls, in the order in which the page runs them."""

_SCENES: Mapping[str, tuple[float, float]] = {"flat": (0.5, -0.6), "normal": (0.7, -0.9), "contrasty": (0.9, -1.5)}
"""White and shadow of scenes to try, from mid-grey: the middle one is common practice, the others stand a stop or so
about it [log10]."""

_DRAWN = ("density", "gradient", "band")
"""Numbers of a channel that stand in the figures of the page too, where the script finds them."""

_STORED_DIGITS = 7
"""Digits of a number that the script reads: what they leave out is far below a thousandth of a stop."""

_DENSITY_SCALES = {"density": "density", "net": "density above Dmin", "percent": "light passed, per cent"}
_LOG_H_SCALES = {"log": "log H", "stops": "stops from mid-grey", "ei": "EI with mid-grey there"}


def placing_controls(analysis: Analysis, anchor: str) -> str:
    """Return the dial, the scene and the tables that follow both, as HTML; the script shows them.

    Args:
        analysis: results of the strip.
        anchor: id of the strip's part of the page; the ids within begin with it.
    """
    data = placing_data(analysis, anchor)
    if data is None:
        return ""
    data["projected"] = projected_data(analysis)
    for channel in data["channels"].values():
        for drawn in _DRAWN:
            del channel[drawn]
    name = f"{anchor}-dial"
    back = "" if data["set"] is None else f'<button type="button" class="back">Back to {data["set"]["name"]:g}</button>'
    presets = {"": "of the report", **{f"{w:g},{s:g}": word for word, (w, s) in _SCENES.items()}, "own": "own"}
    channels: dict[str, str] = {channel: channel_name(found) for channel, found in analysis.channels.items()}
    fields = "".join(
        f'<label>{tone} <input type="number" step="0.1" name="{tone}" data-unit="stops"> stops</label>'
        for tone in ("white", "shadow")
    )
    return (
        f'<div class="placing" data-placing="{anchor}" hidden>'
        f'<p class="dial"><label for="{name}">Meter at EI</label>'
        f'<input type="text" inputmode="decimal" name="typed" autocomplete="off" aria-label="EI, typed" size="5">'
        f'<input type="range" id="{name}" min="0" max="{len(data["dial"]) - 1}" step="1" autocomplete="off">{back}</p>'
        '<p class="looked-at"></p><p class="said" aria-live="polite"></p><p class="usable"></p>'
        '<table class="landing"><caption>Where the scene lands</caption><thead><tr><th scope="col">tone</th>'
        '<th scope="col">log H</th><th scope="col">density</th><th scope="col">above Dmin</th>'
        '<th scope="col">state</th></tr></thead><tbody></tbody></table>'
        f"{'' if data['projected'] is None else projected_patches()}"
        f'<p class="scene">{_choice("Scene", "preset", presets)}{fields}{_choice("judged by", "judged", channels)}</p>'
        f'<p class="cursor"><label for="{anchor}-cursor">Read the curves at</label>'
        f'<input type="range" id="{anchor}-cursor" class="at" min="0" max="400" step="1" autocomplete="off"></p>'
        '<table class="reading"><caption></caption><thead><tr><th scope="col">channel</th><th scope="col">density</th>'
        '<th scope="col">above Dmin</th><th scope="col">gradient</th></tr></thead><tbody></tbody></table>'
        f'<p class="scales">{_choice("Upward", "upward", _DENSITY_SCALES)}{_choice("Across", "across", _LOG_H_SCALES)}'
        '<label><input type="checkbox" name="fill" autocomplete="off"> fill the width</label></p>'
        '<p class="scale-words" aria-live="polite"></p>'
        '<p class="take"><button type="button" data-take="csv">Curves as CSV</button>'
        '<button type="button" data-take="json">Placements as JSON</button>'
        '<button type="button" data-take="svg">Figure as SVG</button>'
        '<button type="button" data-take="png">as PNG</button></p>'
        f'<script type="application/json">{script_json(_stored(data))}</script></div>'
    )


def _stored(content: Any) -> Any:
    """Return numbers within lists and tables with the digits that the page stores."""
    if isinstance(content, float):
        return float(f"{content:.{_STORED_DIGITS}g}")
    if isinstance(content, Mapping):
        return {name: _stored(part) for name, part in content.items()}
    return [_stored(part) for part in content] if isinstance(content, list | tuple) else content


def _choice(label: str, name: str, words: Mapping[str, str]) -> str:
    """Return a list to choose from, as HTML: the words by the values that the script reads."""
    options = "".join(f'<option value="{value}">{esc(word)}</option>' for value, word in words.items())
    return f'<label>{label} <select name="{name}" autocomplete="off">{options}</select></label>'
