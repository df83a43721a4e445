"""One strip in the terminal: its numbers in columns or in tall tables, and its working index in sentences."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace

from curves.errors import CurvesError, EmptyRecordError
from curves.sensitometry.analysis.index_words import HARDLY
from curves.sensitometry.core.choices import Choices
from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.reader_units import READER_WORDS
from curves.sensitometry.core.units import STOP
from curves.sensitometry.measures.table import measures_of
from curves.sensitometry.uncertainty.budget import Budget
from curves.sensitometry.uncertainty.results import (
    Analysis,
    BaseState,
    ChannelFinding,
    Notice,
    SceneTime,
    Speed,
    WorkingEI,
)
from curves.views.words import digits
from curves.views.words.answers import (
    budget_rows,
    budget_sentence,
    cast_words,
    densities_words,
    doubts,
    grave,
    judged_words,
    range_words,
    side_of,
    side_words,
    speed_words,
)
from curves.views.words.digits import figures, show, speed_name
from curves.views.words.meters import basis_name, constant_words, match_words, meters_of
from curves.views.words.wrapping import listed, row, wrapped

_LABEL, _COLUMN = 26, 13
"""Widths of the names at the left and of a channel's column [characters]: four channels fit into 80."""

_LEFT_OUT = frozenset({"average_gradient_130", "average_gradient_150", "average_gradient_net"})
"""Keys of the measures that are variants of one shown; all stand in the full text."""


def measures_text(analysis: Analysis) -> str:
    """Return every number found on a strip, one line each, grouped by measure."""
    lines = [*heading(analysis), ""]
    for measure in measures_of(analysis.strip.kind):
        of_channel = {channel: found.measures[measure.key] for channel, found in analysis.channels.items()}
        notes = {q.note for q in of_channel.values()}
        shared = notes.pop() if len(notes) == 1 else None
        unit = f" [{measure.unit}]" if measure.unit else ""
        lines += wrapped(f"{measure.label}{unit}{f': {shared}' if shared else ''}", hanging=2)
        for channel, q in of_channel.items():
            lines += _row(channel, replace(q, note=None) if shared else q, measure.digits)
    lines += ["", f"Points: log H [{analysis.strip.log_h_unit}]"]
    for channel, found in analysis.channels.items():
        for name, point in found.points.items():
            at = "" if point.density is None else f"at density {point.density:.2f}"
            lines += _row(f"{channel} {name}", point.log_h, 2, at)
    if analysis.speeds:
        lines += ["", "Speeds"]
        for name, speed in analysis.speeds.items():
            lines += _speed(name, speed)
    ei = analysis.working_ei
    lines += ["", f"Working EI, by {basis_name(ei.basis)}"]
    lines += _row("set", ei.recommended, 1, "" if ei.nominal is None else f"on the dial: {ei.nominal:g}")
    lines += row("range", range_words(ei))
    lines += _placements(ei)
    if (judged := judged_words(ei)) is not None:
        lines += row("judged", judged)
    if (cast := cast_words(ei)) is not None:
        lines += row("white", cast)
    lines += [*_readings(analysis), *_remarks(analysis)]
    return "\n".join(lines) + "\n"


def _readings(analysis: Analysis) -> list[str]:
    """Return the readings of a meter beside the densities made of them; no line for a densitometer."""
    strip = analysis.strip
    if not strip.read_as.by_meter:
        return []
    read = [found for found in analysis.channels.values() if not found.estimated]
    lines = ["", f"Readings: {READER_WORDS[strip.read_as.unit]}, and the densities made of them"]
    lines.append(f"{'':14}{''.join(f'{found.channel:>15}' for found in read)}")
    by_step: dict[str, list[str]] = {}
    for column, found in enumerate(read):
        for step in found.steps:
            cells = by_step.setdefault(step.label, [""] * len(read))
            shown = strip.read_as.reading_text(step.density * (strip.callier or 1.0))
            cells[column] = f"{shown} {step.density:6.2f}"
    return lines + [f"  {label:<12}{''.join(f'{cell:>15}' for cell in cells)}" for label, cells in by_step.items()]


