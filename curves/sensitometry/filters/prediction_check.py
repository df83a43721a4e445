"""A prediction checked: the stack predicted from the bare strip, the strip exposed through it, and what differs."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from curves.errors import StripError
from curves.sensitometry.analysis.index_rule import Marks, decide, place_of
from curves.sensitometry.comparison.pairs import exposure_scatter, paired_rows
from curves.sensitometry.core.choices import Choices
from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import LAYERS, STOP, Channel, FloatArray
from curves.sensitometry.filters.behind import BareStrip, Match, index_requests
from curves.sensitometry.filters.cast import TONES, Cast, cast_of, unknown_cast
from curves.sensitometry.filters.densities import Filter
from curves.sensitometry.filters.from_strips import LayerShift, layer_shift, log_h_offset
from curves.sensitometry.filters.prediction import comparable, index_of
from curves.sensitometry.filters.shifted import density_behind, first_rows, on_strip
from curves.sensitometry.filters.stacks import FilterRows, Members, Stack, predict_stack
from curves.sensitometry.measures import points
from curves.sensitometry.measures.points import SPEED_NET, Location, crossing, speed_point
from curves.sensitometry.uncertainty.ensemble import Ensemble
from curves.sensitometry.uncertainty.intervals import summarise
from curves.sensitometry.uncertainty.results import Analysis

_DRIFT = 0.03
"""Least change of Dmin or Dmax that is reported as a drift: our own choice [density]."""


@dataclass(frozen=True, eq=False)
class ToneCheck:
    """The cast of one tone, predicted and measured, at the index that was predicted.

    Attributes:
        predicted, measured: the two casts.
        misses: measured less predicted, by layer [density].
        held: True if no layer misses by more than its uncertainty, or where one of the casts is not known.
    """

    predicted: Cast
    measured: Cast
    misses: Mapping[Channel, Quantity]
    held: bool


@dataclass(frozen=True, eq=False)
class PredictionCheck:
    """A prediction and the measurement on film, compared.

    Attributes:
        stack: the prediction.
        tones: casts by tone, predicted and measured.
        ei: measured index for a meter that does not see the filters [unitless].
        ei_miss: exposure that the film needed beyond the prediction [stops].
        shifts: the stack's density to each layer, measured on film.
        shift_misses: measured densities less the drawer's [density].
        says: meaning of the differences, each a sentence.
    """

    stack: Stack
    tones: Mapping[str, ToneCheck]
    ei: Quantity
    ei_miss: Quantity
    shifts: Mapping[Channel, LayerShift]
    shift_misses: Mapping[Channel, Quantity]
    says: tuple[str, ...]


def check_stack(
    bare_analysis: Analysis,
    actual: Analysis,
    filters: Sequence[Filter],
    members: Members,
    choices: Choices,
    match: Match = "net",
) -> PredictionCheck:
    """Compare the prediction of a stack with the strip that was exposed through the stack.

    Args:
        bare_analysis, actual: results of the strips without filters and through the stack, under ``choices``.
        filters: the drawer.
        members: positions of the stack's filters in the drawer.
        choices: the choices that the results rest on.
        match: how layers are compared.

    Raises:
        StripError: the strips cannot be compared, or have too little in common.
    """
    stack_density = float(sum(filters[m].visual for m in members))
    shift = log_h_offset(bare_analysis, actual, stack_density, meter_known=stack_density / STOP)
    bare = BareStrip.of(bare_analysis, choices, match, rows=paired_rows(bare_analysis, actual))
    drawn = FilterRows.of(filters, bare.rows, choices.seed)
    stack = predict_stack(bare, drawn, members)
    predicted = drawn.stack(members)[0] if members else bare.none
    if bare.eye.channel not in actual.channels:
        raise StripError(
            f"{bare.eye.channel} density was not read",
            where=actual.strip.title,
            needed="all channels that the bare strip has",
        )
    layers = [first_rows(actual.channels[c].ensemble, bare.rows) for c in LAYERS]
    eye = first_rows(actual.channels[bare.eye.channel].ensemble, bare.rows)
    again = exposure_scatter(bare_analysis, actual, choices.seed)
    together = again + eye.log_h_error - bare.eye.log_h_error
    shifts = {
        c: layer_shift(one, other, shift + again, bare_analysis.strip.title)
        for c, one, other in zip(LAYERS, bare.layers, layers, strict=True)
    }
    missed = np.stack([shifts[c].rows - predicted[:, i] for i, c in enumerate(LAYERS)], axis=1)
    grey = _measured_grey(bare, eye, layers) + shift + together
    if np.isfinite(grey[0]):
        ei = index_of(bare, grey)
    else:
        ei = Quantity.missing("the strip does not show the points that the index is found from")
    both = np.isfinite(grey[0]) and stack.prediction.ei.value is not None
    ei_miss = summarise((grey - stack.prediction.grey) / STOP) if both else Quantity.missing(ei.why or "not predicted")
    return PredictionCheck(
        stack=stack,
        tones=_tones(bare, stack, predicted, layers, shift + together),
        ei=ei,
        ei_miss=ei_miss,
        shifts=shifts,
        shift_misses={c: summarise(missed[:, i]) for i, c in enumerate(LAYERS)},
        says=tuple(_says(bare, drawn, members, shifts, missed, layers)),
    )


def _measured_grey(bare: BareStrip, eye: Ensemble, layers: list[Ensemble]) -> FloatArray:
    """Return the log H of mid-grey on the filtered strip itself, by the densities that the bare one was placed by."""
    if bare.eye.kind == "negative":
        found = layers if bare.eye.channel in LAYERS else [eye]
        starts = [points.dmin(e).rows + SPEED_NET for e in found]
        at = [crossing(e.grid, e.density, level) for e, level in zip(found, starts, strict=True)]
        place = bare.grey - np.max([a.rows for a in _bare_starts(bare)], axis=0)
        return np.asarray(np.max(at, axis=0) + place)
    base = points.dmin(eye).rows - bare.eye_dmin.rows
    marks = Marks.of(lambda name: place_of(eye, getattr(bare.sought, name).moved(base)))
    grey = decide(index_requests(bare, marks)).grey
    return np.asarray(np.where(grey.low == grey.high, grey.low, np.nan))


def _bare_starts(bare: BareStrip) -> list[Location]:
    if bare.eye.channel in LAYERS:
        return [speed_point(e, end) for e, end in zip(bare.layers, bare.dmin, strict=True)]
    return [speed_point(bare.eye, bare.eye_dmin)]


def _tones(
    bare: BareStrip, stack: Stack, predicted: FloatArray, layers: list[Ensemble], shift: FloatArray
) -> dict[str, ToneCheck]:
    """Return predicted and measured casts by tone, at the predicted index."""
    grey = float(stack.prediction.grey[0])
    if not np.isfinite(grey):
        lost = unknown_cast("the scene has no place behind this stack")
        return {tone: ToneCheck(stack.prediction.casts[tone], lost, {}, held=True) for tone in TONES}
    x, wrong = grey + bare.tones(), bare.misplaced
    density = np.stack([density_behind(e, shift + wrong, x) for e in layers], axis=-1)
    foretold = comparable(
        bare, np.stack([density_behind(e, predicted[:, i] + wrong, x) for i, e in enumerate(bare.layers)], -1)
    )
    if bare.match == "net":
        density = density - np.stack([points.dmin(e).rows for e in layers], axis=-1)[:, None]
    else:
        density = density + np.stack([e.level_error for e in layers], axis=-1)[:, None]
    found = {}
    for i, tone in enumerate(TONES):
        told = stack.prediction.casts[tone]
        hidden = [c for c, e in zip(LAYERS, layers, strict=True) if not on_strip(e, x[i] - shift[0])]
        if hidden or told.amount.value is None:
            why = f"{tone} falls off the strip in {', '.join(hidden)}" if hidden else "not predicted"
            found[tone] = ToneCheck(told, unknown_cast(why), {}, held=True)
            continue
        apart = [d - d.mean(axis=1, keepdims=True) for d in (density[:, i], foretold[:, i])]
        misses = {c: summarise(apart[0][:, k] - apart[1][:, k]) for k, c in enumerate(LAYERS)}
        found[tone] = ToneCheck(told, cast_of(density[:, i]), misses, held=not any(map(_beyond, misses.values())))
    return found


def _beyond(q: Quantity) -> bool:
    """Return True if zero lies outside the interval of a difference."""
    return q.low is not None and q.high is not None and (q.low > 0.0 or q.high < 0.0)


def _says(
    bare: BareStrip,
    drawn: FilterRows,
    members: Members,
    shifts: Mapping[Channel, LayerShift],
    missed: FloatArray,
    layers: list[Ensemble],
) -> Iterator[str]:
    """Yield the causes that the differences point to, each a sentence; if there are none, that the prediction holds."""
    causes = [*_drift(bare, layers, shifts), *_densities(drawn, members, missed)]
    if causes:
        yield from causes
    else:
        yield "The prediction holds: nothing differs by more than its uncertainty."


def _drift(bare: BareStrip, layers: list[Ensemble], shifts: Mapping[Channel, LayerShift]) -> Iterator[str]:
    ends = []
    for name, end in (("Dmin", points.dmin), ("Dmax", points.dmax)):
        for one, other in zip(bare.layers, layers, strict=True):
            before, after = end(one), end(other)
            change = summarise(after.rows - before.rows)
            if before.reached and after.reached and _beyond(change) and abs(change.value or 0.0) > _DRIFT:
                ends.append(f"{name} of {one.channel} by {change.value:+.2f}")
    if ends:
        yield f"Drift: a filter cannot change {', '.join(ends)}. The process or the film differs between the strips."
    changed = {c: s for c, s in shifts.items() if not s.pure}
    if not changed:
        return
    ways = {s.contrast > 1.0 for s in changed.values()}
    if len(changed) == len(shifts) and len(ways) == 1 and not any(s.bent for s in changed.values()):
        ratios = ", ".join(f"{c} {100 * (s.contrast - 1):+.0f} %" for c, s in changed.items())
        yield f"Drift: every layer's contrast changed in one direction ({ratios}), usually by a change of development."
    else:
        worst = max(s.misfit for s in changed.values())
        yield (
            f"Crossover: a shift does not explain {' and '.join(changed)}; up to {worst:.2f} density is left. The"
            " layers' curves differ in shape between the strips, which no filter mends."
        )


def _densities(drawn: FilterRows, members: Members, missed: FloatArray) -> Iterator[str]:
    together = missed.mean(axis=1)
    common = summarise(together)
    apart = {c: summarise(missed[:, i] - together) for i, c in enumerate(LAYERS)}
    off = {c: q for c, q in apart.items() if _beyond(q)}
    if off:
        words = ", ".join(f"{q.value:+.2f} to {c}" for c, q in off.items())
        sentence = f"A filter's density: against the mean of the layers the stack differs from the drawer by {words}."
        if members:
            least = max((drawn.filters[m] for m in members), key=lambda f: f.uncertainty)
            sentence += f" The least certain filter is '{least.name}' ({least.source}): measure it on film."
        yield sentence
    if _beyond(common):
        stops = (common.value or 0.0) / STOP
        way = "more" if stops > 0 else "less"
        yield (
            f"The meter or the exposure: all layers alike needed {abs(stops):.1f} stops {way} than the drawer says."
            " Check the shutter, the light and the stack's factor for the meter; or the stack holds"
            f" {way} grey than its names say (each filter's surfaces reflect a little)."
        )
