"""From a strip to the fitted curve of each channel, and from there to what its errors leave open."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from curves.errors import StripError
from curves.sensitometry.core.choices import Choices
from curves.sensitometry.core.units import CHANNELS, LAYERS, PATCH_NAMES, Channel, FloatArray, visual_density
from curves.sensitometry.core.values import part
from curves.sensitometry.curve.fit import Curve, fit_curve
from curves.sensitometry.measures import points
from curves.sensitometry.measures.table import ChannelCurves
from curves.sensitometry.strip.strip import Strip
from curves.sensitometry.strip.visual import estimated_visual
from curves.sensitometry.uncertainty.ensemble import Ensemble
from curves.sensitometry.uncertainty.sources import Errors, step_assumed, step_uncertainty


def for_meter(strip: Strip, choices: Choices) -> Strip:
    """Return the strip, its index meant for the meter that was chosen, if one was.

    Raises:
        StripError: it is of another type.
    """
    part(strip, (Strip,), "the strip to analyse")
    return strip if choices.meter_constant is None else replace(strip, meter_constant=choices.meter_constant)


@dataclass(frozen=True, eq=False)
class ChannelFit:
    """One channel of a strip, fitted once; `judge` asks of it what its errors, drawn, leave open.

    Attributes:
        strip: the strip.
        channel: which of its channels.
        curve: the fitted curve, without draws.
        patches: the densities of its patches in this channel [density].
        estimated: True if the channel was computed from the layers.
    """

    strip: Strip
    channel: Channel
    curve: Curve
    patches: Mapping[str, float]
    estimated: bool

    def with_errors(self, errors: Errors, choices: Choices) -> ChannelCurves:
        """Return the channel with its errors: all that measures and points are computed from."""
        ensemble = Ensemble.of(self.strip, self.curve, self.channel, self.patches, errors, estimated=self.estimated)
        return ChannelCurves(ensemble, points.dmin(ensemble), points.dmax(ensemble), choices)


def fit_channels(strip: Strip) -> dict[Channel, ChannelFit]:
    """Fit every channel that was read, and visual density where all three layers of a slide were, at enough steps.

    Raises:
        StripError: too few steps were read, or the readings contradict the declared kind.
    """
    fits = {c: _fitted(strip, c, strip.readings[c], estimated=False) for c in CHANNELS if _was_read(strip, c)}
    visual = estimated_visual(strip)
    if visual is not None and visual.enough:
        fits["visual"] = _fitted(strip, "visual", visual.density, estimated=True)
    return fits


def _was_read(strip: Strip, channel: Channel) -> bool:
    return channel in strip.readings and bool(np.isfinite(strip.readings[channel]).any())


def _fitted(strip: Strip, channel: Channel, readings: FloatArray, *, estimated: bool) -> ChannelFit:
    try:
        curve = fit_curve(
            strip.log_h,
            readings,
            kind=strip.kind,
            repeatability=strip.repeatability,
            step_uncertainty=step_uncertainty(strip),
            step_assumed=step_assumed(strip),
            draws=0,
        )
    except StripError as error:
        raise StripError(error.what, where=f"{strip.title}, {channel}", needed=error.needed, hint=error.hint) from error
    return ChannelFit(strip, channel, curve, _patches(strip, channel), estimated)


def _patches(strip: Strip, channel: Channel) -> dict[str, float]:
    """Return the densities of the patches in one channel; visual is estimated where only the layers were read."""
    found: dict[str, float] = {}
    for name in PATCH_NAMES:
        patch: Mapping[Channel, float] = getattr(strip.patches, name)
        if channel in patch:
            found[name] = patch[channel]
        elif channel == "visual" and channel not in strip.readings and all(c in patch for c in LAYERS):
            found[name] = float(visual_density(*(patch[c] for c in LAYERS)))
    return found
