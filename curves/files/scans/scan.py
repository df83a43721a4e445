"""A picture whose numbers are read as light: all of it made small, an area measured, a ladder of steps found."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from types import TracebackType
from typing import Self

import numpy as np

from curves.errors import RecordError
from curves.files.pictures.image import Image, open_image
from curves.sensitometry.core.units import FloatArray, Kind
from curves.sensitometry.scan.encoding import LINEAR, Encoding, disagreement, signs_of_encoding
from curves.sensitometry.scan.ladder import Ladder, LadderSearch, find_ladder
from curves.sensitometry.scan.patch_light import FEWEST_PIXELS, PatchLight, patch_light, pixels_inside

MOST_PIXELS = 2_000_000
"""Pixels of an area that are measured at most; of a larger one its middle: our own choice [unitless]."""

_LONGEST = 1200


class Scan:
    """An open picture whose numbers are read as light. A context manager.

    Args:
        path: the picture.
        encoding: the rule by which numbers stand for light.

    Raises:
        RecordError: the picture cannot be read.
    """

    def __init__(self, path: Path, encoding: Encoding) -> None:
        self.image: Image = open_image(path)
        self.facts = self.image.facts
        self.encoding = encoding
        self.full_scale = float(2**self.facts.bits - 1)
        self._small: tuple[FloatArray, int] | None = None
        self._whole: tuple[FloatArray, int] | None = None

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.image.close()

    def whole(self) -> tuple[FloatArray, int]:
        """Return light of the whole picture made small, (rows, columns, samples) [of full scale], and the factor."""
        if self._small is None:
            # The whole file is read for this: once is enough.
            self._small = self.image.reduced(_LONGEST)
        if self._whole is None:
            self._whole = self.encoding.linearise(self._small[0]), self._small[1]
        return self._whole

    def read_as(self, encoding: Encoding) -> None:
        """Read the numbers as light by another encoding from now on."""
        self.encoding, self._whole = encoding, None

    def area(self, corners: FloatArray) -> tuple[PatchLight, ...]:
        """Measure an area in each sample: of a large area the middle, of one partly outside the picture the inner part.

        Args:
            corners: going round, (4, 2) [pixels].

        Raises:
            RecordError: the area has too few pixels.
        """
        corners = _middle(corners)
        low = np.maximum(np.floor(corners.min(axis=0)).astype(int), 0)
        high = np.minimum(np.ceil(corners.max(axis=0)).astype(int), [self.facts.width, self.facts.height])
        if (high <= low).any():
            raise RecordError("an area lies outside the picture", where=self.facts.path.name)
        within = pixels_inside(corners - low, int(high[1] - low[1]), int(high[0] - low[0]))
        if within.sum() < FEWEST_PIXELS:
            raise RecordError(
                f"an area has only {int(within.sum())} pixels",
                where=self.facts.path.name,
                needed=f"at least {FEWEST_PIXELS}",
                hint="scan at a higher resolution",
            )
        numbers = self.image.region(int(low[1]), int(low[0]), int(high[1]), int(high[0]))
        found = []
        for sample in range(self.facts.samples):
            raw = numbers[..., sample] / self.full_scale
            found.append(patch_light(self.encoding.linearise(raw), raw, within))
        return tuple(found)

    def code_at(self, light: FloatArray) -> FloatArray:
        """Return the light that one step of the picture's numbers is worth at a light, any shape [of full scale]."""
        step = self.facts.step / self.full_scale
        numbers = np.clip(self.encoding.numbers(light), 0.0, 1.0)
        low, high = np.maximum(numbers - 0.5 * step, 0.0), np.minimum(numbers + 0.5 * step, 1.0)
        return np.asarray((self.encoding.linearise(high) - self.encoding.linearise(low)) * step / (high - low))

    def lights(self, areas: Sequence[FloatArray]) -> FloatArray:
        """Return the mean light of several areas, (areas, samples) [of full scale]."""
        return np.array([[found.light for found in self.area(corners)] for corners in areas])

    def doubt(self) -> str:
        """Return the reason to think that the picture is encoded otherwise than it is read, as a clause; "" if none."""
        if self.facts.stated and (found := disagreement(self.encoding, self.facts.stated)):
            off, level = found
            says = self.facts.encoded or "it states numbers in proportion to light"
            return f"{says}; if that is right, densities are {abs(off):.2f} off at {level:.1f}"
        return self.signs() if self.encoding == LINEAR else ""

    def signs(self) -> str:
        """Return the reason to think that the picture is encoded for display, as a clause; "" if there is none."""
        if self.facts.encoded:
            return self.facts.encoded
        if self.facts.dark:  # the sensor's own numbers
            return ""
        height, width = min(self.facts.height, 700), min(self.facts.width, 700)
        top, left = (self.facts.height - height) // 2, (self.facts.width - width) // 2
        return signs_of_encoding(self.image.region(top, left, top + height, left + width), self.facts.bits)


def _middle(corners: FloatArray) -> FloatArray:
    """Return the corners of an area, or of its middle if the area has more pixels than are measured."""
    extent = float(np.prod(np.ptp(corners, axis=0)))
    if extent <= MOST_PIXELS:
        return corners
    centre = corners.mean(axis=0)
    return np.asarray(centre + (corners - centre) * (MOST_PIXELS / extent) ** 0.5)


def another(scan: Scan, path: Path) -> Scan:
    """Open another scan of the same settings.

    Raises:
        RecordError: the other scan cannot be read, or has other samples or bits.
    """
    other = Scan(path, scan.encoding)
    if (other.facts.samples, other.facts.bits) != (scan.facts.samples, scan.facts.bits):
        other.image.close()
        raise RecordError(
            f"the scan has {other.facts.samples} samples of {other.facts.bits} bits, and {scan.facts.path.name}"
            f" {scan.facts.samples} of {scan.facts.bits}",
            where=path.name,
            needed="scans made with the same settings",
        )
    return other


def find_in(scan: Scan, steps: int, kind: Kind, area: FloatArray | None) -> LadderSearch:
    """Find the ladder of steps in a scan, or in an area of it.

    Args:
        scan: the picture.
        steps: how many steps there are.
        kind: negative or reversal, which tells the end of step 1.
        area: corners of the area to look in, (4, 2) [pixels]; all of it if None.

    Returns:
        The search, its ladders in the scan's own pixels.
    """
    whole, factor = scan.whole()
    if area is None:
        return _moved(find_ladder(whole, steps, kind), factor, np.zeros(2))
    low, high = np.floor(area.min(axis=0) / factor).astype(int), np.ceil(area.max(axis=0) / factor).astype(int)
    part = whole[low[1] : high[1], low[0] : high[0]]
    return _moved(find_ladder(part, steps, kind), factor, low.astype(np.float64) * factor)


def _moved(search: LadderSearch, factor: int, by: FloatArray) -> LadderSearch:
    ladder, looked = (
        None if found is None else Ladder(found.corners * factor + by, found.steps)
        for found in (search.ladder, search.looked)
    )
    return replace(search, ladder=ladder, looked=looked)
