"""The sources of error of a strip: what each is, how large it is, and whether the record gives its size.

A size that the record does not give is assumed and marked so; assumed sizes are common practice unless stated.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from curves.sensitometry.core import streams
from curves.sensitometry.core.units import GREY_MODEL_RMS, STOP, FloatArray
from curves.sensitometry.curve.mean_steps import ASSUMED_REPEATABILITY
from curves.sensitometry.curve.posterior import BETWEEN, FIT, READINGS, STEPS
from curves.sensitometry.strip.exposure import Camera, Contact, Frames, GivenExposure
from curves.sensitometry.strip.metering import CONSTANT_HALF_WIDTH
from curves.sensitometry.strip.strip import Strip
from curves.sensitometry.strip.visual import estimated_visual
from curves.sensitometry.strip.wedge import Pieces

Unit = Literal["density", "stops", "of the clear step's light", "of the open gate's light", "of the density"]

ASSUMED_ZERO = 0.01
"""Standard uncertainty of a reader's zero, common to a channel: common practice [density]."""

ASSUMED_COMMON = {True: 0.01, False: 0.02}
"""Standard uncertainty common to all steps of a wedge, calibrated (True) or nominal: common practice [density]."""

ASSUMED_LIGHT = 0.15
"""Standard uncertainty of light and time of a contact exposure: common practice [stops]."""

ASSUMED_METERING = 1.0 / 3.0 / 3.0**0.5
"""Standard uncertainty of a metered exposure: within a third of a stop either way, common practice [stops]."""

ASSUMED_SHUTTER = 0.15
"""Standard uncertainty of one frame against the next, by a leaf shutter and a diaphragm: common practice [stops]."""

ASSUMED_COLOUR = 0.5 / 3.0**0.5
"""Standard uncertainty of a meter that looks through a coloured filter: within half a stop, common practice [stops]."""

ASSUMED_WEDGE_SCALE = {True: 0.003, False: 0.01}
"""Standard uncertainty of the scale of a wedge, calibrated (True) or nominal: our own choice [of its increment]."""

ASSUMED_READER_SCALE = 0.01
"""Standard uncertainty of a reader's scale, as a fraction of density: common practice [unitless]."""

ASSUMED_EVENNESS = 0.05
"""Standard deviation of a light over the length of a wedge: common practice [stops]."""

ASSUMED_LIGHT_COLOUR = 1.0 / 3.0 / 3.0**0.5
"""Standard uncertainty of an index meant for daylight, by the colour of the light that the strip was exposed by: films
are rated about a third of a stop apart in daylight and in tungsten light: common practice [stops]."""

EYE = "judgement"
"""Key of the eye as a source of error."""

OF_THE_EYE = ("eye",)
"""What the taste of an eye belongs to: all frames are taken to be judged by one eye."""

LEAST_FLARE = 0.0005
"""Least standard uncertainty of the flare of a camera [of the clear step's light]: our own choice."""


@dataclass(frozen=True)
class Source:
    """One source of error.

    Attributes:
        key: short name of the source.
        name: the source in words.
        u: standard uncertainty, in `unit`; None where the strip's own readings show it.
        unit: unit of `u`.
        shape: distribution of the error.
        assumed: True if the record does not give `u`.
        remedy: what would shrink the error, as an imperative clause.
        belongs_to: what the error belongs to, such as one wedge: strips with equal `belongs_to` share the error.
    """

    key: str
    name: str
    u: float | None
    unit: Unit
    shape: streams.Shape
    assumed: bool
    remedy: str
    belongs_to: tuple[str, ...]


def sources_of(strip: Strip) -> dict[str, Source]:
    """Return every source of error of a strip by key, in the order in which the data pass them."""
    identity = _identity(strip)
    found = [*_of_the_curve(strip, identity), *_of_the_exposure(strip, identity), *_of_the_reader(strip, identity)]
    found += _of_the_meter(strip)
    return {source.key: source for source in [*found, *_of_the_eye(strip)]}


def step_uncertainty(strip: Strip) -> FloatArray | float:
    """Return the standard uncertainty of log H that differs from step to step, for each row [log10]."""
    if isinstance(strip.exposure, Frames):
        given = strip.exposure.frame_uncertainty_stops
        return STOP * (ASSUMED_SHUTTER if given is None else given)
    if strip.wedge is None:
        return 0.0 if (pieces := strip.exposure.pieces) is None else STOP * (pieces.step_stops or 0.0)
    return np.asarray(strip.wedge.uncertainty[strip.step_of_row - 1])


