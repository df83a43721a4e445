"""Filters in the terminal: the stack to use, its cost and the index to set; a filter measured; a prediction checked."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence

from curves.sensitometry.core.quantity import NORMAL, Quantity
from curves.sensitometry.core.units import LAYERS, STOP
from curves.sensitometry.filters.behind import BareStrip
from curves.sensitometry.filters.cast import TONES, Cast
from curves.sensitometry.filters.densities import (
    Filter,
    density_of_factor,
    factor_of_density,
    stops_of_density,
    usual_shutter,
)
from curves.sensitometry.filters.from_strips import MeasuredFilter
from curves.sensitometry.filters.prediction import COLOURS, Pack
from curves.sensitometry.filters.prediction_check import PredictionCheck
from curves.sensitometry.filters.stacks import Stack, Stacks
from curves.sensitometry.strip.exposure import NO_ORIGIN
from curves.sensitometry.uncertainty.results import Analysis
from curves.views.words.answers import densities_words
from curves.views.words.digits import figures, interval, show, value
from curves.views.words.meters import two_meters
from curves.views.words.wrapping import listed, row, wrapped

_EXAMPLE = 1 / 125


def stacks_text(
    analysis: Analysis, bare: BareStrip, pack: Pack, found: Stacks, spell: Callable[[str], str] = str
) -> str:
    """Return the stack to use, its cost and the index to set on either kind of meter, and the other good stacks.

    Args:
        analysis, bare, pack, found: the strip, its layers without filters, the ideal pack, and the stacks found.
        spell: returns the name of a setting for the reader; by default the parameter's own.
    """
    best = found.best
    lines = [*wrapped(analysis.strip.title), ""]
    lines += wrapped(f"Use {stack_name(best)}.")
    lines += wrapped(index_words(best))
    if not bare.relative:
        lines += row("through", f"EI {show(best.ei_through, digits=1)} before rounding")
        lines += row("hand-held", f"EI {show(best.prediction.ei, digits=1)} before rounding")
    lines += row("cost", f"{show(best.prediction.cost, 'stops', 1)}{shutter_words(best)}")
    lines += row("meter's part", f"{meters_part(best)}, which a meter gives by itself through the filters")
    lines += _casts(best.prediction.casts)
    if best.prediction.uncovered:
        lines += row("off strip", ", ".join(best.prediction.uncovered))
    if analysis.working_ei.placements:
        lines += row("lands on", f"{densities_words(analysis.working_ei)}, as bright as without filters")
    if as_good := as_good_words(found):
        lines += ["", *wrapped(as_good)]
    lines += ["", *wrapped(f"Without filters, at EI {_dial(found.bare.nominal)} ({_matched(bare)}):")]
    lines += _casts(found.bare.prediction.casts)
    lines += ["", *pack_text(pack)]
    lines += ["", *wrapped(counted(found))]
    for number, one in enumerate(found.listed):
        following = found.listed[number + 1] if number + 1 < len(found.listed) else None
        lines += ["", *_stack(one, following, bare_nominal=found.bare.nominal, best=one is best)]
    lines += listed("Remarks:", stack_notes(analysis, bare, found, spell))
    return "\n".join(lines) + "\n"


def stack_name(one: Stack) -> str:
    """Return a stack's filters joined by plus signs, or "no filter"."""
    return " + ".join(one.names) if one.names else "no filter"


def as_good_words(found: Stacks) -> str:
    """Return the sentence on a stack that costs less and whose cast cannot be told from the best one's; "" if none."""
    if found.listed[0] is not found.best or len(found.listed) < 2 or found.listed[1].told_apart:
        return ""
    other, dearer = found.listed[1], value(found.best.prediction.cost, 1)
    if other.worse_than_before is None or (cost := value(other.prediction.cost, 1)) == dearer:
        return ""
    return (
        f"As good, as far as can be told, and faster: {stack_name(other)}, which costs {cost} stops in place of"
        f" {dearer} and leaves {show(other.worse_than_before, digits=3)} more cast."
    )


def pack_text(pack: Pack) -> list[str]:
    """Return the ideal pack and the crossover it leaves, as lines."""
    if pack.left is None:
        return wrapped(pack_sentence(pack))
    lines = wrapped(f"{pack_sentence(pack)} The cast that this pack leaves is crossover, which no filter mends:")
    for tone in ("white", "shadow"):
        lines += row(tone, _cast(pack.left.casts[tone]))
    return lines


def pack_sentence(pack: Pack) -> str:
    """Return the ideal pack in words."""
    if pack.left is None:
        return f"No pack can be named: {pack.cc[COLOURS[0]].why}."
    named = [f"{show(q, digits=0)} CC {name}" for name, q in pack.cc.items() if (q.value or 0.0) >= 0.5]
    return f"A pack that balances grey would be {' and '.join(named) if named else 'no filter at all'}."


