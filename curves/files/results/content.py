"""Results as JSON: those of strips, and those about grain."""

from __future__ import annotations

import json
import math
import textwrap
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.strip.origin import StatusMatch
from curves.sensitometry.strip.strip import Strip
from curves.sensitometry.uncertainty.budget import Budget
from curves.sensitometry.uncertainty.results import (
    Analysis,
    BaseState,
    ByEye,
    ChannelFinding,
    Criterion,
    LayerSpread,
    Notice,
    Placement,
    Point,
    Shortfall,
    Speed,
    WhiteCast,
    WorkingEI,
)

if TYPE_CHECKING:  # the numbers of a strip need nothing of what reads grain
    from curves.sensitometry.grain.comparison import Comparison, Verdict
    from curves.sensitometry.grain.film_grain import ChannelGrain, FilmGrain, GrainPoint

FORMAT = 2
"""Version of the JSON layout; it changes only when a key changes its meaning."""

_SIGNIFICANT = 6


def as_json(analyses: Sequence[Analysis]) -> str:
    """Return the results of several strips as JSON text: ``{"format": 2, "strips": [...]}``, without any NaN."""
    return json_text({"format": FORMAT, "strips": [strip_content(a) for a in analyses]})


def json_of_many(contents: Iterable[dict[str, Any]]) -> Iterator[str]:
    """Yield the text of `as_json` piece by piece, one for each strip, so that no result is held.

    Args:
        contents: the results of each strip, as `strip_content` gives them.
    """
    start, end = json_text({"format": FORMAT, "strips": [0]}).split("    0")
    yield start
    between = ""
    for content in contents:
        yield between + textwrap.indent(json_text(content).rstrip("\n"), "    ")
        between = ",\n"
    yield end