def step_assumed(strip: Strip) -> bool:
    """Return True if the record does not give the uncertainty of log H that differs from step to step."""
    if isinstance(strip.exposure, Frames):
        return strip.exposure.frame_uncertainty_stops is None
    return strip.exposure.pieces is None and (strip.wedge is None or strip.wedge.assumed)


def _identity(strip: Strip) -> str:
    """Return a text that identifies the strip: its title, positions and readings."""
    values = np.concatenate([strip.position, *(strip.readings[c] for c in strip.channels)])
    return strip.title + streams.identity(values)


def _scatter_assumed(strip: Strip) -> bool:
    return strip.repeatability is None or strip.repeatability_assumed


def _of_the_curve(strip: Strip, identity: str) -> list[Source]:
    own = ("strip", identity)
    repeated = np.unique(strip.position).size < strip.position.size
    ladder = streams.identity(strip.position) if strip.wedge is None else strip.wedge.ladder
    # One film on one ladder is smoothed alike.
    alike = ("shape", strip.film, strip.kind, ladder) if strip.film else own
    found = [
        Source(
            READINGS, "reading scatter", strip.repeatability or ASSUMED_REPEATABILITY, "density", "normal",
            _scatter_assumed(strip) and not repeated, "read every step three times", own,
        ),
        Source(FIT, "smoothing", None, "density", "normal", False, "use a wedge of more and finer steps", alike),
    ]  # fmt: skip
    if isinstance(strip.exposure, Frames):
        given = strip.exposure.frame_uncertainty_stops
        size = ASSUMED_SHUTTER if given is None else given
        remedy = "expose each frame twice"
        found.append(Source(STEPS, "frame to frame", size, "stops", "normal", given is None, remedy, own))
    elif (pieces := strip.exposure.pieces) is not None:
        found += _of_pieces(pieces, own)
    elif strip.wedge is not None:
        wedge = strip.wedge
        typical = float(np.sqrt(np.mean(wedge.uncertainty**2)))
        known = ("wedge", streams.identity(wedge.density))
        remedy = "have the wedge calibrated step by step"
        found.append(Source(STEPS, "wedge, step by step", typical, "density", "normal", wedge.assumed, remedy, known))
        scale = wedge.scale_uncertainty
        found.append(
            Source(
                "wedge scale", "wedge's scale", ASSUMED_WEDGE_SCALE[wedge.calibrated] if scale is None else scale,
                "of the density", "normal", scale is None, "read both ends of the wedge on a calibrated densitometer",
                ("wedge scale", known[1]),
            )
        )  # fmt: skip
    return found


def _of_pieces(pieces: Pieces, own: tuple[str, ...]) -> list[Source]:
    """Return the sources of error of a joined strip's exposures; each exposure draws its own of the first."""
    return [Source(key, name, u, "of the density" if key == "wedge scale" else "stops", "normal",
                   key == BETWEEN and pieces.between_stops is None, remedy, (*own, key)) for key, name, u, remedy in (
        (BETWEEN, "one exposure against the next", pieces.between, "measure light and time of each again"),
        (STEPS, "exposure, step by step", pieces.step_stops, "have the wedge calibrated step by step"),
        ("wedge scale", "scale of log H", pieces.scale_uncertainty, "have the wedge calibrated")) if u]  # fmt: skip


def _light(exposure: Contact) -> str:
    """Return a text that identifies a light on a wedge."""
    return "a light not known" if exposure.lux is None else f"{exposure.lux:g} lux"