def ei_text(analysis: Analysis, choices: Choices) -> str:
    """Return the working exposure index in a photographer's words."""
    ei = analysis.working_ei
    lines = [*heading(analysis), ""]
    if (cast := cast_words(ei)) is not None:
        lines += [*wrapped(f"{cast} Find the filters that bring the layers together first (curves filters)."), ""]
    if ei.nominal is None:
        side = "" if ei.recommended.bound is None else f" It lies {side_of(ei.recommended)}."
        never = ei.recommended.why is not None and ei.recommended.why.startswith(HARDLY)
        lines += wrapped(f"No index can be named{'' if never else ' yet'}.{side}")
    else:
        lines += wrapped(f"Set the meter to {ei.nominal:g}. Before rounding: {show(ei.recommended)}.")
        lines += wrapped(meters_of(analysis))
    lines += wrapped(f"Usable range: {range_words(ei)}.", hanging=2)
    if ei.shortfall is None and any(end.value is not None or end.bound for end in ei.range):
        for end, why in zip(("low end", "high end"), ei.range_why, strict=True):
            lines += wrapped(f"- {end}: {why}.", indent=2)
    lines += ["", *wrapped(ei.reason)]
    if ei.placements and ei.nominal is not None:
        lines += ["", f"At {ei.nominal:g} the scene lands on these densities:", *_placements(ei)]
    if ei.base is not None:
        lines += ["", *_clearing(ei.base)]
    if ei.layers is not None:
        lines += ["", *_layers(ei)]
    if ei.budget is not None:
        lines += ["", *_sure(ei, ei.budget)]
    if (judged := judged_words(ei)) is not None:
        lines += ["", *wrapped(f"Judged: {judged}")]
    lines += ["", "What each tone asks for:"]
    for name, criterion in ei.criteria.items():
        number = side_of(criterion.ei) if criterion.ei.value is None else _value(criterion.ei, 1)
        decides = " (decides)" if name == ei.basis and ei.nominal is not None else ""
        lines += row(name, f"EI {number}{decides}: {criterion.meaning}")
    if ei.basis in ("mixed", "grey") and ei.nominal is not None:
        lines += row("decided", f"by {basis_name(ei.basis)}")
    if ei.scene is not None:
        lines += ["", *_scene(ei.scene)]
    lines += listed("What to do next:", ei.advice)
    lines += ["", *wrapped(_assumptions(analysis, choices)), *_remarks(analysis)]
    return "\n".join(lines) + "\n"


def checked_text(
    name: str, error: CurvesError | None, doubts: Sequence[Notice], spell: Callable[[str], str] = str, kind: str = ""
) -> str:
    """Return the check of one file in words: good, doubtful and why, or failed and why.

    Args:
        name: the file.
        error: why it does not load, or None.
        doubts: what in it is legal but suspicious.
        spell: names a setting as the person gives it.
        kind: what a file that is not a strip's is, such as "a calibrated wedge"; "" for a strip's.
    """
    if error is not None:
        words = error.in_words(spell).split("\n")
        fails = "has no readings yet" if isinstance(error, EmptyRecordError) else "fails"
        return "\n".join([f"{name}: {fails}", *(line for part in words for line in wrapped(part, indent=2))])
    if not doubts:
        return f"{name}: good" + (f", {kind}" if kind else "")
    lines = [f"{name}: loads, but look at this"]
    for doubt in doubts:
        lines += wrapped(f"- {doubt.message}", indent=2)
    return "\n".join(lines)


def heading(analysis: Analysis) -> list[str]:
    """Return the title of a strip, and what was read of it."""
    strip = analysis.strip
    steps = max(len(found.steps) for found in analysis.channels.values())
    unit = "in lux-seconds" if strip.log_h_unit == "lux-seconds" else strip.log_h_unit
    about = f"{strip.kind}, density {strip.density}{match_words(strip)}, {steps} steps, log H {unit}"
    return [*wrapped(strip.title), *wrapped(about)]