def json_text(content: dict[str, Any]) -> str:
    """Return content as JSON text: floats at six significant digits, null where a number is not finite."""
    return json.dumps(_rounded(content), indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def strip_content(analysis: Analysis) -> dict[str, Any]:
    """Return the results of one strip as plain dictionaries, lists, numbers and text."""
    strip = analysis.strip
    return {
        "title": strip.title,
        "kind": strip.kind,
        "density": strip.density,
        "status_match": None if strip.match is None else _match(strip.match),
        "log_h_unit": strip.log_h_unit,
        "metered_exposure": analysis.metered_exposure,
        "meter_constant": strip.meter_constant,
        "channels": {name: _channel(found, analysis.strip) for name, found in analysis.channels.items()},
        "speeds": {name: _speed(speed) for name, speed in analysis.speeds.items()},
        "working_ei": _working_ei(analysis.working_ei),
        "sources": [
            {"name": s.name, "u": s.u, "unit": s.unit, "distribution": s.shape, "assumed": s.assumed}
            for s in analysis.sources
        ],
        "draws": analysis.draws,
        "settled": analysis.settled,
        "warnings": [notice(n) for n in analysis.warnings],
    }


def _match(match: StatusMatch) -> dict[str, Any]:
    """Return the matching of a scan, as a scan's own JSON has it too."""
    return {
        "status": match.status,
        "patches": match.patches,
        "residual": match.residual,
        "directions": match.directions,
        "matrix": match.matrix.tolist(),
        "matrix_u": match.matrix_error.tolist(),
        "u": match.uncertainty,
    }


def quantity(q: Quantity) -> dict[str, Any]:
    """Return a quantity as a dictionary: its value and interval, or null with the bound and the reason."""
    if q.value is not None:
        content: dict[str, Any] = {"value": q.value, "low": q.low, "high": q.high, "u": q.u, "how": q.how}
    else:
        content = {"value": None, "bound": list(q.bound) if q.bound else None, "why": q.why}
    return content | ({"note": q.note} if q.note else {})


def _channel(found: ChannelFinding, strip: Strip) -> dict[str, Any]:
    by_meter, callier = strip.read_as.by_meter and not found.estimated, strip.callier or 1.0
    return {
        "estimated": found.estimated,
        **{key: quantity(q) for key, q in found.measures.items()},
        "straight_line": None if found.straight is None else list(found.straight),
        "points": _points(found.points),
        "steps": [
            {
                "step": s.step,
                "label": s.label,
                "log_h": s.log_h,
                "density": s.density,
                **({"reading": strip.read_as.reading(s.density * callier)} if by_meter else {}),
                "repeats": s.repeats,
                "fitted": s.fitted,
                "residual": s.residual,
                "flag": s.flag,
                "remark": s.remark,
            }
            for s in found.steps
        ],
    }


def _speed(speed: Speed) -> dict[str, Any]:
    return {
        "value": quantity(speed.value),
        "nominal": speed.nominal,
        "degrees": speed.degrees,
        "conforms": speed.conforms,
        "why_not": list(speed.why_not),
        "branch": speed.branch,
        "channel": speed.channel,
        "points": _points(speed.points),
    }


def _points(points: Mapping[str, Point]) -> dict[str, Any]:
    return {
        name: {"log_h": quantity(p.log_h), "density": p.density, "meaning": p.meaning} for name, p in points.items()
    }


def _working_ei(ei: WorkingEI) -> dict[str, Any]:
    content: dict[str, Any] = {
        "recommended": quantity(ei.recommended),
        "nominal": ei.nominal,
        "range": None if ei.shortfall is not None else [end.value for end in ei.range],
        "range_ends": [quantity(end) for end in ei.range],
        "range_why": list(ei.range_why),
        "basis": ei.basis,
        "reason": ei.reason,
        "advice": list(ei.advice),
        "channel": ei.channel,
        "criteria": {name: _criterion(c) for name, c in ei.criteria.items()},
    }
    content["budget"] = [] if ei.budget is None else budget(ei.budget)
    content["placements"] = _placements(ei.placements)
    if ei.trial is not None:
        lost = {tone: quantity(q) for tone, q in ei.trial.lost.items()}
        content["at"] = {"ei": ei.trial.ei, "placements": _placements(ei.trial.placements), "beyond_stops": lost}
    if ei.base is not None:
        content["highlight_share"] = ei.highlight_share
        content["base"] = _base(ei.base)
        content["hardly_a_range"] = ei.hardly_a_range
    if ei.shortfall is not None:
        content["shortfall"] = _shortfall(ei.shortfall)
    if ei.other_middle is not None:
        content["other_middle"] = _criterion(ei.other_middle)
    if ei.scene is not None:
        content["scene"] = {
            "metered_seconds": ei.scene.metered,
            "corrected_seconds": quantity(ei.scene.corrected),
            "tested_seconds": ei.scene.tested,
        }
    if ei.layers is not None:
        content["layers"] = _layers(ei.layers)
    if ei.cast is not None:
        content["white_cast"] = _cast(ei.cast)
    if ei.by_eye is not None:
        content["by_eye"] = _by_eye(ei.by_eye)
    return content


def _by_eye(told: ByEye) -> dict[str, Any]:
    return {
        "frames": dict(told.frames),
        "alone": quantity(told.alone),
        "without": None if told.without is None else quantity(told.without),
        "apart_stops": told.apart,
        "contradicts": told.contradicts,
        "judgement_stops": told.uncertainty,
        "assumed": told.assumed,
    }


def _placements(placements: Mapping[str, Placement]) -> dict[str, Any]:
    return {
        name: {
            "log_h": quantity(tone.log_h),
            "density": quantity(tone.density),
            "net": quantity(tone.net),
            "state": tone.state,
        }
        for name, tone in placements.items()
    }


def _cast(cast: WhiteCast) -> dict[str, Any]:
    return {
        "colours": list(cast.colours),
        "net": {channel: quantity(q) for channel, q in cast.net.items()},
        "excess": {channel: quantity(q) for channel, q in cast.excess.items()},
    }


def _criterion(criterion: Criterion) -> dict[str, Any]:
    return {"ei": quantity(criterion.ei), "log_h": quantity(criterion.log_h), "meaning": criterion.meaning}


def _shortfall(short: Shortfall) -> dict[str, Any]:
    return {
        "too_long_stops": quantity(short.stops),
        "ends": list(short.ends),
        "keeps": list(short.keeps),
        "lost_stops": list(short.lost),
    }


def budget(found: Budget) -> list[dict[str, Any]]:
    """Return a budget as dictionaries: each source's uncertainty, in stops or in the number's unit, and its share."""
    size = "stops" if found.unit == "stops" else "u"
    return [
        {"name": line.name, size: line.u, "share": line.share, "assumed": line.assumed, "remedy": line.remedy}
        for line in found.lines
    ]


def _base(base: BaseState) -> dict[str, Any]:
    return {
        "base": quantity(base.base),
        "dmin": quantity(base.dmin),
        "veil": quantity(base.veil),
        "clears": base.clears,
        "held_by": base.held_by,
        "white_percent": base.white_percent,
        "white_point": {channel: quantity(q) for channel, q in base.white_point.items()},
        "veil_stops": base.veil_stops,
    }


def _layers(layers: LayerSpread) -> dict[str, Any]:
    return {
        "t_stops": quantity(layers.t_stops),
        "s_stops": quantity(layers.s_stops),
        "last_to_clear": layers.last_to_clear,
    }


def notice(notice: Notice) -> dict[str, Any]:
    """Return a notice as a dictionary: code, message, and channel and step where the notice has them."""
    content: dict[str, Any] = {"code": notice.code, "message": notice.message}
    if notice.channel is not None:
        content["channel"] = notice.channel
    if notice.step is not None:
        content["step"] = notice.step
    return content


def _rounded(content: Any) -> Any:
    """Return ``content`` with every float at six significant digits, and None where one is not finite."""
    if isinstance(content, dict):
        return {key: _rounded(value) for key, value in content.items()}
    if isinstance(content, list):
        return [_rounded(value) for value in content]
    if isinstance(content, float):
        return float(f"{content:.{_SIGNIFICANT}g}") if math.isfinite(content) else None
    return content


def grain_content(found: Comparison) -> dict[str, Any]:
    """Return the grain of films and the verdicts as plain dictionaries, lists, numbers and text."""
    return {
        "format": FORMAT,
        "aperture_um": found.aperture,
        "density": found.density,
        "films": [_film(film) for film in found.films],
        "verdicts": [_verdict(verdict) for verdict in found.verdicts],
        "warnings": [notice(n) for n in found.warnings],
    }


def _film(film: FilmGrain) -> dict[str, Any]:
    return {
        "name": film.name,
        "dpi": film.dpi,
        "visual_estimated": film.estimated,
        "noise_known": film.noise_known,
        "processing": film.signs,
        "channels": {name: _grain_channel(channel) for name, channel in film.channels.items()},
        "refused": list(film.refused),
    }


def _grain_channel(channel: ChannelGrain) -> dict[str, Any]:
    return {"granularity": quantity(channel.at), "patches": [_grain_patch(point) for point in channel.points]}


def _grain_patch(point: GrainPoint) -> dict[str, Any]:
    found = point.found
    return {
        "label": point.label,
        "density": found.density,
        "granularity": quantity(found.rms),
        "with_noise": found.total,
        "scanner_noise": found.noise,
        "independent_readings": found.apertures,
        "set_aside": found.set_aside,
        "uneven": found.uneven,
    }


def _verdict(verdict: Verdict) -> dict[str, Any]:
    return {
        "films": list(verdict.films),
        "finer": verdict.finer,
        "ratio": quantity(verdict.ratio),
        "sentence": verdict.sentence,
    }