def _of_the_exposure(strip: Strip, identity: str) -> list[Source]:
    exposure, given = strip.exposure, strip.exposure.uncertainty_stops
    found = []
    if isinstance(exposure, Contact) and exposure.lux is not None and strip.wedge is not None:
        common = strip.wedge.common
        found.append(
            Source(
                "wedge", "wedge, as a whole", ASSUMED_COMMON[strip.wedge.calibrated] if common is None else common,
                "density", "normal", common is None, "check the wedge against a calibrated one",
                ("wedge", streams.identity(strip.wedge.density)),
            )
        )  # fmt: skip
    if isinstance(exposure, Contact):
        uneven = exposure.evenness_stops
        found.append(
            Source(
                "evenness", "evenness of the light", ASSUMED_EVENNESS if uneven is None else uneven, "stops", "normal",
                uneven is None, "measure the light at both ends of the wedge", ("evenness", _light(exposure)),
            )
        )  # fmt: skip
    if strip.log_h_unit == "lux-seconds":
        light = f"{exposure.lux:g} lux" if isinstance(exposure, Contact) else identity
        found.append(
            Source(
                "exposure", "light and time", ASSUMED_LIGHT if given is None else given, "stops", "normal",
                given is None, "measure the light and the time again, with a second instrument", ("light", light),
            )
        )  # fmt: skip
    elif strip.log_h_unit == "relative to metered mid-grey":
        found.append(
            Source(
                "exposure", "metering of the test", ASSUMED_METERING if given is None else given, "stops",
                "rectangular" if given is None else "normal", given is None,
                "meter with a second meter, or expose in contact under a known light",
                ("metering", identity),
            )
        )  # fmt: skip
    if isinstance(exposure, Contact) and exposure.grey_frame is not None and exposure.grey_log_h is not None:
        shutter = exposure.grey_frame.uncertainty_stops
        size = np.hypot(ASSUMED_SHUTTER if shutter is None else shutter, exposure.grey_log_h[1] / STOP)
        found.append(
            Source(
                "grey frame", "the one grey frame", float(size), "stops", "normal", shutter is None,
                "photograph several grey frames, and read the strip between them", ("grey frame", identity),
            )
        )  # fmt: skip
    if isinstance(exposure, Camera):
        stated = exposure.flare_uncertainty
        found.append(
            Source(
                "flare", "flare", max(0.5 * exposure.flare, LEAST_FLARE) if stated is None else stated,
                "of the clear step's light", "normal", stated is None,
                "photograph a black patch beside the wedge to measure the flare", ("camera", identity),
            )
        )  # fmt: skip
    return found


def _of_the_reader(strip: Strip, identity: str) -> list[Source]:
    zero, scale, noise = strip.reader_zero, strip.reader_scale, strip.repeatability
    found = [
        Source(
            "zero", "reader's zero", ASSUMED_ZERO if zero is None else zero, "density", "normal", zero is None,
            "check the reader on a patch of known density", ("reader", strip.reader),
        ),
        Source(
            "reader scale", "reader's scale", ASSUMED_READER_SCALE if scale is None else scale, "of the density",
            "normal", scale is None, "check the reader on a dense patch of known density",
            ("reader scale", strip.reader),
        ),
    ]  # fmt: skip
    if strip.read_as.by_meter or strip.read_as.flare is not None:
        unstated = strip.read_as.flare_uncertainty is None
        found.append(
            Source(
                "reader flare", "flare of the reading", strip.read_as.flare_size, "of the open gate's light", "normal",
                unstated, "mask the light table around the patch, and read a black patch to measure the flare",
                ("reader flare", strip.reader),
            )
        )  # fmt: skip
    if strip.patches.base or strip.patches.unexposed or strip.patches.fully_exposed:
        found.append(
            Source(
                "patches", "readings of the patches", ASSUMED_REPEATABILITY if noise is None else noise, "density",
                "normal", _scatter_assumed(strip), "read the patches several times, and enter the mean",
                ("patches", identity),
            )
        )  # fmt: skip
    if strip.match is not None:
        name, remedy = f"matching to {strip.match.status}", "have more steps of the strip read by the densitometer"
        own, assumed = ("match", strip.match.belongs_to), strip.match.assumed
        found.append(Source("match", name, strip.match.uncertainty, "density", "normal", assumed, remedy, own))
    elif strip.scan is not None and strip.scan.common:
        each = np.concatenate([np.ravel(u) for u in strip.scan.common.values()])
        found.append(
            Source(
                "scan", "the scan's scale", float(np.nanmedian(each)), "density", "normal", not strip.scan.by_wedge,
                "scan the calibration wedge in the strip's own frame" if strip.scan.by_wedge
                else "scan a calibration wedge of known densities", ("scan", strip.scan.calibration),
            )
        )  # fmt: skip
    visual = estimated_visual(strip)
    if visual is not None and visual.enough:
        found.append(
            Source(
                "visual", "visual from the layers", GREY_MODEL_RMS, "density", "normal", False,
                "read visual density too", ("film", strip.film or identity),
            )
        )  # fmt: skip
    return found


