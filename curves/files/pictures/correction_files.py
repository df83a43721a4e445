"""The files of a correction: as JSON, and its map of a picture's numbers in the Common LUT Format, an open standard
(SMPTE ST 2136-1), and as CSV.
"""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from io import StringIO
from pathlib import Path
from typing import Any
from xml.sax.saxutils import escape, quoteattr

import numpy as np

from curves.files.base.writing import refuse_other, write_atomically
from curves.files.results.content import json_text, quantity
from curves.sensitometry.balance.neutral import Balance, Tone
from curves.sensitometry.balance.picture_values import ValueTable

_NAMESPACE = "urn:AMPAS:CLF:v3.0"
_VERSION = "3.0"

FORMAT = 1
"""Version of the JSON layout; it changes only when a key changes its meaning."""


def write_value_files(lut: Path | None, csv: Path | None, table: ValueTable, title: str, notes: Sequence[str]) -> None:
    """Write the files of a map that are asked for; none replaces a file that is there with other contents.

    Args:
        lut, csv: the files; None where none is asked for.
        table: the map.
        title: the film, in words.
        notes: what must be known about the map, each a sentence; they stand in the file of the Common LUT Format.

    Raises:
        OutputError: there is another such file already, or it could not be written.
    """
    texts = {lut: common_lut(table, title, notes) if lut else "", csv: values_text(table) if csv else ""}
    # A run that was killed after the first file left it: it is taken for this run's own.
    new = [(path, text) for path, text in texts.items() if path is not None and not refuse_other(path, text)]
    for path, text in new:
        write_atomically(path, text)


def common_lut(table: ValueTable, title: str, notes: Sequence[str]) -> str:
    """Return a map as the Common LUT Format has it: one LUT1D with an entry for each number that a picture can hold.

    Args:
        table, title, notes: as `write_value_files` has them.
    """
    descriptions = "".join(f"  <Description>{escape(text)}</Description>\n" for text in (title, *notes))
    words = f"{' '.join(table.channels)}, numbers encoded {table.encoding.name}"
    numbers = _lines(table.values, " ")
    name = uuid.uuid5(uuid.NAMESPACE_OID, title + numbers)
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<ProcessList xmlns="{_NAMESPACE}" id="urn:uuid:{name}" name={quoteattr(title)}'
        f' compCLFversion="{_VERSION}">\n{descriptions}'
        f"  <InputDescriptor>{escape(f'scan of the film: {words}')}</InputDescriptor>\n"
        f"  <OutputDescriptor>{escape(f'greys neutral: {words}')}</OutputDescriptor>\n"
        '  <LUT1D inBitDepth="16i" outBitDepth="16i" interpolation="linear">\n'
        f'    <Array dim="{len(table.values)} {len(table.channels)}">\n{numbers}    </Array>\n'
        "  </LUT1D>\n</ProcessList>\n"
    )


def values_text(table: ValueTable) -> str:
    """Return a map as CSV: each number of the picture, and what it becomes in each channel."""
    places = np.arange(len(table.values))[:, None]
    return ",".join(["number", *table.channels]) + "\n" + _lines(np.hstack([places, table.values]), ",")


def _lines(numbers: np.ndarray[tuple[int, ...], np.dtype[np.integer]], between: str) -> str:
    """Return rows of whole numbers, a line each."""
    text = StringIO()
    np.savetxt(text, numbers, fmt="%d", delimiter=between)
    return text.getvalue()


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
