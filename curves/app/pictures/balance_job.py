"""The steps from a strip to a balanced picture: the pictures' light, the map of their numbers, the picture itself."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from curves.errors import OutputError, RecordError
from curves.files.pictures.image import Image, open_image
from curves.files.pictures.plain_tiff import TiffHeader, write_tiff
from curves.files.pictures.statements import Facts
from curves.files.scans.places import reference
from curves.files.scans.scan import Scan
from curves.files.strips.calibration import channels_of, read_calibration
from curves.files.strips.patch_table import scan_of
from curves.sensitometry.balance.neutral import Balance
from curves.sensitometry.balance.picture_values import ValueTable
from curves.sensitometry.balance.tone import channels_to_balance
from curves.sensitometry.core.units import Channel, FloatArray
from curves.sensitometry.scan.density_map import Calibration
from curves.sensitometry.scan.encoding import Encoding, parse_encoding
from curves.sensitometry.strip.strip import Strip

_PREVIEW = 640
"""Longer side of the small pictures on the page [pixels]."""

_NAMES = (".tif", ".tiff")


@dataclass(frozen=True)
class PictureLight:
    """The request for the way in which a picture's numbers stand for density; an empty text was not given.

    Attributes:
        encoding: the rule by which the picture's numbers follow light.
        clear, dark: numbers of the open and of the closed gate.
        calibration: a calibration that a scan kept.
        other_reader: True to go on where another reader read the strip.
    """

    encoding: str = ""
    clear: str = ""
    dark: str = ""
    calibration: Path | None = None
    other_reader: bool = False


@dataclass(frozen=True, eq=False)
class BalancedPicture:
    """A picture that was balanced.

    Attributes:
        source, path: the picture, and the balanced picture.
        before, after: light of both, made small, (rows, columns, samples) [of full scale].
        beyond: share of the pixels beyond the densities that the strip shows, by channel [unitless].
        doubt: why the picture may be encoded otherwise than it was read, as a clause; "" if nothing says so.
    """

    source: Path
    path: Path
    before: FloatArray
    after: FloatArray
    beyond: dict[Channel, float]
    doubt: str


def light_of(path: Path, strip: Strip, light: PictureLight) -> tuple[Calibration, Encoding]:
    """Return the calibration of the pictures, and their encoding.

    Args:
        path, strip: the strip's file, and the strip.
        light: the way in which numbers stand for density.

    Raises:
        RecordError: another reader read the strip, or the light of the open gate or the encoding is not given.
    """
    if not light.other_reader:
        _refuse_other_reader(strip)
    found, stored = _calibration(path, strip, light)
    encoding = parse_encoding(light.encoding) if light.encoding else stored
    if encoding is None:
        raise RecordError(
            "the rule by which the picture's numbers follow light is not given",
            where=strip.title,
            needed="linear, srgb, or gamma:N, such as gamma:2.2",
            settings=("encoding=srgb",),
        )
    return found, encoding


def _refuse_other_reader(strip: Strip) -> None:
    if strip.density == "scan":
        return
    raise RecordError(
        f"the strip was not scanned: its densities ({strip.density}) are not those that a scanner sees in the same"
        " dyes, and a correction by them leaves casts of unknown size",
        where=strip.title,
        needed="the record of a scan of the strip, by the scanner and with the settings of the pictures",
        hint="scan the strip (curves scan), and balance by that record; or go on with what is lost",
        settings=("other_reader",),
    )


def _calibration(path: Path, strip: Strip, light: PictureLight) -> tuple[Calibration, Encoding | None]:
    """Return the calibration of the pictures and the encoding that it was made with, None where none is known."""
    kept = light.calibration or (scan_of(path).calibration if strip.scan is not None else None)
    if kept is not None:
        if light.clear or light.dark:
            raise RecordError(
                "values are given, but a calibration gives clear and dark already",
                where="clear",
                needed="one of them",
                settings=("clear",),
            )
        stored = read_calibration(kept)
        return stored.calibration(), stored.encoding
    if not light.clear:
        raise RecordError(
            "the light of the open gate is not given, so the densities of a picture are not known",
            where=strip.title,
            needed="the calibration that a scan by this scanner kept, or the number of the open gate in its pictures",
            settings=("calibration", "clear=60000"),
        )
    encoding = parse_encoding(light.encoding) if light.encoding else None
    samples = len(channels_to_balance(strip))
    clear, dark = (_level(text, samples, setting) for text, setting in ((light.clear, "clear"), (light.dark, "dark")))
    if encoding is not None:
        clear, dark = encoding.linearise(clear), encoding.linearise(dark)
    return Calibration(channels_of(samples), clear, dark, assumed_dark=not light.dark), encoding


def _level(text: str, samples: int, setting: str) -> FloatArray:
    """Return the numbers of an open or closed gate, (samples,) [of full scale]; zero where none is given."""
    if not text:
        return np.zeros(samples)
    facts = Facts(Path(setting), 1, 1, samples, 16, None, "")
    values = reference(text, facts, setting).values
    if values is None:
        raise RecordError(
            f"'{text}' is not a number of the gate",
            where=setting,
            needed="a number from 0 to 65535, or three with commas",
            settings=(setting,),
        )
    return values


def refuse_output(picture: Path, into: Path) -> None:
    """Refuse a name for the balanced picture under which something would be lost.

    Raises:
        OutputError: the file is the picture itself, or does not have the name of a TIFF file.
    """
    if into.exists() and picture.exists() and into.samefile(picture):
        raise OutputError(
            "this is the picture itself, which is not changed",
            where=str(into),
            hint="give another name",
            settings=("into",),
        )
    if into.suffix.lower() not in _NAMES:
        raise OutputError(f"{into} is not the name of a TIFF file", where="into", needed="a name in .tif",
                          settings=("into",))  # fmt: skip


def apply_to(picture: Path, into: Path, table: ValueTable) -> BalancedPicture:
    """Write the balanced picture: 16 bits stay 16, profile and resolution are kept, the picture stays as it is.

    Args:
        picture: a TIFF file of 16 bits.
        into: the balanced picture.
        table: the map.

    Raises:
        RecordError: the picture cannot be read, or is not one of 16 bits and of the map's channels.
        OutputError: there is another file of the balanced picture's name, or it could not be written.
    """
    refuse_output(picture, into)
    with Scan(picture, table.encoding) as scan:
        facts, doubt = scan.facts, scan.doubt()
        _check(facts, table)
        before, _ = scan.image.reduced(_PREVIEW)
        outside = np.zeros(facts.samples)
        header = TiffHeader(facts.width, facts.height, facts.samples, facts.dpi, facts.profile)
        write_tiff(into, header, _strips(scan.image, header.rows, table, outside))
    with open_image(into) as written:
        after, _ = written.reduced(_PREVIEW)
    share = outside / (facts.width * facts.height)
    beyond = {c: float(s) for c, s in zip(table.channels, share, strict=True)}
    linear = table.encoding.linearise
    return BalancedPicture(picture, into, linear(before), linear(after), beyond, doubt)


def _strips(image: Image, rows: int, table: ValueTable, outside: FloatArray) -> Iterator[NDArray[np.uint16]]:
    """Yield the balanced rows of a picture, some at a time, and count pixels outside of what the strip shows."""
    facts = image.facts
    for top in range(0, facts.height, rows):
        numbers = image.region(top, 0, min(top + rows, facts.height), facts.width)
        assert numbers.dtype == np.uint16, "a picture of 16 bits was checked"
        for sample in range(facts.samples):
            outside[sample] += np.count_nonzero(table.beyond[:, sample][numbers[..., sample]])
        yield table.applied(numbers.astype(np.uint16, copy=False))


def _check(facts: Facts, table: ValueTable) -> None:
    """Refuse a picture that the map is not made for."""
    name = facts.path.name
    if facts.path.suffix.lower() not in _NAMES or facts.bits != 16:
        raise RecordError(
            f"the picture has {facts.bits} bits" if facts.bits != 16 else "the picture is not a TIFF file",
            where=name,
            needed="a TIFF file of 16 bits: with fewer, the correction leaves steps that show",
            hint="scan, or save, with 16 bits",
        )
    if facts.samples != len(table.channels):
        kinds = {1: "grey", 3: "colour"}
        raise RecordError(
            f"the picture is {kinds[facts.samples]}, and the strip was read in {kinds[len(table.channels)]}",
            where=name,
            needed="strip and picture scanned alike",
        )


def balance_notes(balance: Balance, picture: BalancedPicture | None) -> list[str]:
    """Return the remarks that belong to a correction, each a sentence, the worst first."""
    strip = balance.analysis.strip
    notes: list[str] = []
    if strip.scan is not None:
        notes += strip.scan.doubts
    elif strip.density == "scan":
        notes.append(
            "The record does not name the scan of its densities: the correction holds only for pictures by the same"
            " scanner with the same settings."
        )
    else:
        notes.append(
            f"The strip was not scanned: its densities are {strip.density}, and a scanner sees the same dyes through"
            " filters of its own. Greys of a scan that is corrected by this strip keep casts that nothing here can"
            " tell: scan the strip on the scanner of the pictures (curves scan), and balance by that record."
        )
    if picture is not None:
        if picture.doubt:
            notes.append(f"The picture may be encoded otherwise than it was read: {picture.doubt}.")
        shares = ", ".join(f"{c} {100.0 * share:.1f} %" for c, share in picture.beyond.items())
        notes.append(f"Of the picture's pixels, these lie beyond the densities that the strip shows: {shares}.")
    ends = ", ".join(f"{c} {m.known[0]:.2f} to {m.known[1]:.2f}" for c, m in balance.maps.items())
    notes.append(f"The strip shows these densities: {ends}. Beyond them the map goes on straight, by its last slope.")
    notes += _of_contrast(balance)
    if len(balance.maps) > 1:
        light = f" ({strip.exposure.light})" if strip.exposure.light.strip() else ""
        notes += [
            f"Greys become neutral for the light that the strip was exposed by{light}; a scene in other light keeps its"
            " colour.",
            "Three curves cannot mend what dyes and layers mix: a dye absorbs beside its own band, and a layer acts on"
            " its neighbours. Colours keep that; only greys are made right.",
        ]
    return notes


def _of_contrast(balance: Balance) -> Iterator[str]:
    """Remark on the low contrast that a positive has from a negative, where no other is asked for."""
    target = balance.target
    own = balance.analysis.channels[target.channel].measures["gamma"].value
    if target.kind == "negative" and target.gamma is None and own is not None:
        yield (
            f"The positive has the low contrast of the negative (gamma {own:.2f}); at gamma 1 it has the contrast of"
            " the scene."
        )