def _row(name: str, q: Quantity, digits: int, extra: str = "") -> list[str]:
    """Return one quantity as a line, or as several lines where its reason is long."""
    parts = [_value(q, digits)]
    if q.value is not None and q.how != "fitted":
        parts.append(q.how)
    parts += [part for part in (extra, q.note) if part]
    return row(name, ", ".join(parts))


def _value(q: Quantity, digits: int) -> str:
    return show(q, digits=digits)


def _placements(ei: WorkingEI) -> Iterator[str]:
    """Yield the placements of white, grey and shadow, a line each."""
    for name, tone in ei.placements.items():
        net = "" if tone.net.value is None else f", {tone.net.value:.2f} above Dmin"
        yield from row(name, f"{tone.state}: density {_value(tone.density, 2)}{net}")


def _speed(name: str, speed: Speed) -> Iterator[str]:
    rounded = "" if speed.nominal is None else f"{speed.nominal:g}/{speed.degrees}°, "
    yield from row(speed_name(name), f"{rounded}{_value(speed.value, 1)}, {speed.channel}; {speed.branch}")
    if speed.conforms is None:
        yield from row("", "no standard defines this speed")
    elif speed.conforms:
        yield from row("", "the readings meet the standard; only you know whether light and processing met it too")
    for reason in speed.why_not:
        yield from row("", f"does not meet the standard: {reason}")


def _clearing(base: BaseState) -> Iterator[str]:
    answer = {True: "Yes", False: "No", None: "The strip does not show it"}[base.clears]
    yield from wrapped(f"Does the film clear? {answer}.")
    for name, q in (("Dmin", base.dmin), ("base", base.base), ("veil", base.veil)):
        yield from _row(name, q, 2)
    if base.white_percent is not None:
        yield from row("light", f"the clearest part passes {base.white_percent:.0f} % of an open gate")
    for channel, q in base.white_point.items():
        yield from row(f"white, {channel}", f"{digits.value_and_interval(q, 1)} % of an open gate")
    if base.veil_stops is not None:
        yield from row("cost", f"the veil alone takes {base.veil_stops:.1f} stops of light from the screen")


def _sure(ei: WorkingEI, budget: Budget) -> Iterator[str]:
    stops = digits.half_width_stops(ei.recommended)
    yield f"How sure is the index? {'' if stops is None else f'To {stops} (95 %), from these sources:'}".rstrip()
    yield from budget_rows(budget)
    yield from wrapped(budget_sentence(budget))


def budget_lines(name: str, budgets: Mapping[str, Budget]) -> str:
    """Return the budgets of one number, channel by channel.

    Args:
        name: key of the number.
        budgets: the budgets by channel; empty where the number has no value.
    """
    if not budgets:
        return "\n".join(wrapped(f"Budget of {name}: {name} has no value on this strip, and so no budget."))
    lines = []
    for channel, budget in budgets.items():
        lines += [f"Budget of {name}, {channel}", *budget_rows(budget)]
        lines += [*wrapped(budget_sentence(budget)), ""]
    return "\n".join(lines).rstrip()


def _scene(scene: SceneTime) -> Iterator[str]:
    yield f"Exposure time, where the meter asks for {scene.metered:g} s:"
    seconds = scene.corrected
    text = show(seconds, "s") if seconds.value is None else f"{figures(seconds.value)} s, {seconds.note}"
    yield from row("expose for", text)


def _layers(ei: WorkingEI) -> Iterator[str]:
    assert ei.layers is not None
    yield "Distance between the layers, in stops:"
    yield from _row("highlights", ei.layers.t_stops, 1)
    yield from _row("shadows", ei.layers.s_stops, 1)
    if ei.layers.last_to_clear:
        yield from row("", f"the {ei.layers.last_to_clear} layer clears last")


