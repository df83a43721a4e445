"""The success of a balance on the strip itself: the cast that each grey keeps, with its interval, and the ends at which
a layer no longer tells colours apart.

The draws are the films that the strip's errors allow. A map made from the estimate is laid on each of them; what the
channels then differ in is the error of a neutral. What a scanner makes of a density it makes of the same density in a
picture, and the map takes it out with the rest: a neutral has the errors of neither its zero nor its scale. Of stray
light, which changes with the light in the frame, it has a part.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from curves.sensitometry.analysis.analyse import analyse, analyse_alone
from curves.sensitometry.balance.tone import Target, ToneMap, target_of, tone_maps
from curves.sensitometry.core.choices import Choices
from curves.sensitometry.core.quantity import NORMAL, Quantity
from curves.sensitometry.core.rows import along_rows
from curves.sensitometry.core.units import STOP, Channel, FloatArray
from curves.sensitometry.strip.strip import Strip
from curves.sensitometry.uncertainty.intervals import summarise
from curves.sensitometry.uncertainty.results import Analysis
from curves.sensitometry.uncertainty.sources import sources_of

WITHIN = STOP
"""The error of a layer's log H, found from one reading, from which its colour counts as lost: a stop, our own choice
[log10]."""

NOT_SHARED = 0.5
"""Share of the error of a scan's densities that its pictures do not have, because stray light changes with the light in
the frame: our own choice [unitless]."""

STRAY = 0.001
"""Standard uncertainty of the stray light in a picture less that in the strip's scan, so that no more than this is left
of a scan's error: half of what is assumed of a scanner's flare, our own choice [of the open gate's light]."""

_OF_THE_READER = frozenset({"reader scale", "reader flare"})
"""Keys of the errors of a reader that a strip and the pictures by the same reader share."""


@dataclass(frozen=True)
class Tone:
    """A grey of the strip before and after the balance.

    Attributes:
        label: name of the step.
        log_h: log H of the step [log10].
        scanned, balanced: densities by channel [density].
        target: density that all channels are to have [density].
        cast_before: density less the mean of the channels, by channel [density].
        cast: the same after the balance, with the interval of the films that the errors allow [density].
        gain: factor by which the map multiplies noise, by channel [unitless].
    """

    label: str
    log_h: float
    scanned: Mapping[Channel, float]
    balanced: Mapping[Channel, float]
    target: float
    cast_before: Mapping[Channel, float]
    cast: Mapping[Channel, Quantity]
    gain: Mapping[Channel, float]


@dataclass(frozen=True)
class LayerEnds:
    """The ends of a channel at which a reading no longer tells the exposure to a stop.

    Attributes:
        thin: net density, above the thinnest that the strip shows, below which colour is lost [density].
        dense: density below the densest that the strip shows, above which colour is lost [density].
        scatter: standard deviation of a reading that this rests on [density].
    """

    thin: Quantity
    dense: Quantity
    scatter: float


@dataclass(frozen=True, eq=False)
class Balance:
    """A correction for pictures of a film, and how well it does on the film's own strip.

    Attributes:
        analysis: the strip.
        target: the greys that all channels are brought to.
        maps: the map of each channel.
        tones: the strip's steps from the least to the most exposed.
        ends: by channel, where colour is lost.
    """

    analysis: Analysis
    target: Target
    maps: Mapping[Channel, ToneMap]
    tones: tuple[Tone, ...]
    ends: Mapping[Channel, LayerEnds]

    @property
    def worst(self) -> tuple[Tone, Channel]:
        """The grey, and its channel, that is furthest from neutral after the balance."""
        every = [(tone, channel) for tone in self.tones for channel in self.maps]
        return max(every, key=lambda one: abs(one[0].cast[one[1]].value or 0.0))

    @property
    def worst_before(self) -> float:
        """The greatest cast of a grey before the balance [density]."""
        return max(abs(cast) for tone in self.tones for cast in tone.cast_before.values())

    @property
    def half_widths(self) -> dict[str, float]:
        """Half the interval of each grey's cast, of the channel that is least certain, by label; empty without draws
        [density].
        """
        widths = {tone.label: [q.half_width for q in tone.cast.values()] for tone in self.tones}
        return {label: max(w or 0.0 for w in each) for label, each in widths.items() if None not in each}


def analyse_for_balance(strip: Strip, choices: Choices) -> Analysis:
    """Return the analysis of a strip, for a correction of pictures.

    Of a scanned strip, errors that the scanner makes of the pictures too are not drawn, and those of stray light in
    part.

    Args:
        strip: the strip.
        choices: as for `analyse`.

    Raises:
        StripError: too few steps were read, or the readings contradict the declared kind.
    """
    if strip.density != "scan":
        return analyse(strip, choices)
    if strip.scan is not None:
        left = {c: _not_shared(error, strip.readings[c]) for c, error in strip.scan.common.items()}
        strip = replace(strip, scan=replace(strip.scan, common=left))
    return analyse_alone(strip, set(sources_of(strip)) - _OF_THE_READER, choices)


def _not_shared(error: FloatArray, density: FloatArray) -> FloatArray:
    """Return the error of a scan's densities that its pictures do not have, any shape [density]."""
    by_stray_light = STRAY * (10.0**density - 1.0) / np.log(10.0)
    return np.asarray(np.minimum(NOT_SHARED * error, np.maximum(by_stray_light, 0.0)))


def balance_of(analysis: Analysis, gamma: float | None = None) -> Balance:
    """Return the correction that makes the greys of a strip neutral.

    Args:
        analysis: the strip, analysed.
        gamma: contrast that greys should have [density per log10 H]; None for that of the film itself.

    Raises:
        StripError: the strip has neither three layers nor one channel, or no gamma where one is asked for.
    """
    target = target_of(analysis, gamma)
    maps = tone_maps(analysis, target)
    return Balance(analysis, target, maps, _tones(analysis, target, maps), _ends(analysis, target, maps))


def _tones(analysis: Analysis, target: Target, maps: Mapping[Channel, ToneMap]) -> tuple[Tone, ...]:
    steps = _steps(analysis, target)
    places = np.array([log_h for log_h, _ in steps])
    drawn = {c: _along(analysis, c, places) for c in maps}
    after = {c: m.at(drawn[c]) for c, m in maps.items()}
    before_mean, after_mean = (sum(rows.values()) / len(maps) for rows in (drawn, after))
    found = []
    for i, (log_h, label) in enumerate(steps):
        found.append(
            Tone(
                label,
                log_h,
                {c: float(rows[0, i]) for c, rows in drawn.items()},
                {c: float(rows[0, i]) for c, rows in after.items()},
                float(np.interp(log_h, target.log_h, target.density)),
                {c: float((rows - before_mean)[0, i]) for c, rows in drawn.items()},
                {c: summarise((rows - after_mean)[:, i]) for c, rows in after.items()},
                {c: float(maps[c].gain(rows[0, i])) for c, rows in drawn.items()},
            )
        )
    return tuple(found)


def _steps(analysis: Analysis, target: Target) -> list[tuple[float, str]]:
    """Return log H and label of the steps within the target, by rising log H."""
    low, high = target.log_h[0], target.log_h[-1]
    steps = {round(s.log_h, 9): s.label for s in analysis.channels[target.channel].steps}
    return [(log_h, label) for log_h, label in sorted(steps.items()) if low - 1e-6 <= log_h <= high + 1e-6]


def _along(analysis: Analysis, channel: Channel, places: FloatArray) -> FloatArray:
    """Return the densities of a channel's estimate and draws at places in log H, (r, n) [density]."""
    ensemble = analysis.channels[channel].ensemble
    return along_rows(places, ensemble.grid, ensemble.density)


def _ends(analysis: Analysis, target: Target, maps: Mapping[Channel, ToneMap]) -> dict[Channel, LayerEnds]:
    found = {}
    for channel in maps:
        finding = analysis.channels[channel]
        slope = np.abs(along_rows(target.log_h, finding.ensemble.grid, finding.ensemble.gradient))
        density = _along(analysis, channel, target.log_h)
        scatter = finding.curve.sigma
        from_least, from_most = (
            _lost(density[:, way], slope[:, way] >= NORMAL * scatter / WITHIN)
            for way in (slice(None), slice(None, None, -1))
        )
        thin, dense = (from_most, from_least) if target.kind == "reversal" else (from_least, from_most)
        found[channel] = LayerEnds(summarise(thin, least=0.0), summarise(dense, least=0.0), scatter)
    return found


def _lost(density: FloatArray, tells: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]) -> FloatArray:
    """Return the density between the beginning of each row and the place from which it tells the exposure, (r,)."""
    first = np.where(tells.any(axis=1), tells.argmax(axis=1), density.shape[1] - 1)
    return np.asarray(np.abs(density[np.arange(len(density)), first] - density[:, 0]))
