"""Exposures and readings that can come next: what each costs, and the strip that its record would describe."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from curves.sensitometry.core.units import PATCH_NAMES, STOP, Channel, Kind, PatchName, exact_ei, nominal_speed
from curves.sensitometry.strip.exposure import Camera, Contact, Frames, GivenExposure
from curves.sensitometry.strip.strip import Patches, Strip
from curves.sensitometry.uncertainty.results import Analysis

Means = Literal["again", "readings", "patch", "camera", "bracket", "filter"]
"""What can come next: the same strip exposed again, more readings of it, a patch, the wedge photographed, a bracket of
a grey card, and the same strip by the same light with a filter in front where it had none, or without it."""

STEP_CM = 0.5
"""Length of film under one step of a wedge: wedges for narrow film have steps of about 5 mm, common practice [cm]."""

PATCH_CM = 2.0
"""Length of film of one patch that an instrument reads with ease: common practice [cm]."""

OFFSETS = (-2.0, -1.0, 0.0, 1.0, 2.0)
"""Exposures of a second strip beside that of the first: our own choice [stops]."""

FURTHER = (1.0, 2.0, 3.0, 4.0)
"""Exposures tried, the one way or the other, where a strip ended early: our own choice [stops]."""

READING_COUNTS = (3, 5)
"""Readings of each step, those at hand included: our own choice."""

BRACKETS = ((5, 1, 1), (5, 2, 0), (5, 2, 1), (9, 1, 0), (9, 1, 1))
"""Frames of a bracket, stops from one to the next, and stops of exposure by which the middle one may lie beyond the
index: our own choice."""

LESS_LIT: dict[Kind, float] = {"reversal": 0.0, "negative": 2.0}
"""Exposure by which a photographed wedge gets less than the strip: stray light comes from its clear step, and lies on
the speed point of a negative, which is far down the wedge; our own choice [stops]."""


@dataclass(frozen=True)
class Proposal:
    """One thing that can come next.

    Attributes:
        way: what it is.
        film_cm: length of film that it takes [cm]; 0.0 for frames and for readings alone.
        frames: frames that it takes [unitless].
        to_read: densities to read, in each channel [unitless].
        offset_stops: exposure beside that of the first strip, + is more [stops].
        readings: readings of each step when it is done [unitless].
        patch: which patch is read, by itself or beside the strip.
        indexes: index of each frame, the most exposed first; of the photographed wedge, what the meter is set to
            [unitless].
        metered_step: step of the photographed wedge that the meter reads.
    """

    way: Means
    film_cm: float
    frames: int
    to_read: int
    offset_stops: float = 0.0
    readings: int = 1
    patch: PatchName | None = None
    indexes: tuple[float, ...] = ()
    metered_step: int | None = None

    @property
    def key(self) -> str:
        """Short name: "again +1", "readings 3", "patch base", "camera 25", "bracket 50 25 12 6"."""
        what = {
            "again": f"{self.offset_stops:+g}",
            "readings": str(self.readings),
            "patch": str(self.patch),
        }.get(self.way, " ".join(f"{index:g}" for index in self.indexes))
        return f"{self.way} {what}".rstrip()

    @property
    def exposes(self) -> bool:
        """True if the proposal is a strip of its own that shows the number too, beside the first."""
        return self.way in ("again", "camera", "bracket")


def proposals(analysis: Analysis, frames: int) -> list[Proposal]:
    """Return all exposures and readings that can come after a strip.

    Args:
        analysis: results of the strip.
        frames: frames of a bracket, at most.
    """
    strip = analysis.strip
    return [
        *_again(analysis),
        *_readings(strip),
        *_patches(analysis),
        *_metered(analysis, frames),
        *_filter(strip),
    ]


def _again(analysis: Analysis) -> Iterator[Proposal]:
    """Yield the same strip with other exposures: further that way in which the strip ended early, or about its own."""
    strip = analysis.strip
    steps = np.unique(strip.position).size
    bracketed = isinstance(strip.exposure, Frames)
    found = analysis.channels[analysis.working_ei.channel].measures
    reversal = strip.kind == "reversal"
    most = found["dmin" if reversal else "dmax"].value is None and reversal
    least = found["dmax" if reversal else "dmin"].value is None
    offsets = set(OFFSETS)
    if most:
        offsets = {*FURTHER, 0.0}
    if least:
        offsets = {*(offsets if most else {0.0}), *(-stops for stops in FURTHER)}
    # A strip that is exposed further may miss the end again; the patch beside it does not.
    patch: PatchName | None = "fully_exposed" if most else "unexposed" if least else None
    for stops in sorted(offsets):
        beside = patch if stops else None
        film = (0.0, steps) if bracketed else (steps * STEP_CM + (PATCH_CM if beside else 0.0), 0)
        to_read = strip.position.size + (1 if beside else 0)
        yield Proposal("again", *film, to_read, offset_stops=stops, patch=beside)


def _readings(strip: Strip) -> Iterator[Proposal]:
    """Yield more readings of the strip at hand."""
    steps = np.unique(strip.position).size
    have = max(1, round(strip.position.size / steps))
    for readings in READING_COUNTS:
        if readings > have:
            yield Proposal("readings", 0.0, 0, (readings - have) * steps, readings=readings)


def _filter(strip: Strip) -> Iterator[Proposal]:
    """Yield the strip that shows what the film makes of a filter, where nothing states how far a meter misjudges it."""
    if any(used.metered == "through" and used.uncertainty_stops is None for used in strip.filters):
        steps = np.unique(strip.position).size
        frames = isinstance(strip.exposure, Frames)
        yield Proposal("filter", 0.0 if frames else steps * STEP_CM, steps if frames else 0, strip.position.size)


def _patches(analysis: Analysis) -> Iterator[Proposal]:
    """Yield the patches that were not read in the channel that decides."""
    channels = [c for c, found in analysis.channels.items() if not found.estimated]
    for name in PATCH_NAMES:
        if any(c not in getattr(analysis.strip.patches, name) for c in channels):
            yield Proposal("patch", PATCH_CM, 0, 1, patch=name)


def _metered(analysis: Analysis, frames: int) -> Iterator[Proposal]:
    """Yield exposures by the meter in use: the wedge photographed, and brackets about the index, where one is known."""
    strip, index = analysis.strip, analysis.working_ei.recommended.value
    if index is None:
        return
    if isinstance(strip.exposure, Contact):
        set_to = nominal_speed(index)
        # The lighter the step that reads as grey, the less the whole wedge gets.
        grey = _grey(strip, set_to) + LESS_LIT[strip.kind] * STOP
        metered = int(strip.position[np.abs(strip.log_h - grey).argmin()])
        steps = np.unique(strip.position).size
        yield Proposal("camera", 0.0, 1, steps, indexes=(set_to,), metered_step=metered)
    if isinstance(strip.exposure, Frames):
        return
    for count, apart, middle in BRACKETS:
        if count <= frames:
            stops = apart * (np.arange(count) - count // 2) - middle
            indexes = tuple(nominal_speed(index * 2.0**s) for s in stops)
            yield Proposal("bracket", 0.0, count, count, indexes=indexes)


def strip_of(proposal: Proposal, first: Strip) -> tuple[Strip, float]:
    """Return the strip that a proposal's record would describe, and where its log H counts from.

    Args:
        proposal: an exposure, not a reading.
        first: the strip at hand.

    Returns:
        The strip, with readings of no meaning at the steps that are read; and the log H, as the first strip counts it,
        at which log H zero of this strip lies if nothing is in error [log10].
    """
    if proposal.way in ("again", "filter"):
        again = _exposed_again(first, proposal.offset_stops)
        if proposal.patch is not None:
            again = with_patch(again, proposal.patch, dict.fromkeys(first.readings, 0.0))
        return again, 0.0
    middle = proposal.indexes[len(proposal.indexes) // 2]
    origin = _grey(first, middle)
    if proposal.metered_step is not None:
        photographed = Camera(middle, proposal.metered_step, light="daylight")
        return replace(first, exposure=photographed, labels=(), scan=None, title=f"{first.title}, photographed"), origin
    frames = Frames(middle, light="daylight")
    position = frames.stops_of_ei(proposal.indexes)
    readings = {c: np.full(position.size, float(np.nanmean(read))) for c, read in first.readings.items()}
    bracket = replace(
        first, exposure=frames, position=position, readings=readings, wedge=None, labels=(), scan=None,
        title=f"{first.title}, bracket",
    )  # fmt: skip
    return bracket, origin


def _grey(strip: Strip, index: float) -> float:
    """Return the log H, as a strip counts it, of a grey that is metered at an index [log10]."""
    return math.log10(strip.metering.index_at_zero / float(exact_ei(index)))


def _exposed_again(first: Strip, stops: float) -> Strip:
    """Return the same strip with its exposure changed, by the same light [stops]."""
    exposure, position, title = first.exposure, first.position, f"{first.title}, {stops:+g} stops"
    match exposure:
        case Contact():
            # The record would state another time; the light, and its error, stay.
            exposure = replace(exposure, seconds=exposure.seconds * 2.0**stops)
        case Camera():
            exposure = replace(exposure, offset_stops=exposure.offset_stops + stops)
        case Frames():
            position = position + stops
        case GivenExposure():
            position = position + stops * STOP
    return replace(first, exposure=exposure, position=position, labels=(), scan=None, title=title)


def with_patch(strip: Strip, name: PatchName, read: dict[Channel, float]) -> Strip:
    """Return a strip with the densities of one more patch [density]."""
    patches = {n: getattr(strip.patches, n) for n in PATCH_NAMES}
    return replace(strip, patches=Patches(**(patches | {name: read})))