def _assumptions(analysis: Analysis, choices: Choices) -> str:
    stops = [f"{tone / STOP:+.1f}" for tone in (choices.white, choices.shadow)]
    exposure = {
        "lux-seconds": f"Mid-grey is metered exposure H = k / EI, {constant_words(analysis)}.",
        "relative to metered mid-grey": f"It rests on the meter and the index {analysis.strip.exposure.ei or 0:g} it"
        f" was set to, and for the speeds of standards on {constant_words(analysis)}.",
        "relative": "Nothing states what log H counts from.",
    }[analysis.strip.log_h_unit]
    tones = f"scene white {stops[0]} and textured shadow {stops[1]} stops from mid-grey (common practice)"
    return f"Assumed: {tones}. {exposure}"


def _remarks(analysis: Analysis) -> list[str]:
    """Return the warnings of an analysis as a list."""
    return listed("Remarks:", (notice.message for notice in analysis.warnings))


def columns_text(analysis: Analysis, whole: str) -> str:
    """Return the numbers of a strip, the channels beside each other, each with half its 95 % interval.

    Args:
        analysis: results of the strip.
        whole: the options that print the whole text.
    """
    channels = list(analysis.channels.values())
    lines = [*heading(analysis), f"{'':<{_LABEL}}{''.join(f'{c.channel:>{_COLUMN}}' for c in channels)}"]
    for measure in measures_of(analysis.strip.kind):
        found = [c.measures[measure.key] for c in channels]
        if measure.key not in _LEFT_OUT and not _told_by_dmax(measure.key, channels):
            unit = f" [{measure.unit}]" if measure.unit == "stops" else ""
            lines.append(_line(f"{measure.label}{unit}", found, measure.digits))
    for name in channels[0].points:
        lines.append(_line(f"log H of {_name(name)}", [c.points[name].log_h for c in channels], 2))
    lines += ["", *_index(analysis)]
    remarks = [notice.message for notice in grave(analysis.warnings)]
    lines += [
        *listed("Remarks:", remarks),
        *wrapped(f"±: half the 95 % interval. Intervals and reasons: {whole}"),
    ]
    return "\n".join(lines) + "\n"


def _name(point: str) -> str:
    return "speed point" if point == "speed" else point


def _told_by_dmax(key: str, channels: list[ChannelFinding]) -> bool:
    """Return True for the highest density on the strip where Dmax itself is known."""
    return key == "dmax_reached" and all(c.measures["dmax"].value is not None for c in channels)


def _line(name: str, found: list[Quantity], most_digits: int) -> str:
    return f"{name:<{_LABEL}}{''.join(f'{_cell(q, most_digits):>{_COLUMN}}' for q in found)}"


def _cell(q: Quantity, most_digits: int) -> str:
    """Return a number with half its interval, "0.31 ±0.03", or its bound, or "-"."""
    if q.value is None:
        return "-" if q.bound is None else digits.value(q, most_digits)
    half = q.half_width
    places = digits.decimals(q, most_digits)
    return digits.value(q, most_digits) + ("" if half is None else f" ±{digits.number(half, places)}")


def _index(analysis: Analysis) -> list[str]:
    """Return the standard's speed, the index with the densities that it gives, and the colour of white."""
    ei = analysis.working_ei
    lines = [] if (speed := speed_words(analysis)) is None else row(*speed)
    if ei.nominal is None:
        lies = "" if ei.recommended.bound is None else "lies "
        lines += row("EI", f"{lies}{side_words(ei)}; range {range_words(ei)}")
    else:
        before = digits.value_and_interval(ei.recommended, 1)
        lines += row("EI", f"{ei.nominal:g}, before rounding {before}, by {basis_name(ei.basis)}")
        lines += row("", f"{densities_words(ei)}; range {range_words(ei)}")
    if (judged := judged_words(ei)) is not None:
        lines += row("judged", judged)
    cast = cast_words(ei)
    doubted = [line for doubt in doubts(analysis.warnings) for line in wrapped(doubt.message)]
    return [*doubted, *([] if cast is None else wrapped(cast)), *lines]
