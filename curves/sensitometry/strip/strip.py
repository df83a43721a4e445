"""One exposed and processed strip, and all that is known about it."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal

import numpy as np

from curves.errors import StripError
from curves.sensitometry.core.units import CHANNELS, Channel, DensityKind, FloatArray, Kind, exact_ei
from curves.sensitometry.strip.exposure import Camera, Contact, Exposure, LogHUnit, Position
from curves.sensitometry.strip.metering import Metering, metered_exposure
from curves.sensitometry.strip.reciprocity import Reciprocity
from curves.sensitometry.strip.scan_origin import ScanOrigin
from curves.sensitometry.strip.wedge import Wedge

Patch = Mapping[Channel, float]


@dataclass(frozen=True)
class Patches:
    """Single densities read beside the wedge, by channel [density]; empty where not read.

    Attributes:
        base: the support with no image and no fog.
        unexposed: film that saw no light and went through the whole process.
        fully_exposed: film exposed far beyond the wedge's clear end, through the whole process.
    """

    base: Patch = field(default_factory=dict)
    unexposed: Patch = field(default_factory=dict)
    fully_exposed: Patch = field(default_factory=dict)

    def divided(self, callier: float) -> Patches:
        """Return the patches with specular densities turned into diffuse ones by one factor [unitless]."""
        patches = (self.base, self.unexposed, self.fully_exposed)
        return Patches(*({channel: d / callier for channel, d in patch.items()} for patch in patches))


def diffuse(density: FloatArray, callier: float | None) -> FloatArray:
    """Return diffuse densities from those of a specular instrument, any shape [density]; as they are if None.

    The Callier factor is specular over diffuse density. It grows with grain and changes with density: one number for
    all of a strip is an approximation.
    """
    return density if callier is None else density / callier


@dataclass(frozen=True)
class FilterUsed:
    """A filter that was in front of the lens.

    Attributes:
        name: what it is called.
        metered: whether the meter looked through it.
        factor: what a meter takes it for [unitless]; None if not given.
        uncertainty_stops: standard uncertainty of a meter that looks through it, against the film [stops]; None if
            nobody gave it.
    """

    name: str
    metered: Literal["through", "without"] = "without"
    factor: float | None = None
    uncertainty_stops: float | None = None


@dataclass(frozen=True, eq=False)
class Strip:
    """One strip.

    Attributes:
        title: what to call it.
        kind: "negative" (density rises with exposure) or "reversal" (density falls).
        density: what kind of density was read.
        exposure: how the strip was exposed.
        position: one entry per reading row, in the order of the file: step number for contact and camera, stops
            for frames, log H where it was given.
        readings: density by channel, each 1-D with one entry per row, NaN where not read [density]. Rows at the
            same position are repeats.
        wedge: needed for contact and camera exposures.
        labels: what the file called each row ("step 4", "EI 50"), one per row.
        patches: densities read beside the wedge.
        repeatability: standard deviation of one reading [density]; None if not given.
        reader: what the instrument is called; strips of one reader share the error of its zero.
        reader_zero: standard uncertainty of its zero, common to a channel [density]; None if not given.
        reader_scale: standard uncertainty of its scale, as a fraction of density [unitless]; None if not given.
        filters: what was in front of the lens.
        reciprocity: how the film fails at long exposures; None if nobody said.
        meter_constant: K of the meter that the index is meant for [cd s / m2]; None if not given.
        callier: factor by which specular densities were divided to make the readings; None if they are as read.
        scan: the scan that the readings come from; None if an instrument read them.
        film, process, date, notes: for the reader.
        sample: what the readings stand for, such as "mean of 4 strips of 2 rolls"; empty if not given.
        assumptions: what was taken for granted because nobody said, each a sentence.
    """

    title: str
    kind: Kind
    density: DensityKind
    exposure: Exposure
    position: FloatArray
    readings: Mapping[Channel, FloatArray]
    wedge: Wedge | None = None
    labels: tuple[str, ...] = ()
    patches: Patches = field(default_factory=Patches)
    repeatability: float | None = None
    reader: str = ""
    reader_zero: float | None = None
    reader_scale: float | None = None
    filters: tuple[FilterUsed, ...] = ()
    reciprocity: Reciprocity | None = None
    meter_constant: float | None = None
    callier: float | None = None
    scan: ScanOrigin | None = None
    film: str = ""
    process: str = ""
    sample: str = ""
    date: datetime.date | None = None
    notes: str = ""
    assumptions: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if not self.readings:
            raise StripError("no channel was read", where=self.title, needed="at least one of " + ", ".join(CHANNELS))
        for channel, values in self.readings.items():
            if values.shape != self.position.shape:
                raise StripError(
                    f"{channel} has {values.size} readings for {self.position.size} rows", where=self.title
                )
        if not np.isfinite(self.position).all():
            raise StripError("the position of a row is not a number", where=self.title)
        if isinstance(self.exposure, Contact | Camera):
            self._check_steps(self.exposure)
        if self.scan is not None and not all(1 <= flag.patch <= self.position.size for flag in self.scan.flags):
            raise StripError(
                "its scan says what to mind of a reading that is not there",
                where=self.title,
                needed=f"rows from 1 to {self.position.size}",
            )
        if not self.labels:
            object.__setattr__(self, "labels", tuple(self._label(p) for p in self.position))

    def _check_steps(self, exposure: Contact | Camera) -> None:
        """Refuse a missing wedge and steps that it does not have."""
        if self.wedge is None:
            raise StripError("exposed through a wedge, but no wedge is described", where=self.title)
        named = [*self.position, *([exposure.metered_step] if isinstance(exposure, Camera) else [])]
        for step in named:
            if step != int(step) or not 1 <= step <= self.wedge.steps:
                raise StripError(
                    f"there is no step {step:g}", where=self.title, needed=f"whole steps from 1 to {self.wedge.steps}"
                )

    def _label(self, position: float) -> str:
        word: Position = self.exposure.positions[0]
        number = f"{position:g}" if word == "step" else f"{position:+.2f}"
        return f"{word.replace('_', ' ')} {number}"

    @property
    def channels(self) -> tuple[Channel, ...]:
        """The channels that were read, in the order red, green, blue, visual."""
        return tuple(c for c in CHANNELS if c in self.readings)

    @property
    def log_h_unit(self) -> LogHUnit:
        """What log H counts from."""
        return self.exposure.unit

    @property
    def metering(self) -> Metering:
        """The origin of log H, and the exposure that a meter's index stands for."""
        k, tested = metered_exposure(self.meter_constant), self.exposure.ei
        return Metering(k if tested is None else float(exact_ei(tested)), k, metered=tested is not None)

    @cached_property
    def log_h(self) -> FloatArray:
        """log10 exposure of each row, 1-D, in the order of the rows [log10; see `log_h_unit`]."""
        return self.exposure.log_h(self.position, self.wedge)

    @cached_property
    def step_of_row(self) -> np.ndarray[tuple[int], np.dtype[np.intp]]:
        """Step number of each row, 1-D, from 1: the wedge's own, else counted from the most exposed position."""
        if isinstance(self.exposure, Contact | Camera):
            return np.asarray(self.position, dtype=np.intp)
        _, counted = np.unique(-self.position, return_inverse=True)
        return np.asarray(counted + 1, dtype=np.intp)
