"""The picture that an index gives: where the scene lands, and of a slide whether it clears, what holds its white back,
which layer clears last, and the colour of its white.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Collection, Mapping

import numpy as np

from curves.sensitometry.analysis.index_rule import clearness, grey_limits, possible_dmins
from curves.sensitometry.core.choices import Choices
from curves.sensitometry.core.quantity import COVERAGE, Quantity
from curves.sensitometry.core.units import STOP, Channel, FloatArray, transmittance
from curves.sensitometry.measures import points
from curves.sensitometry.measures.points import SPEED_NET, Location, cautious, density_along, has_flattened
from curves.sensitometry.measures.table import ChannelCurves
from curves.sensitometry.strip.metering import Metering
from curves.sensitometry.uncertainty.intervals import summarise
from curves.sensitometry.uncertainty.results import (
    BaseState,
    Colour,
    Criterion,
    LayerSpread,
    Placement,
    State,
    Trial,
    WhiteCast,
    WhiteHolder,
)

MASK_COLOUR = 0.20
"""Blue density above red density that makes what is left a mask, and not grey fog: our own choice [density]."""

THIN_WHITE = 0.10
"""Net density below which a white is thin: half a stop or so from its last full tone at 0.20, our own choice
[density]."""

TINGE = 0.05
"""Density of one layer beyond another from which a white is coloured: our own choice [density]."""

_COLOURS: dict[frozenset[Channel], Colour] = {
    frozenset({"red"}): "cyan",
    frozenset({"green"}): "magenta",
    frozenset({"blue"}): "yellow",
    frozenset({"green", "blue"}): "red",
    frozenset({"red", "blue"}): "green",
    frozenset({"red", "green"}): "blue",
}
"""The colour of a white by the layers that have density there: dyes hold back the light of their own layer."""


def base_state(judged: ChannelCurves, layers: Mapping[Channel, ChannelCurves], choices: Choices) -> BaseState:
    """Return the state of the base: whether the film clears, what the veil costs, what holds the white back.

    Args:
        judged: the channel that stands for what the eye sees.
        layers: the colour layers, whose differences tell a mask from fog; empty for black and white.
        choices: the densities up to which whites can be judged.
    """
    ensemble, dmin = judged.ensemble, judged.dmin
    base, veil = points.base(ensemble), points.veil(ensemble, dmin)
    known = dmin.quantity
    white = {c: _light_through(one.dmin.quantity) for c, one in {**layers, ensemble.channel: judged}.items()}
    if known.value is None:
        return BaseState(base, known, veil, clears=None, white_percent=None, white_point=white, veil_stops=None)
    share = float(clearness(dmin.rows[:1], choices)[0])
    return BaseState(
        base,
        known,
        veil,
        clears=share > 0.5,
        white_percent=100.0 * float(transmittance(known.value)),
        white_point=white,
        veil_stops=None if veil.value is None else max(veil.value, 0.0) / STOP,
        held_by=None if share >= 1.0 else _held_by(base.value, veil.value, layers),
    )


def _light_through(dmin: Quantity) -> Quantity:
    """Return the light that the clearest part of a channel passes, against an open gate [per cent]."""

    def light(density: float) -> float:
        return 100.0 * float(transmittance(density))

    if dmin.value is not None:
        low, high = (None if end is None else light(end) for end in (dmin.high, dmin.low))
        return Quantity(light(dmin.value), low, high, dmin.how)
    why = dmin.why or "Dmin is not known"
    if dmin.bound is None:
        return Quantity.missing(why)
    limit = light(dmin.bound[1])
    return Quantity.missing(why, above=limit) if dmin.bound[0] == "<" else Quantity.missing(why, below=limit)


def _held_by(base: float | None, veil: float | None, layers: Mapping[Channel, ChannelCurves]) -> WhiteHolder | None:
    """Return the owner of most of the density left in the white: base, mask or fog."""
    if base is None or veil is None:
        colour = _blue_over_red({c: float(s.dmin.rows[0]) for c, s in layers.items() if s.dmin.reached})
        return "mask" if colour > MASK_COLOUR else None
    bases = {c: float(s.ensemble.patches["base"][0]) for c, s in layers.items() if "base" in s.ensemble.patches}
    veils = {c: float(layers[c].dmin.rows[0]) - known for c, known in bases.items() if layers[c].dmin.reached}
    if _blue_over_red(veils) > MASK_COLOUR or (base >= veil and _blue_over_red(bases) > MASK_COLOUR):
        return "mask"
    return "base" if base >= veil else "fog"


def _blue_over_red(densities: Mapping[Channel, float]) -> float:
    """Return the density of the blue layer less that of the red; 0 where one was not read [density]."""
    return densities["blue"] - densities["red"] if {"red", "blue"} <= set(densities) else 0.0


def layer_spread(layers: Mapping[Channel, ChannelCurves]) -> LayerSpread:
    """Return the distance between the layers at T and at S [stops], and the layer that clears last."""
    t = {c: found.points.t for c, found in layers.items()}
    s = {c: found.points.s for c, found in layers.items()}
    known = all(p.quantity.value is not None for p in t.values())
    last = max(t.items(), key=lambda item: float(item[1].rows[0]))[0] if known else None
    return LayerSpread(_spread(t, "T"), _spread(s, "S"), last)


def _spread(of_layer: Mapping[Channel, Location], name: str) -> Quantity:
    """Return the distance between the outer two layers at a point [stops].

    The two are those of the estimate, in every row, so that in a draw the other may lie ahead: where the layers may be
    alike the interval begins at 0. The greatest less the least of each row would never come near 0.
    """
    lost = [c for c, p in of_layer.items() if p.quantity.value is None]
    if lost:
        why = f"{name} lies off the strip in {', '.join(lost)}"
        return Quantity.missing(why, above=_least_spread([p.quantity for p in of_layer.values()]))
    rows = np.vstack([p.rows for p in of_layer.values()])
    ahead, behind = rows[rows[:, 0].argmax()], rows[rows[:, 0].argmin()]
    return summarise((ahead - behind) / STOP, note=f"greatest less least log H of {name}", reflected=True, least=0.0)


def _least_spread(of_layer: Collection[Quantity]) -> float | None:
    """Return the least distance of points some of which lie off the strip; None where nothing bounds it [stops]."""
    greatest = [q.low if q.bound is None else q.bound[1] for q in of_layer if q.bound is None or q.bound[0] == ">"]
    least = [q.high if q.bound is None else q.bound[1] for q in of_layer if q.bound is None or q.bound[0] == "<"]
    ends = [x for x in greatest if x is not None], [x for x in least if x is not None]
    return max((max(ends[0]) - min(ends[1])) / STOP, 0.0) if all(ends) else None


def white_cast(
    layers: Mapping[Channel, ChannelCurves], ei: float, metering: Metering, choices: Choices
) -> WhiteCast | None:
    """Return the colour of scene white on a reversal film, the meter set to an index.

    A layer colours the white if it has at least half the excess of the densest layer over the thinnest. Each draw has
    a colour of its own, so that the answer says how sure the colour is.

    Args:
        layers: the colour layers.
        ei: the exact index that is set [unitless].
        metering: what log H counts from, and what an index stands for.
        choices: where scene white lies.

    Returns:
        The colour; None where white lies off the strip in a layer, or the Dmin of the thinnest is not known. Dmin of
        another may be lower than the strip shows: then the layer has more density yet.
    """
    log_h = math.log10(metering.index_at_zero / ei) + choices.white
    net = {channel: _net_at(layer, log_h) for channel, layer in layers.items()}
    known = {channel: rows for channel, rows in net.items() if rows is not None}
    thinnest = min(known, key=lambda c: float(known[c][0]), default=None)
    if thinnest is None or len(known) < len(net) or not layers[thinnest].dmin.reached:
        return None
    excess = {c: rows - known[thinnest] for c, rows in known.items()}
    return WhiteCast(
        _colours(excess),
        {c: _density(rows, layers[c]) for c, rows in known.items()},
        {c: _density(rows, layers[c]) for c, rows in excess.items()},
    )


def _net_at(layer: ChannelCurves, log_h: float) -> FloatArray | None:
    """Return the density of a layer above its own Dmin at a log H, (r,) [density]; None off the strip."""
    ensemble, grid = layer.ensemble, layer.ensemble.grid
    if not grid[0] <= log_h <= grid[-1] and not has_flattened(ensemble, most_exposed=bool(log_h > grid[-1])):
        return None
    x = np.clip(log_h - ensemble.tone_error - ensemble.log_h_error, grid[0], grid[-1])
    return density_along(grid, ensemble.density, x) - layer.dmin.rows


def _density(rows: FloatArray, layer: ChannelCurves) -> Quantity:
    return summarise(rows, how=layer.ensemble.how, reflected=True, least=0.0)


def _colours(excess: Mapping[Channel, FloatArray]) -> tuple[Colour, ...]:
    """Return the colour of the estimate, then the most frequent of the draws, until they hold 95 % of the draws."""
    rows = np.vstack(list(excess.values()))
    counts = (rows > TINGE) & (rows >= 0.5 * rows.max(axis=0))
    names = [_COLOURS.get(frozenset(c for c, on in zip(excess, row, strict=True) if on), "neutral") for row in counts.T]
    drawn = Counter(names[1:])
    found, share = [names[0]], drawn.pop(names[0], 0)
    for name, times in drawn.most_common():
        if share >= COVERAGE * (len(names) - 1):
            break
        found.append(name)
        share += times
    return tuple(found)


def trial(
    judged: ChannelCurves, criteria: Mapping[str, Criterion], ei: float, metering: Metering, choices: Choices
) -> Trial:
    """Return the scene at an index of one's own: where tones land, and what is lost of white and shadow.

    Args:
        judged: the channel that stands for what the eye sees.
        criteria: the index at which each tone just keeps its detail, as "cleared" and "shadow".
        ei: the index [unitless].
        metering: what log H counts from, and what an index stands for.
        choices: where scene tones lie, and where detail and texture end.
    """
    ends = {"white": ("cleared", 1.0), "shadow": ("shadow", -1.0)}
    return Trial(
        ei,
        placements(judged, ei, metering, choices),
        {tone: _beyond(criteria[name].ei, ei, sign) for tone, (name, sign) in ends.items() if name in criteria},
    )


def _beyond(end: Quantity, ei: float, sign: float) -> Quantity:
    """Return the stops by which an index lies beyond the last that keeps a tone [stops].

    Args:
        end: the last index that keeps the tone [unitless].
        ei: the index [unitless].
        sign: 1 where lower indexes lose the tone, -1 where higher ones do.
    """
    if end.value is not None and end.rows is not None:
        return summarise(sign * np.log2(end.rows / ei), how=end.how, reflected=True)
    if end.bound is None:
        return Quantity.missing(end.why or "the strip does not show it")
    limit = sign * math.log2(end.bound[1] / ei)
    why = end.why or "the strip does not show it"
    below = (end.bound[0] == "<") == (sign > 0)
    return Quantity.missing(why, below=limit) if below else Quantity.missing(why, above=limit)


def placements(judged: ChannelCurves, ei: float, metering: Metering, choices: Choices) -> dict[str, Placement]:
    """Return the placements of white, grey and shadow on a curve, the meter set to an index.

    Intervals hold what may be wrong about the curve, its log H and the meter.

    Args:
        judged: the channel that stands for what the eye sees.
        ei: the exact index that is set [unitless].
        metering: what log H counts from, and what an index stands for.
        choices: where scene tones lie, and where detail and texture end.
    """
    grey = math.log10(metering.index_at_zero / ei)
    tones = {"white": choices.white, "grey": 0.0, "shadow": choices.shadow}
    return {name: _placement(judged, name, grey + tone, choices) for name, tone in tones.items()}


def _placement(judged: ChannelCurves, name: str, log_h: float, choices: Choices) -> Placement:
    ensemble, dmin = judged.ensemble, judged.dmin
    grid = ensemble.grid
    true = log_h - ensemble.tone_error
    place, past_most = summarise(true, how=ensemble.how), bool(log_h > grid[-1])
    if not grid[0] <= log_h <= grid[-1] and not has_flattened(ensemble, most_exposed=past_most):
        end = ensemble.density[:, -1 if past_most else 0]
        thinner = past_most == (ensemble.kind == "reversal")
        limit = cautious(end + ensemble.level_error, upper=thinner)
        why = f"the tone lies beyond {ensemble.end_step(most_exposed=past_most)}"
        density = Quantity.missing(why, below=limit) if thinner else Quantity.missing(why, above=limit)
        # What is lost at the end of the strip already is lost beyond it too.
        lost = _state(judged, name, float(end[0]), choices)
        return Placement(
            place, density, Quantity.missing(why), lost if lost in ("gone", "no texture") else "off the strip"
        )
    rows = density_along(grid, ensemble.density, np.clip(true - ensemble.log_h_error, grid[0], grid[-1]))
    density = summarise(rows + ensemble.level_error, how=ensemble.how, reflected=True, least=0.0)
    state = _state(judged, name, float(rows[0]), choices)
    if dmin.reached:
        net = summarise(rows - dmin.rows, how=ensemble.how, reflected=True, least=0.0)
        return Placement(place, density, net, state)
    above = max(cautious(rows - dmin.rows, upper=False), 0.0)
    why = f"it is counted from Dmin, and {dmin.quantity.why}"
    return Placement(place, density, Quantity.missing(why, above=above), state)


def _state(judged: ChannelCurves, name: str, density: float, choices: Choices) -> State:
    """Return the state of a tone that landed; "not known" where it depends on a Dmin or Dmax that is not.

    Args:
        judged: the channel that stands for what the eye sees.
        name: of the tone.
        density: the density that the tone landed on [density].
        choices: where detail and texture end.
    """
    tops = [float(judged.dmax.rows[0]), *([] if judged.dmax.reached else [math.inf])]
    lows = [float(d[0]) for d in possible_dmins(judged.ensemble, judged.dmin)]
    state_of = _state_of if judged.ensemble.kind == "reversal" else _state_of_negative
    states = {state_of(name, density - low, top - low, choices) for low in lows for top in tops}
    return states.pop() if len(states) == 1 else "not known"


def _state_of(name: str, net: float, scale: float, choices: Choices) -> State:
    """Return the state of a tone by its density above Dmin and by Dmax - Dmin [density]."""
    if name == "white":
        return "gone" if net < choices.detail_ends else "thin" if net < THIN_WHITE else "holds"
    if name == "shadow":
        return "no texture" if net > choices.texture_ends * scale else "holds"
    least, most = grey_limits(np.array(scale))
    return "thin" if net < least else "dense" if net > most else "holds"


def _state_of_negative(name: str, net: float, scale: float, choices: Choices) -> State:
    """Return the state of a tone on a negative, on which the shadow is thin and white is dense.

    Texture ends at the speed point, and detail at the share of the range at which the texture of a slide's shadow ends.
    """
    if name == "white":
        return "gone" if net > choices.texture_ends * scale else "holds"
    if name == "shadow":
        return "no texture" if net < SPEED_NET else "holds"
    return "thin" if net < SPEED_NET else "holds"
