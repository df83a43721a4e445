"""The calibration of a scanner, from light to density, in a file that other scans of the same settings can name.

The file holds what was measured, not what was fitted: clear and dark, and the light of a calibration wedge's steps
beside their known densities. Reading it fits the map again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, partial
from pathlib import Path
from typing import Any

import numpy as np

from curves.errors import RecordError, StripError
from curves.files.base.fields import MOST_OF_RECORD, Section, check_number
from curves.files.base.grids import read_text
from curves.files.base.record_edits import check_says, new_text, record_content
from curves.files.base.writing import write_new
from curves.sensitometry.core.units import CHANNELS, LAYERS, Channel, FloatArray
from curves.sensitometry.core.values import DENSITY, Bounds
from curves.sensitometry.scan.density_map import Calibration, ScanMap, fit_map
from curves.sensitometry.scan.encoding import Encoding, parse_encoding

_DIGITS = 9

_LIGHT = Bounds(least=0.0, below=10.0)
"""Light that a calibration may hold [of full scale]."""

_LEAST_LIT = 0.01
"""Clear light in a place, against the typical, below which no gate is lit: our own choice [unitless]."""


@dataclass(frozen=True, eq=False)
class WedgeLight:
    """A calibration wedge as it was scanned.

    Attributes:
        known: density of each step, (n,) [density].
        uncertainty: standard uncertainty of one known density [density]; None if it is not given.
        apparent: apparent transmittance of each step, (n, samples) [unitless]; NaN where it could not be read.
        lit: clear light where each step lies against the typical, (n, samples) [unitless].
        surround: mean light of its picture, (samples,) [of the clear light].
    """

    known: FloatArray
    uncertainty: float | None
    apparent: FloatArray
    lit: FloatArray
    surround: FloatArray


@dataclass(frozen=True, eq=False)
class CalibrationRecord:
    """A calibration as its file holds it.

    Attributes:
        title: what to call it.
        encoding: how the pictures' numbers stand for light.
        bits: of the pictures.
        clear, dark: light of the empty gate and of the closed gate, (samples,) [of full scale].
        assumed_dark: True if dark is not given, and zero is assumed.
        wedge: the calibration wedge; None if there was none.
    """

    title: str
    encoding: Encoding
    bits: int
    clear: FloatArray
    dark: FloatArray
    assumed_dark: bool = False
    wedge: WedgeLight | None = None

    @property
    def channels(self) -> tuple[Channel, ...]:
        """The channel that each sample of a picture stands for."""
        return channels_of(self.clear.size)

    def calibration(self) -> Calibration:
        """Return the calibration, its map fitted.

        Raises:
            StripError: clear is not brighter than dark, or the wedge makes no map.
        """
        return self._fitted

    def doubts(self) -> list[tuple[Channel, str]]:
        """Return doubts that numbers are in proportion to light, by channel, as clauses; none without a wedge."""
        maps = self.calibration().maps
        return [(c, m.doubt) for c, m in zip(self.channels, maps, strict=False) if m.doubt]

    @cached_property
    def _fitted(self) -> Calibration:
        return Calibration(self.channels, self.clear, self.dark, self._maps(), self.assumed_dark)

    def _maps(self) -> tuple[ScanMap, ...]:
        w = self.wedge
        if w is None:
            return ()
        return tuple(
            fit_map(
                w.apparent[:, i],
                w.known,
                w.uncertainty,
                lit=w.lit[:, i],
                surround=float(w.surround[i]),
                where=f"{self.title}, {channel}",
            )
            for i, channel in enumerate(self.channels)
        )


def channels_of(samples: int) -> tuple[Channel, ...]:
    """Return the channel that each sample of a picture stands for: grey is taken for visual density."""
    return ("visual",) if samples == 1 else LAYERS


def write_calibration(path: Path, stored: CalibrationRecord) -> None:
    """Write a new calibration.

    Raises:
        OutputError: there is another file, or it could not be written; what was there before is unchanged.
    """
    content: dict[str, Any] = {
        "title": stored.title,
        "encoding": stored.encoding.name,
        "bits": stored.bits,
        "clear": _by_channel(stored, stored.clear),
        "dark": _by_channel(stored, stored.dark),
    }
    if stored.assumed_dark:
        content["dark_assumed"] = True
    if stored.wedge is not None:
        w = stored.wedge
        content["wedge"] = {"known": [round(float(d), 4) for d in w.known]} | (
            {} if w.uncertainty is None else {"uncertainty": w.uncertainty}
        )
        content["surround"] = _by_channel(stored, w.surround)
        content["apparent"] = {c: _listed(w.apparent[:, i]) for i, c in enumerate(stored.channels)}
        content["lit"] = {c: _listed(w.lit[:, i]) for i, c in enumerate(stored.channels)}
    write_new(path, new_text(content), partial(check_says, content))


def _by_channel(stored: CalibrationRecord, values: FloatArray) -> dict[str, float]:
    return {c: round(float(v), _DIGITS) for c, v in zip(stored.channels, values, strict=True)}


def _listed(values: FloatArray) -> list[float]:
    """Return numbers as a file holds them; a step that was not read is a zero."""
    return [round(float(v), _DIGITS) if np.isfinite(v) else 0.0 for v in values]


def is_calibration(path: Path) -> bool:
    """Return True if a TOML file holds a calibration, and not a strip."""
    try:
        # Most records do not hold the word at all, and need not be parsed to tell.
        content = record_content(path) if "clear" in read_text(path, MOST_OF_RECORD) else {}
    except RecordError:
        return False
    return "clear" in content and "kind" not in content


def read_calibration(path: Path) -> CalibrationRecord:
    """Read a calibration.

    Raises:
        RecordError: the file cannot be understood; says where and what is needed.
    """
    section = Section(record_content(path), path.name)
    if "kind" in section and "clear" not in section:
        raise RecordError(
            "this is the record of a strip, not a calibration",
            where=path.name,
            needed="the calibration that a scan wrote beside its record",
        )
    section.only(
        "title", "encoding", "bits", "clear", "dark", "dark_assumed", "wedge", "surround", "apparent", "lit", "notes"
    )
    clear = section.section("clear", f"{path.name}, [clear]")
    channels: tuple[Channel, ...] = tuple(c for c in CHANNELS if c in clear)
    if channels not in (("visual",), LAYERS):
        raise RecordError(
            "the light of the empty gate is missing",
            where=clear.where,
            needed="visual = 0.93, or red, green and blue, of full scale",
        )
    bits = section.whole("bits", needed="bits = 16 or bits = 8", least=8)
    if bits not in (8, 16):
        raise RecordError(f"{bits} bits are not those of a scan", where=path.name, needed="bits = 16 or bits = 8")
    wedge = _wedge(section, path, channels) if "wedge" in section else None
    stored = CalibrationRecord(
        section.text("title") or path.stem,
        parse_encoding(section.text("encoding", needed='encoding = "linear"'), f"{path.name} encoding"),
        bits,
        _numbers(clear, channels),
        _numbers(section.section("dark", f"{path.name}, [dark]"), channels),
        _yes(section, "dark_assumed"),
        wedge,
    )
    try:
        stored.calibration()
    except StripError as error:
        raise RecordError.of(error, path.name) from error
    return stored


def _yes(section: Section, key: str) -> bool:
    """Return True if a field is true; it need not be there."""
    value = section.take(key)
    if value is not None and not isinstance(value, bool):
        raise RecordError(f"{value!r} is neither true nor false", where=section.at(key), needed=f"{key} = true")
    return value is True


def _numbers(section: Section, channels: Sequence[Channel]) -> FloatArray:
    section.only(*channels)
    found = [section.number(c, _LIGHT, needed=f"{c} = a share of full scale") for c in channels]
    return np.array(found, dtype=np.float64)


def _wedge(section: Section, path: Path, channels: Sequence[Channel]) -> WedgeLight:
    wedge = section.section("wedge", f"{path.name}, [wedge]")
    wedge.only("known", "uncertainty")
    known = _list(wedge, "known", None)
    apparent, lit = (
        np.column_stack([_list(section.section(n, f"{path.name}, [{n}]"), c, known.size, above) for c in channels])
        for n, above in (("apparent", -1.0), ("lit", _LEAST_LIT))
    )
    return WedgeLight(
        known,
        wedge.number("uncertainty", DENSITY),
        np.where(apparent > 0, apparent, np.nan),
        lit,
        _numbers(section.section("surround", f"{path.name}, [surround]"), channels),
    )


def _list(section: Section, key: str, size: int | None, above: float = -1.0) -> FloatArray:
    values = section.take(key)
    if not isinstance(values, list) or (size is not None and len(values) != size):
        needed = "a list of numbers" if size is None else f"a list of {size} numbers, one for each known density"
        raise RecordError(f"'{key}' does not hold the right numbers", where=section.where, needed=needed)
    return np.array(
        [check_number(v, section.at(key), Bounds(above=above, below=100.0)) for v in values], dtype=np.float64
    )