def _of_the_meter(strip: Strip) -> list[Source]:
    if strip.log_h_unit == "relative":
        return []
    found = []
    if isinstance(strip.exposure, Contact | GivenExposure) and strip.log_h_unit == "lux-seconds":
        given = strip.exposure.meter_uncertainty_stops
        found.append(
            Source(
                "meter", "meter in use", ASSUMED_METERING if given is None else given, "stops",
                "rectangular" if given is None else "normal", given is None,
                "test once through the camera with the meter you will use", ("meter",),
            )
        )  # fmt: skip
    by_lamp = strip.log_h_unit == "lux-seconds" or isinstance(strip.exposure, Contact)
    if by_lamp and not strip.exposure.matches_daylight:
        found.append(
            Source(
                "light colour", "light's colour", ASSUMED_LIGHT_COLOUR, "stops", "rectangular", True,
                "expose by daylight, or by a lamp filtered to match it, and state the light",
                ("light colour", strip.exposure.light),
            )
        )  # fmt: skip
    if strip.meter_constant is None:
        found.append(
            Source(
                "constant", "meter's constant", CONSTANT_HALF_WIDTH / 3.0**0.5, "stops", "rectangular", True,
                "state the constant K of the meter, from its manual", ("meter's constant",),
            )
        )  # fmt: skip
    through = [used for used in strip.filters if used.metered == "through"]
    if through:
        stated = [used.uncertainty_stops for used in through]
        known = [u for u in stated if u is not None]
        assumed = len(known) < len(stated)
        found.append(
            Source(
                "colour", "meter through the filter", ASSUMED_COLOUR if assumed else float(np.hypot.reduce(known)),
                "stops", "rectangular" if assumed else "normal", assumed,
                "expose a strip with and without the filter and compare them",
                ("meter through", *(used.name for used in through)),
            )
        )  # fmt: skip
    return found


def _of_the_eye(strip: Strip) -> list[Source]:
    if not any(strip.judgements) or not isinstance(strip.exposure, Frames):
        return []
    eye, remedy = strip.exposure.eye, "read the densities of the frames" if not strip.readings else "judge more frames"
    return [Source(EYE, "the eye's judgement", eye.uncertainty, "stops", "normal", eye.assumed, remedy, OF_THE_EYE)]


@dataclass(frozen=True, eq=False)
class Errors:
    """The errors of one strip, drawn: each draw holds one possible error of every source.

    Attributes:
        sources: every source by key.
        count: number of draws [unitless].
        seed: the same seed gives the same errors.
        active: keys of the sources that are drawn; the others are held at zero.
    """

    sources: Mapping[str, Source]
    count: int
    seed: int
    active: frozenset[str]

    @classmethod
    def of(cls, strip: Strip, count: int, seed: int) -> Errors:
        """Return the errors of all sources of a strip."""
        sources = sources_of(strip)
        return cls(sources, count, seed, frozenset(sources))

    def only(self, *keys: str) -> Errors:
        """Return the same errors with all other sources held at zero; a key that the strip lacks draws nothing."""
        return replace(self, active=frozenset(keys) & frozenset(self.sources))

    def stream(self, key: str, *also: str) -> np.random.Generator:
        """Return the random numbers of one source."""
        return streams.stream(self.seed, key, *self.sources[key].belongs_to, *also)

    def common(self, key: str, *also: str) -> FloatArray:
        """Return one error of a source for each row, (1 + count,), in the source's unit; row 0, the estimate, has none.

        Args:
            key: the source; a source that the strip does not have gives zeros.
            also: words that separate errors of one source, such as the channel.
        """
        if key not in self.active or not self.count:
            return np.zeros(1 + self.count)
        source = self.sources[key]
        assert source.u is not None
        belongs_to = (key, *source.belongs_to, *also)
        drawn = streams.shared(self.seed, belongs_to, self.count, 1, source.shape)
        return np.concatenate([[0.0], source.u * drawn[:, 0]])

    def log_h(self, *keys: str) -> FloatArray:
        """Return the sum of several errors of exposure, (1 + count,), all converted to log H [log10]."""
        total = np.zeros(1 + self.count)
        for key in keys:
            if key in self.active:
                total += self.common(key) * (STOP if self.sources[key].unit == "stops" else 1.0)
        return total

    def of_steps(self, positions: int) -> FloatArray:
        """Return the standardised error of each of ``positions`` steps of a wedge, (count, positions)."""
        if STEPS not in self.sources or not self.count:
            return np.zeros((self.count, positions))
        return streams.shared(self.seed, (STEPS, *self.sources[STEPS].belongs_to), self.count, positions)
