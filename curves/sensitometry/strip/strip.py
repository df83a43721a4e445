"""One exposed and processed strip, and all that is known about it."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import get_args

import numpy as np

from curves.errors import StripError
from curves.sensitometry.core.reader_units import ASSUMED_SCATTER, DENSITOMETER, ReaderScale
from curves.sensitometry.core.units import (
    CHANNELS,
    DENSITY_KINDS,
    KINDS,
    PATCH_NAMES,
    Channel,
    DensityKind,
    FloatArray,
    Kind,
    exact_ei,
)
from curves.sensitometry.core.values import (
    ANY_NUMBER,
    DENSITY,
    FRACTION,
    METER_CONSTANT,
    READING,
    Bounds,
    Numbers,
    check_fields,
    number,
    part,
    short_repr,
    store,
    text,
    word,
)
from curves.sensitometry.strip.consistency import (
    by_channel,
    check_exposure,
    checked_judgements,
    checked_positions,
    checked_readings,
    every_step,
)
from curves.sensitometry.strip.exposure import Camera, Contact, Exposure, Judgement, LogHUnit, Position
from curves.sensitometry.strip.metering import FilterUsed, Metering, metered_exposure
from curves.sensitometry.strip.origin import PlannedEnds, PlannedNumber, ScanOrigin, StatusMatch
from curves.sensitometry.strip.reciprocity import Reciprocity
from curves.sensitometry.strip.wedge import Wedge

Patch = Mapping[Channel, float]

CALLIER = Bounds(least=1.0, below=3.0)
"""A Callier factor: specular over diffuse density [unitless]."""

REPEATABILITY = Bounds(above=0.0, below=1.0)
"""A standard deviation of one reading [density]."""


@dataclass(frozen=True)
class Patches:
    """Single densities read beside the wedge, by channel [density]; empty where not read.

    Attributes:
        base: the support with no image and no fog.
        unexposed: film that saw no light and went through the whole process.
        fully_exposed: film exposed far beyond the wedge's clear end, through the whole process.

    Raises:
        StripError: a channel is not known, or a density is not one that an instrument shows.
    """

    base: Patch = field(default_factory=dict)
    unexposed: Patch = field(default_factory=dict)
    fully_exposed: Patch = field(default_factory=dict)
    __repr__ = short_repr

    def __post_init__(self) -> None:
        for name in PATCH_NAMES:
            patch = getattr(self, name)
            if not isinstance(patch, Mapping):
                raise StripError(
                    f"{patch!r} is not a patch", where=f"Patches, {name}", needed='densities such as {"visual": 0.21}'
                )
            where = f"Patches, {name}"
            found = {
                word(channel, CHANNELS, where): number(density, f"{where}, {channel}", READING)
                for channel, density in patch.items()
            }
            store(self, name, found)

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


@dataclass(frozen=True, eq=False, repr=False)
class Strip:
    """One strip, exposed, processed and read; `Strip.from_readings` makes one from lists.

    Attributes:
        title: what to call it.
        kind: "negative" (density rises with exposure) or "reversal" (density falls).
        density: the kind of density that was read: "status A", "status M", "visual" or "scan".
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
        read_as: the scale on which the strip was read; a densitometer's if not given.
        repeatability_assumed: True if `repeatability` is assumed for that scale, not given.
        filters: what was in front of the lens.
        reciprocity: how the film fails at long exposures; None if not given.
        meter_constant: K of the meter that the index is meant for [cd s / m2]; None if not given.
        callier: factor by which specular densities were divided to make the readings; None if they are as read.
        scan: the scan that the readings come from; None if an instrument read them.
        match: how the scan's densities were matched to `density`; None if they were not.
        planned: what a plan expected of the strip before it was exposed; None where there was no plan.
        film, process, date, notes: for the reader.
        sample: what the readings stand for, such as "mean of 4 strips of 2 rolls"; empty if not given.
        batch: what control strips exposed in one session are called; empty if not given.
        run: what tells one run of the process from others of the same date; empty if not given.
        conditions: what was varied, such as {"first_developer_minutes": 7.0}, each a number.
        assumptions: what is assumed in place of what was not given, each a sentence.
        judgements: what the eye made of the frame of each row, one per row: "too dark", "right", "too light", None
            where a frame was not judged; empty where none was. A strip with judgements may have no readings.

    Raises:
        StripError: a word is not known, a number is out of range, or the parts do not belong together.
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
    read_as: ReaderScale = field(default_factory=ReaderScale)
    repeatability_assumed: bool = False
    filters: tuple[FilterUsed, ...] = ()
    reciprocity: Reciprocity | None = None
    meter_constant: float | None = None
    callier: float | None = None
    scan: ScanOrigin | None = None
    match: StatusMatch | None = None
    planned: PlannedEnds | PlannedNumber | None = None
    film: str = ""
    process: str = ""
    sample: str = ""
    batch: str = ""
    run: str = ""
    date: datetime.date | None = None
    notes: str = ""
    assumptions: tuple[str, ...] = ()
    conditions: Mapping[str, float] = field(default_factory=dict)
    judgements: tuple[Judgement | None, ...] = ()

    def __post_init__(self) -> None:
        text(self.title, "Strip, title")
        word(self.kind, KINDS, f"{self.title}, kind")
        word(self.density, DENSITY_KINDS, f"{self.title}, density")
        self._check_parts()
        store(self, "position", checked_positions(self.position, self.title))
        judged = checked_judgements(self.judgements, self.exposure, self.position.size, self.title)
        store(self, "judgements", judged)
        if self.readings or not any(judged):
            store(self, "readings", checked_readings(self.readings, self.position, self.density, self.title))
        check_exposure(self.exposure, self.wedge, self.position, self.title)
        self._place_grey_frame()
        if not self.labels:
            store(self, "labels", tuple(self._label(p) for p in self.position))
        if len(self.labels) != self.position.size:
            raise StripError(f"{len(self.labels)} labels for {self.position.size} rows", where=self.title)
        self._check_scan()

    def _check_parts(self) -> None:
        """Refuse what is of another type than it must be, and numbers out of range."""
        for name, types in _PARTS.items():
            part(getattr(self, name), types, f"{self.title}, {name}")
        for name in ("reader", "film", "process", "sample", "batch", "run", "notes"):
            text(getattr(self, name), f"{self.title}, {name}")
        for name in ("filters", "labels", "assumptions"):
            store(self, name, tuple(getattr(self, name)))
        if not all(isinstance(used, FilterUsed) for used in self.filters):
            raise StripError("a filter is not described", where=self.title, needed="FilterUsed(name) for each")
        check_fields(self, repeatability=REPEATABILITY, reader_zero=DENSITY, reader_scale=FRACTION)
        check_fields(self, callier=CALLIER, meter_constant=METER_CONSTANT)
        stated = {k: number(v, f"{self.title}, condition {k}", ANY_NUMBER) for k, v in self.conditions.items()}
        store(self, "conditions", stated)

    def _place_grey_frame(self) -> None:
        """Find a metered grey frame on the strip's own readings: it is where log H counts from."""
        if isinstance(self.exposure, Contact):
            placed = self.exposure.placed(self.position, self.wedge, self.readings, self.kind, self.repeatability)
            store(self, "exposure", placed)

    def _check_scan(self) -> None:
        if self.scan is not None and not all(1 <= flag.patch <= self.position.size for flag in self.scan.flags):
            raise StripError(
                "the scan's remarks name a reading that is not there",
                where=self.title,
                needed=f"rows from 1 to {self.position.size}",
            )

    def __repr__(self) -> str:
        read = " ".join(dict.fromkeys((self.density, *self.channels)))
        steps = np.unique(self.position).size
        span = f"log H {self.log_h.min():.2f} to {self.log_h.max():.2f}"
        return f"Strip({self.title!r}, {self.kind}, {read}, {steps} steps, {span})"

    @classmethod
    def from_readings(
        cls,
        readings: Mapping[Channel, Numbers] | Mapping[str, Numbers] | Numbers,
        *,
        kind: Kind,
        exposure: Exposure,
        wedge: Wedge | None = None,
        positions: Numbers | None = None,
        density: DensityKind | None = None,
        title: str = "strip",
        labels: tuple[str, ...] = (),
        patches: Patches | None = None,
        repeatability: float | None = None,
        reader: str = "",
        reader_zero: float | None = None,
        reader_scale: float | None = None,
        read_as: ReaderScale = DENSITOMETER,
        filters: tuple[FilterUsed, ...] = (),
        reciprocity: Reciprocity | None = None,
        meter_constant: float | None = None,
        film: str = "",
        process: str = "",
        sample: str = "",
        batch: str = "",
        run: str = "",
        date: datetime.date | None = None,
        notes: str = "",
        assumptions: tuple[str, ...] = (),
        conditions: Mapping[str, float] | None = None,
        judgements: tuple[Judgement | None, ...] = (),
    ) -> Strip:
        """Make a strip from lists of densities.

        Example:
            >>> strip = Strip.from_readings(
            ...     [0.32, 0.33, 0.37, 0.48, 0.74, 1.13, 1.62, 2.11, 2.48, 2.66, 2.71],
            ...     kind="reversal",
            ...     exposure=Contact(lux=500.0, seconds=0.02),
            ...     wedge=Wedge.nominal(11, 0.30),
            ...     title="Wren 25, reversal",
            ... )
            >>> strip
            Strip('Wren 25, reversal', reversal, visual, 11 steps, log H -2.05 to 0.95)

        Args:
            readings: densities by channel, {"red": [...], "green": [...], "blue": [...]}, a pandas table of such
                columns, or a single list, which is visual density [density]. Lists, tuples, arrays and Series are
                taken; None and NaN stand for a patch that was not read.
            kind: "negative" or "reversal".
            exposure: `Contact`, `Camera`, `Frames` or `GivenExposure`.
            wedge: the wedge of a `Contact` or `Camera` exposure.
            positions: what each reading belongs to: step number, stops for `Frames`, log H for `GivenExposure`. None
                stands for every step of the wedge in order, from step 1, the clear end.
            density: kind of density; None for "visual" where that is the only channel, else "status A" for a reversal
                and "status M" for a negative, which is then listed among the strip's assumptions.
            title: what to call the strip.
            labels, patches, repeatability, reader, reader_zero, reader_scale: as for `Strip`.
            read_as: the scale on which the densities were read; the repeatability of a meter is assumed if not given.
            filters, reciprocity, meter_constant, film, process, sample, batch, run: as for `Strip`.
            date, notes, assumptions, conditions: as for `Strip`.
            judgements: as for `Strip`; the readings may then be an empty mapping.

        Raises:
            StripError: as for `Strip`; or the positions cannot be told.
        """
        channels = by_channel(readings, title)
        part(exposure, get_args(Exposure), f"{title}, exposure")
        rows = max((values.size for values in channels.values()), default=0)
        if positions is None:
            positions = every_step(rows, exposure, wedge, title)
        if density is None and set(channels) <= {"visual"}:
            density = "visual"
        elif density is None:
            density = "status A" if kind == "reversal" else "status M"
            assumptions = (*assumptions, f"The kind of density was not given; {density} is assumed.")
        return cls(
            title=title,
            kind=kind,
            density=density,
            exposure=exposure,
            position=checked_positions(positions, title),
            readings=channels,
            wedge=wedge,
            labels=labels,
            patches=Patches() if patches is None else patches,
            repeatability=ASSUMED_SCATTER.get(read_as.unit) if repeatability is None else repeatability,
            repeatability_assumed=repeatability is None and read_as.by_meter,
            read_as=read_as,
            reader=reader,
            reader_zero=reader_zero,
            reader_scale=reader_scale,
            filters=filters,
            reciprocity=reciprocity,
            meter_constant=meter_constant,
            film=film,
            process=process,
            sample=sample,
            batch=batch,
            run=run,
            date=date,
            notes=notes,
            assumptions=assumptions,
            conditions=conditions or {},
            judgements=judgements,
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
        """The exposure that log H counts from."""
        return self.exposure.unit

    @property
    def metering(self) -> Metering:
        """The exposure that log H counts from, and the exposure that a meter's index stands for."""
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


_PARTS: dict[str, tuple[type, ...]] = {
    "exposure": get_args(Exposure),
    "wedge": (Wedge, type(None)),
    "patches": (Patches,),
    "read_as": (ReaderScale,),
    "reciprocity": (*get_args(Reciprocity), type(None)),
    "conditions": (Mapping,),
    "scan": (ScanOrigin, type(None)),
    "match": (StatusMatch, type(None)),
    "date": (datetime.date, type(None)),
}
"""What each part of a strip must be."""
