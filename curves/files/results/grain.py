"""Results about grain as JSON."""

from __future__ import annotations

from typing import Any

from curves.files.results.strips import FORMAT, notice, quantity
from curves.sensitometry.grain.comparison import Comparison, Verdict
from curves.sensitometry.grain.film_grain import ChannelGrain, FilmGrain, GrainPoint


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
        "channels": {name: _channel(channel) for name, channel in film.channels.items()},
        "refused": list(film.refused),
    }


def _channel(channel: ChannelGrain) -> dict[str, Any]:
    return {"granularity": quantity(channel.at), "patches": [_patch(point) for point in channel.points]}


def _patch(point: GrainPoint) -> dict[str, Any]:
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
