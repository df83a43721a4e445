"""The plan of a first strip, in the terminal."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping, Sequence

from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import STOP, nominal_speed
from curves.sensitometry.planning.first_strip import MOST_FRAMES, MOST_STRIPS, OVERLAP
from curves.sensitometry.planning.population import ASSUMED_OFF, BEYOND_SPEED_POINT
from curves.sensitometry.planning.ways import FILTER_STEP, FirstPlan, PlannedStrip, Way
from curves.views.words.cautions import cautions, patch_lines
from curves.views.words.digits import figures
from curves.views.words.wrapping import listed, wrapped

_NAME, _SETTING = 12, 24
"""Widths of the columns of settings [characters]."""


def first_plan_text(plan: FirstPlan, plans: Mapping[Way, FirstPlan], *, assumed: Collection[str]) -> str:
    """Return the plan: the answer, what to set, what is expected, the other ways, patches and remarks.

    Args:
        plan: by the way that was asked for.
        plans: by every way within reach, this one too.
        assumed: what nobody stated: "off", how wrong the box speed may be; "made_as", what the film was made as.
    """
    lines = [*wrapped(answer(plan)), "", *settings(plan)]
    lines += [line for text in shortfalls(plan) for line in ("", *wrapped(text))]
    lines += ["", *_expected(plan), *_by_count(plan), "", "Ways of exposing:"]
    for way, other in plans.items():
        lines += _row(way, other)
    lines += ["", *patch_lines(plan.guess.kind)]
    lines += listed("Remarks:", remarks(plan, assumed=assumed))
    return "\n".join(lines) + "\n"


def first_records_text(records: Sequence[str], enter: str) -> str:
    """Return the records of the first strips in words, and how to go on.

    Args:
        records: the files.
        enter: the command that asks for the densities of the first of them.
    """
    return f"\nWritten: {', '.join(records)}\nAfter the process: {enter}\n"


def answer(plan: FirstPlan) -> str:
    """Return the plan in a sentence: how many strips, how far apart, and the chance that they hold the curve."""
    count, apart = len(plan.strips), plan.layout.apart
    chance = _per_cent(plan.chance)
    if plan.way == "frames":
        return f"{count} frames in whole stops hold both ends of the curve with a chance of {chance}."
    if count == 1:
        return f"One strip holds both ends of the curve with a chance of {chance}."
    strips = f"{_COUNTS[count]} strips, {_stops(apart)} apart,"
    return f"{strips} hold both ends of the curve together with a chance of {chance}."


_COUNTS = {2: "Two", 3: "Three", 4: "Four", 5: "Five", 6: "Six", 7: "Seven", 8: "Eight"}


def _expected(plan: FirstPlan) -> list[str]:
    """Return the places expected for the ends of the curve, as lines."""
    least, most = (plan.expected.end(most_exposed=most) for most in (False, True))
    if plan.guess.kind == "reversal":
        rows = (("highlights end", most, "net density 0.04"), ("shadows end", least, "95 % of the image"))
    else:
        rows = (
            ("toe begins", least, "net density 0.04"),
            ("contrast ends", most, f"{BEYOND_SPEED_POINT:.2f} beyond the speed point"),
        )
    lines = ["Expected, log H in lux-seconds (of 95 % of films):"]
    for name, end, what in rows:
        lines.append(f"  {name:<16}{end.value:>6.2f} ({end.low:.2f} to {end.high:.2f})   {what}")
    return lines


def _by_count(plan: FirstPlan) -> list[str]:
    """Return the chance that each number of strips would have, as lines; nothing for a bracket."""
    if not plan.by_count:
        return []
    lines = ["", "Chance by number of strips, where they lie best:"]
    for layout in plan.by_count:
        strips = "1 strip" if layout.count == 1 else f"{layout.count} strips, {_stops(layout.apart)} apart"
        lines.append(f"  {strips:<28}{_per_cent(plan.expected.chance(*layout.ends))}")
    return lines


def _stops(count: float) -> str:
    """Return a number of stops in words."""
    return f"{count:g} stop{'s' if count > 1 else ''}"


def _row(way: Way, plan: FirstPlan) -> list[str]:
    """Return the line of one way of exposing: what it asks for, and its chance."""
    count = len(plan.strips)
    many = f"{count} {'frames' if way == 'frames' else 'strips' if count > 1 else 'strip'}"
    chance = f"{100.0 * (plan.chance.value or 0.0):.0f} %"
    return wrapped(f"{way:<9}{many:<11}{chance:>5}   {needs(plan)}", indent=2, hanging=30)


def remarks(plan: FirstPlan, *, assumed: Collection[str]) -> Iterator[str]:
    """Yield the grounds of the plan, the ways out where it falls short, and cautions, each a sentence or two.

    Args:
        plan: the plan.
        assumed: what nobody stated: "off", how wrong the box speed may be; "made_as", what the film was made as.
    """
    guess = plan.guess
    if "off" in assumed:
        yield f"How wrong the box speed may be was not given; {ASSUMED_OFF:g} stop either way is assumed (own choice)."
    if "made_as" in assumed:
        yield f"The film is taken as a {guess.made_as}, in its own process; nobody stated what it was made as."
    if not guess.own_process:
        yield (
            f"A {guess.made_as} developed as a {guess.kind}: the speed is expected {_shift(guess.prior.faster)} the box"
            f" speed, within {guess.prior.within:g} stops ({guess.prior.why})."
        )
    yield (
        "The chance is counted over simulated films: the guess of the speed, the exposure's own error, and lengths of"
        " curves as data sheets show them (common practice, limits our own). Its interval is what all curves 15 %"
        " longer or shorter would make of it."
    )
    if plan.layout.count > 1 and plan.way != "frames":
        overlap = (plan.strips[1].ends[1] - plan.strips[0].ends[0]) / STOP
        yield (
            "The column alone is the chance of one strip by itself. Neighbouring strips overlap by"
            f" {overlap:.1f} stops, at least {OVERLAP / STOP:.0f}, so that the curves show their own offset."
        )
    if plan.light is not None:
        yield (
            f"The light: {figures(plan.light.lux)} lux, {plan.light.origin}, uncertain by"
            f" {plan.light.uncertainty_stops:.2f} stops with the time (standard uncertainty)."
        )
        yield from plan.light.approximations
    if plan.way == "camera":
        yield (
            "Light scattered in the lens falls on every step: at a thousandth of the clear step's light, no step gets"
            " less than 3.0 of log H below it. Mask the wedge, hood the lens, and record the flare."
        )
    if plan.is_long:
        lost = f"longer by {plan.law.words}" if plan.law is not None else "not corrected, since no law is known"
        yield f"At a second and more films lose speed: the times are {lost}. Shorter times are surer."
    if any(s.time is not None and s.time.engraved.startswith("1/") for s in plan.strips):
        yield "An engraved time stands for its place in the series of halves: 1/60 for 1/64 s."
    yield from cautions()


_MORE_LIGHT: dict[Way, str] = {
    "contact": "bring the lamp to {nearer:.2f} of its distance",
    "camera": "put more light behind the wedge",
    "frames": "put more light on the card",
}
"""What mends a weak light, by the way of exposing."""


def _shift(faster: float) -> str:
    return f"{_stops(abs(faster))} {'above' if faster > 0 else 'below'}"


def shortfalls(plan: FirstPlan) -> Iterator[str]:
    """Yield the things that are lacking: light, a filter, strips."""
    if plan.short_stops:
        mend = _MORE_LIGHT[plan.way].format(nearer=2.0 ** (-plan.short_stops / 2.0))
        yield (
            f"The light is too weak by {plan.short_stops:.1f} stops: {mend}, or allow longer times; the chance is then"
            f" {_per_cent(plan.chance_in_place)}."
        )
    if plan.over_stops:
        density = FILTER_STEP * math.ceil(plan.over_stops)
        yield (
            f"The light is too strong by {plan.over_stops:.1f} stops: put a grey filter of density {density:.1f} before"
            f" the lens, and meter without it; the chance is then {_per_cent(plan.chance_in_place)}."
        )
    density = max(strip.filter_density for strip in plan.strips)
    if density:
        further = 10.0 ** (density / 2.0)
        yield (
            f"The light is too strong for the shortest time: put a grey filter of density {density:.1f}"
            f" ({density / FILTER_STEP:.0f} stops) into it, or move the lamp to {further:.1f} times its distance."
        )
    if len(plan.strips) in (MOST_STRIPS, MOST_FRAMES) and (plan.chance.value or 0.0) < 0.5:
        yield "No number of strips that is worth exposing reaches the chance asked for: narrow the guess of the speed."


def _per_cent(chance: Quantity) -> str:
    """Return a chance in per cent with its interval: "96 % (88 to 99 %)"."""
    value, low, high = (100.0 * (x or 0.0) for x in (chance.value, chance.low, chance.high))
    return f"{value:.0f} % ({low:.0f} to {high:.0f} %)"


def settings(plan: FirstPlan) -> list[str]:
    """Return a line for each strip: what to set, and what it covers."""
    if plan.way == "frames":
        return _frame_settings(plan)
    lines = [f"{'':<{_NAME}}{'set':<{_SETTING}}{'lux-seconds':>11}{'log H':>18}{'alone':>9}"]
    for number, strip in enumerate(plan.strips, start=1):
        covers = f"{strip.ends[0]:.2f} to {strip.ends[1]:.2f}"
        chance = f"{100.0 * (strip.alone.value or 0.0):.0f} %"
        line = f"  {f'strip {number}':<{_NAME - 2}}{setting(plan, strip):<{_SETTING}}"
        lines.append(f"{line}{strip.lux_seconds:>11.3g}{covers:>18}{chance:>9}")
    if plan.way == "camera":
        lines += wrapped(
            f"Set the meter to EI {plan.ei:g} and read step {plan.metered_step}; the record's offset_stops says what"
            " each strip got beyond the metered exposure. Lux-seconds are those of the metered step."
        )
    return lines


def _frame_settings(plan: FirstPlan) -> list[str]:
    """Return a line for each frame: stops from the metered exposure, the index that this rates, and the setting."""
    lines = wrapped(f"Set the meter to EI {plan.ei:g} and read the grey card.")
    known = any(frame.time is not None for frame in plan.strips)
    lines.append(f"{'':<{_NAME}}{'stops':>7}{'rated EI':>11}{'   set' if known else ''}")
    for number, frame in enumerate(plan.strips, start=1):
        assert frame.ei is not None
        assert frame.offset_stops is not None
        rated = f"{nominal_speed(frame.ei):g}"
        name = f"frame {number}"
        line = f"  {name:<{_NAME - 2}}{frame.offset_stops:>+7.1f}{rated:>11}   {setting(plan, frame)}"
        lines.append(line.rstrip())
    return lines


def setting(plan: FirstPlan, strip: PlannedStrip) -> str:
    """Return the setting of a strip: time, aperture, filter; or stops from the metered exposure."""
    if strip.time is not None:
        filtered = f", filter {strip.filter_density:.1f}" if strip.filter_density else ""
        aperture = f"f/{strip.aperture.engraved} " if strip.aperture is not None else ""
        return f"{aperture}{strip.time.engraved} s{filtered}"
    if strip.offset_stops is None:
        return f"{figures(strip.lux_seconds * 30.0)} lux for 1/30 s"
    if plan.way == "frames":
        return ""
    return "as metered" if strip.offset_stops == 0.0 else f"{strip.offset_stops:+.1f} stops from metered"


def needs(plan: FirstPlan) -> str:
    """Return in words what a way of exposing needs."""
    most, least = plan.strips[0], plan.strips[-1]
    if plan.way == "contact":
        span = " to ".join(figures(one.lux_seconds, 2) for one in ((least, most) if most is not least else (most,)))
        return f"{span} lux-seconds on the wedge, lux meter, shutter"
    if plan.way == "camera":
        return f"meter at EI {plan.ei:g} on step {plan.metered_step}, light behind the wedge"
    assert most.ei is not None
    assert least.ei is not None
    return f"grey card, rated EI {nominal_speed(most.ei):g} to {nominal_speed(least.ei):g}, no wedge"