def counted(found: Stacks) -> str:
    """Return the number of stacks that were looked at, and the rule by which some are shown."""
    dear = f", {found.too_dear:,} of them too dear" if found.too_dear else ""
    return (
        f"{found.counted:,} stacks looked at{dear}. Shown, from least cast to least cost, are those that no other stack"
        " beats in both:"
    )


def stack_notes(analysis: Analysis, bare: BareStrip, found: Stacks, spell: Callable[[str], str]) -> list[str]:
    """Return the assumptions behind the numbers, each a sentence; ``spell`` names settings."""
    notes = list(dict.fromkeys(w for one in found.listed for w in one.warnings))
    if used := " + ".join(f.name for f in analysis.strip.filters):
        notes.append(f"The strip itself was exposed through {used}: these stacks come on top of {used}.")
    notes.append(
        "Assumed: a filter moves each layer's curve by its density to that layer, and the densities of a stack add."
        f" Expose one roll through the stack, and compare ({spell('verify')})."
    )
    if bare.eye.kind == "negative":
        notes.append("The hues are those of the negative; its print has the opposite hues.")
    if bare.match == "net":
        notes.append(
            "Layers are compared above their own Dmin, so a tint of the base is left out;"
            f" {spell('match=absolute')} counts it."
        )
    return notes


def index_words(stack: Stack) -> str:
    """Return in words the index to set with a stack, or the reason why none can be named."""
    if stack.prediction.ei.why == NO_ORIGIN:
        return f"No index can be named: {NO_ORIGIN}. Cost and casts do not need it."
    return two_meters(stack.nominal_through, stack.nominal)


def photographed_filter_text(
    one: Filter, scatter: Sequence[float], drawer: str, replaced: str | None, doubt: str
) -> str:
    """Return a filter as two pictures show it: its density to each colour of the camera, and what that is worth.

    Args:
        one: the filter.
        scatter: standard uncertainty of each density by the pictures alone, (3,) [density].
        drawer: name of the drawer that holds the filter.
        replaced: the filter's name if the drawer held another of that name; None if not.
        doubt: the evidence against the encoding of the pictures, a sentence; "" if there is none.
    """
    lines = [*wrapped(f"'{one.name}', from two pictures: density to each colour of the camera")]
    for channel, density, u in zip(LAYERS, one.densities, scatter, strict=True):
        lines += row(channel, f"{density:.3f}; the pictures alone are good to {NORMAL * u:.3f}")
    lines += row(
        "visual", f"{one.visual:.2f}, estimated: a factor of about {figures(factor_of_density(one.visual), 2)}"
    )
    lines += ["", *wrapped(
        "A camera's red, green and blue are neither the film's layers nor status A or M: its bands are broad and"
        f" overlap, and so the standard uncertainty of a density to a layer is {one.uncertainty:.3f}. Two strips of the"
        " film, without and with the filter, measure it far better."
    )]  # fmt: skip
    lines += [*(wrapped(doubt) if doubt else []), *wrapped(f"Written to {drawer}, source camera.")]
    if replaced is not None:
        lines += wrapped(f"The new row replaces: {replaced}")
    return "\n".join(lines) + "\n"


def measured_filter_text(
    one: Filter, found: MeasuredFilter, drawer: str, replaced: str | None, spell: Callable[[str], str]
) -> str:
    """Return a filter as two strips show it: its density to each layer, its factor and its correction.

    Args:
        one, found: the filter, and its measurement.
        drawer: name of the drawer that holds the filter.
        replaced: the filter's name if the drawer held another of that name; None if not.
        spell: returns the name of a setting for the reader.
    """
    lines = [*wrapped(f"'{one.name}', from two strips: density to each layer")]
    for channel, shift in found.layers.items():
        fits = "a pure shift" if shift.pure else "not a pure shift"
        lines += row(channel, f"{show(shift.density, digits=3)}; {fits}, {shift.misfit:.2f} density is left over")
    film, correction = found.film_stops, found.correction
    factor = _as_factor(film)
    lines += ["", *row("film", f"{show(factor, digits=2)} as a factor, {show(film, 'stops', 2)}")]
    if found.meter_stops is not None:
        lines += row("meter", f"{figures(factor_of_density(found.meter_stops * STOP))}, {found.meter_stops:.2f} stops")
    asked = f"; give {spell('meter_factor')}" if found.meter_stops is None else ""
    lines += row("correction", f"{show(correction, 'stops', 2)}{asked}")
    if correction.value is not None:
        way = "more" if correction.value >= 0 else "less"
        lines += wrapped(
            f"Metering through the filter, give {abs(correction.value):.1f} stops {way} than the meter says: set the"
            f" index for no filter times {2.0**-correction.value:.2f}."
        )
    bent = [c for c, shift in found.layers.items() if not shift.pure]
    if bent:
        ratios = ", ".join(f"{c} {100 * (found.layers[c].contrast - 1):+.0f} %" for c in bent)
        lines += ["", *wrapped(
            f"In {' and '.join(bent)} the two curves differ in shape (contrast {ratios}): the strips were not"
            " developed alike, or something other than the filter changed. Do not rely on these densities."
        )]  # fmt: skip
    lines += ["", *wrapped(f"Written to {drawer}, source film, uncertainty {one.uncertainty:.3f}.")]
    if replaced is not None:
        lines += wrapped(f"The new row replaces: {replaced}")
    for note in found.notes:
        lines += wrapped(f"- {note}", indent=2)
    return "\n".join(lines) + "\n"


