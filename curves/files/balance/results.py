"""A correction as JSON."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from curves.files.results.content import json_text, quantity
from curves.sensitometry.balance.neutral import Balance, Tone
from curves.sensitometry.balance.picture_values import ValueTable

FORMAT = 1
"""Version of the JSON layout; it changes only when a key changes its meaning."""


def balance_json(balance: Balance, table: ValueTable | None, notes: Sequence[str], files: dict[str, str | None]) -> str:
    """Return a correction as JSON text: ``{"format": 1, "balance": {...}}``.

    Args:
        balance: the correction.
        table: the map of a picture's numbers; None where none was made.
        notes: what must be known about the correction, each a sentence.
        files: the files that were written, by name: "page", "lut", "csv", "picture"; None where one was not asked for.
    """
    return json_text({"format": FORMAT, "balance": _content(balance, table, notes, files)})


def _content(
    balance: Balance, table: ValueTable | None, notes: Sequence[str], files: dict[str, str | None]
) -> dict[str, Any]:
    strip, target = balance.analysis.strip, balance.target
    return {
        "title": strip.title,
        "kind": strip.kind,
        "density": strip.density,
        "scanned": strip.density == "scan",
        "target": {"channel": target.channel, "gamma": target.gamma, "contrast": target.contrast},
        "encoding": None if table is None else table.encoding.name,
        "channels": {
            channel: {
                "known": list(tone_map.known),
                "slopes_beyond": [tone_map.before, tone_map.after],
                "colour_lost_below_net": quantity(balance.ends[channel].thin),
                "colour_lost_near_dmax": quantity(balance.ends[channel].dense),
                "scatter": balance.ends[channel].scatter,
            }
            for channel, tone_map in balance.maps.items()
        },
        "tones": [_tone(tone) for tone in balance.tones],
        "notes": list(notes),
        "files": files,
    }


def _tone(tone: Tone) -> dict[str, Any]:
    return {
        "label": tone.label,
        "log_h": tone.log_h,
        "target": tone.target,
        "channels": {
            channel: {
                "scanned": tone.scanned[channel],
                "balanced": tone.balanced[channel],
                "cast_before": tone.cast_before[channel],
                "cast": quantity(tone.cast[channel]),
                "noise_gain": tone.gain[channel],
            }
            for channel in tone.scanned
        },
    }
