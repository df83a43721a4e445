"""The working exposure index of a reversal strip: where scene tones land, and whether the film clears.

Each criterion lays one scene tone on one point of the curve and asks which exposure index does that. Which criterion
decides depends on the film: where it clears to its base, white can be judged; where it does not, white is not white
and the middle of the curve is the honest anchor.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from curves.sensitometry.core.choices import Choices
from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import STOP, Channel, nominal_speed, transmittance
from curves.sensitometry.measures import points
from curves.sensitometry.measures.points import Extreme, Location, reach
from curves.sensitometry.measures.speeds import scaled_power
from curves.sensitometry.measures.table import Subject
from curves.sensitometry.uncertainty.ensemble import Ensemble
from curves.sensitometry.uncertainty.intervals import summarise
from curves.sensitometry.uncertainty.results import BaseState, Basis, Criterion, LayerSpread, WorkingEI


def working_ei(judged: Subject, layers: Mapping[Channel, Subject], mid_grey_ei: float, choices: Choices) -> WorkingEI:
    """Return the exposure index to set for a reversal strip, with its range and reasons.

    Args:
        judged: the channel that stands for what the eye sees.
        layers: the colour layers, for the spread between them; empty for black and white.
        mid_grey_ei: the index at which metered mid-grey has log H zero: the test's own index for a relative strip,
            k for an absolute one, since then EI = k / H.
        choices: where scene tones lie.
    """
    base = base_state(judged.ensemble, judged.dmin, choices)
    criteria = tones(judged, mid_grey_ei, choices)
    basis, reason = _basis(base)
    chosen = criteria[basis].ei
    low, high = criteria["cleared"].ei, criteria["shadow"].ei
    too_long = None
    advice: list[str] = []
    if low.value is not None and high.value is not None and low.value > high.value:
        too_long = math.log10(low.value / high.value) / STOP
        reason += (
            f" The scene is {too_long:.1f} stops longer than the film holds: no index keeps both its white and its"
            " textured shadow."
        )
        advice.append(f"Light the scene so that it is {too_long:.1f} stops shorter, or give up one end of it.")
    elif chosen.value is None:
        reason += " This strip does not show where that is."
    else:
        chosen, moved = _within(chosen, low, high)
        reason += moved
    advice += _advice(base, criteria)
    return WorkingEI(
        recommended=chosen,
        nominal=None if chosen.value is None else nominal_speed(chosen.value),
        range=(None, None) if too_long is not None else (_dial(low), _dial(high)),
        range_why=(
            _range_why(low, "below it, scene white has lost its detail"),
            _range_why(high, "above it, the textured shadow has lost its texture"),
        ),
        basis=basis,
        deciding=next(name for name, criterion in criteria.items() if criterion.ei is chosen),
        reason=reason,
        criteria=criteria,
        channel=judged.ensemble.channel,
        base=base,
        layers=layer_spread(layers) if len(layers) > 1 else None,
        too_long_stops=too_long,
        advice=tuple(advice),
    )


def base_state(ensemble: Ensemble, dmin: Extreme, choices: Choices) -> BaseState:
    """Return whether the film clears, and what its veil costs in light.

    Args:
        ensemble: the curve, with the base patch if it was read.
        dmin: its Dmin.
        choices: the densities up to which a film counts as clear.
    """
    base, veil = points.base(ensemble), points.veil(ensemble, dmin)
    known = dmin.quantity
    if known.value is None:
        return BaseState(base, known, veil, None, None, None)
    clear = known.value <= choices.clear_dmin and (veil.value is None or veil.value <= choices.clear_veil)
    return BaseState(
        base,
        known,
        veil,
        clears=clear,
        white_percent=100.0 * float(transmittance(known.value)),
        veil_stops=None if veil.value is None else max(veil.value, 0.0) / STOP,
    )


def tones(judged: Subject, mid_grey_ei: float, choices: Choices) -> dict[str, Criterion]:
    """Return the index that each scene tone asks for: highlight, middle, shadow, cleared.

    Args:
        judged: the channel that stands for what the eye sees.
        mid_grey_ei: the index at which metered mid-grey has log H zero.
        choices: where scene tones lie.
    """
    ensemble, dmin, found = judged.ensemble, judged.dmin, judged.points
    ends = f"net density {choices.detail_ends:.2f}"
    cleared = reach(ensemble, dmin.rows + choices.detail_ends, dmin, f"the end of highlight detail ({ends})")
    return {
        "highlight": _criterion(found.t, ensemble, choices.white, mid_grey_ei, "scene white lands on T, Dmin + 0.20"),
        "middle": _criterion(found.m, ensemble, 0.0, mid_grey_ei, "mid-grey lands midway between T and S"),
        "shadow": _criterion(
            _texture_end(judged, choices),
            ensemble,
            choices.shadow,
            mid_grey_ei,
            f"the textured shadow lands at {100 * choices.texture_ends:.0f} % of the density range:"
            " the highest index that keeps its texture",
        ),
        "cleared": _criterion(
            cleared,
            ensemble,
            choices.white,
            mid_grey_ei,
            f"scene white lands where detail ends, {ends}: the lowest index",
        ),
    }


def _texture_end(judged: Subject, choices: Choices) -> Location:
    """Return where shadow texture ends: a share of the density range above Dmin."""
    dmin, dmax = judged.dmin, judged.dmax
    level = dmin.rows + choices.texture_ends * (dmax.rows - dmin.rows)
    if not dmax.reached:
        # A higher Dmax puts the level further up the curve, at less exposure.
        known = reach(judged.ensemble, level, dmin, "the end of shadow texture") if dmin.reached else None
        why = f"the end of shadow texture is counted from Dmax, which is not known: {dmax.quantity.why}"
        end = None if known is None else known.quantity.value
        return Location(np.full_like(level, np.nan), Quantity.missing(why, below=end))
    return reach(judged.ensemble, level, dmin, "the end of shadow texture")


def _criterion(point: Location, ensemble: Ensemble, placement: float, mid_grey_ei: float, meaning: str) -> Criterion:
    ei = scaled_power(point, ensemble, mid_grey_ei, placement, meter=True)
    return Criterion(ei, point.quantity, meaning)


def _basis(base: BaseState) -> tuple[Basis, str]:
    """Return the criterion that decides, and why, in words."""
    dmin = base.dmin.value
    if base.clears:
        return "highlight", (
            f"The film clears: its thinnest part has density {dmin:.2f}, so whites can be judged, and scene white is"
            " placed where highlights still have their last full tone."
        )
    if base.clears is None:
        why = "Whether the film clears is not known, because the strip ends before it does"
    else:
        why = (
            f"The film does not clear: its thinnest part still has density {dmin:.2f} and passes"
            f" {base.white_percent:.0f} % of the light. White is not white, and highlights clip before the film looks"
            " clear"
        )
    return "middle", f"{why}; so mid-grey belongs in the middle of the curve."


def _within(chosen: Quantity, low: Quantity, high: Quantity) -> tuple[Quantity, str]:
    """Return the index to recommend, moved to the nearest end if it lies outside the range, and why."""
    assert chosen.value is not None
    if low.value is not None and chosen.value < low.value:
        return low, (
            f" That would be {_number(chosen.value)}, where scene white has already lost its detail: the lowest index"
            " that keeps it is taken instead."
        )
    if high.value is not None and chosen.value > high.value:
        return high, (
            f" That would be {_number(chosen.value)}, where the textured shadow has already lost its texture: the"
            " highest index that keeps it is taken instead."
        )
    return chosen, ""


def _number(ei: float) -> str:
    return f"{nominal_speed(ei):g}"


def _dial(ei: Quantity) -> float | None:
    return None if ei.value is None else nominal_speed(ei.value)


def _range_why(end: Quantity, meaning: str) -> str:
    if end.value is not None:
        return meaning
    side = f", but {'below' if end.bound[0] == '<' else 'above'} {end.bound[1]:.3g}" if end.bound else ""
    return f"not known{side}: {end.why}"


def _advice(base: BaseState, criteria: Mapping[str, Criterion]) -> list[str]:
    """Return what to do about whatever is missing, each a sentence."""
    advice = []
    missing = {name: c.ei for name, c in criteria.items() if c.ei.value is None}
    if missing:
        reasons = dict.fromkeys(q.why for q in (c.log_h for c in criteria.values()) if q.value is None and q.why)
        advice.append(f"The strip did not reach far enough: {next(iter(reasons))}.")
    if base.base.value is None:
        advice.append("Read the density of the bare base too: it tells how much of Dmin is fog that could be removed.")
    if base.clears is False and base.veil.value is not None and base.veil.value > 0.10:
        advice.append(
            f"The veil of {base.veil.value:.2f} above the base costs {base.veil_stops:.1f} stops of light on the"
            " screen: find what leaves it before trusting highlights."
        )
    return advice


def layer_spread(layers: Mapping[Channel, Subject]) -> LayerSpread:
    """Return how far apart the layers lie at T and at S [stops], and which layer clears last."""
    t = {c: found.points.t for c, found in layers.items()}
    s = {c: found.points.s for c, found in layers.items()}
    known = all(p.quantity.value is not None for p in t.values())
    last = max(t.items(), key=lambda item: float(item[1].rows[0]))[0] if known else None
    return LayerSpread(_spread(t, "T"), _spread(s, "S"), last)


def _spread(of_layer: Mapping[Channel, Location], name: str) -> Quantity:
    lost = [c for c, p in of_layer.items() if p.quantity.value is None]
    if lost:
        return Quantity.missing(f"{name} lies off the strip in {', '.join(lost)}")
    rows = np.vstack([p.rows for p in of_layer.values()])
    return summarise(np.ptp(rows, axis=0) / STOP, note=f"greatest less least log H of {name}")