def prediction_check_text(found: PredictionCheck) -> str:
    """Return a prediction compared with the measurement, and what the difference means."""
    stack = found.stack
    lines = [*wrapped(f"{stack_name(stack)}, predicted and measured"), ""]
    lines += row("EI", f"predicted {show(stack.prediction.ei, digits=1)}")
    lines += row("", f"measured {show(found.ei, digits=1)}")
    lines += row("", f"the film needed {show(found.ei_miss, 'stops', 2)} more than predicted")
    for tone in TONES:
        check = found.tones[tone]
        lines += row(tone, f"predicted {_cast(check.predicted)}")
        lines += row("", f"measured {_cast(check.measured)}")
        if check.misses:
            off = ", ".join(f"{c} {show(q, digits=2)}" for c, q in check.misses.items())
            lines += row("", f"{'held' if check.held else 'missed'}: {off}")
    lines += ["", "The stack's density to each layer, measured on film less the drawer's:"]
    for channel, q in found.shift_misses.items():
        lines += row(channel, show(q, digits=2))
    lines += listed("What the differences mean:", found.says)
    return "\n".join(lines) + "\n"


def _stack(one: Stack, following: Stack | None, *, bare_nominal: float | None, best: bool) -> Iterator[str]:
    yield from wrapped(f"{stack_name(one)}{'  (best)' if best else ''}")
    yield from _casts(one.prediction.casts)
    yield from row("all three", f"{show(one.prediction.cast_left, digits=3)} cast left, grey counting double")
    yield from row("cost", show(one.prediction.cost, "stops", 1))
    meters = f"hand-held {_dial(one.nominal)}, through the filters {_dial(one.nominal_through)}"
    yield from row("set", f"{meters}; without filters {_dial(bare_nominal)}")
    uncovered = ", ".join(one.prediction.uncovered)
    covered = f"off the strip: {uncovered}" if uncovered else "on the strip"
    yield from row("range", covered)
    if following is not None and following.worse_than_before is not None:
        told = "told apart" if following.told_apart else "not told apart"
        yield from row("next leaves", f"{show(following.worse_than_before, digits=3)} more cast: {told}")


def _casts(casts: Mapping[str, Cast]) -> Iterator[str]:
    for tone in TONES:
        yield from row(tone, _cast(casts[tone]))


def _cast(cast: Cast) -> str:
    """Return a cast with its interval: "0.22 (0.20 to 0.24) too orange"."""
    if cast.amount.value is None:
        return cast.words
    ends = interval(cast.amount, 2)
    amount = f"{value(cast.amount, 2)} ({ends})" if ends else value(cast.amount, 2)
    words = cast.words.split(" ", 1)
    return f"{amount} {words[1]}" if len(words) > 1 else f"{amount}, neutral"


def shutter_words(one: Stack) -> str:
    """Return the change of a shutter time that a stack's cost asks for, to follow the cost; nothing without one."""
    cost = one.prediction.cost.value
    if cost is None:
        return ""
    before, _ = usual_shutter(_EXAMPLE)
    after, rest = usual_shutter(_EXAMPLE * 2.0**cost)
    opened = "" if abs(rest) < 0.17 else f", lens {'opened' if rest > 0 else 'closed'} {_third(abs(rest))} stop"
    return f"; a bare {before} {'stays' if after == before else f'becomes {after}'}{opened}"


def _third(stops: float) -> str:
    return "1/3" if stops < 0.42 else "1/2"


def meters_part(one: Stack) -> str:
    """Return the stops of a stack's cost that a meter gives by itself when it looks through the filters."""
    return show(_as_stops(one.factor), "stops", 1)


def _as_stops(factor: Quantity) -> Quantity:
    def stops(x: float | None) -> float | None:
        return None if x is None or x <= 0.0 else stops_of_density(density_of_factor(x))

    return Quantity(stops(factor.value), stops(factor.low), stops(factor.high), factor.how)


def _as_factor(stops: Quantity) -> Quantity:
    def factor(x: float | None) -> float | None:
        return None if x is None else 2.0**x

    if stops.value is None:
        return stops
    return Quantity(factor(stops.value), factor(stops.low), factor(stops.high), stops.how)


def _dial(nominal: float | None) -> str:
    return "no index" if nominal is None else f"{nominal:g}"


def _matched(bare: BareStrip) -> str:
    return "densities above each layer's Dmin" if bare.match == "net" else "densities as they are"
