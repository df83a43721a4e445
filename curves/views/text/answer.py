"""The answer of a strip, or of judged frames, on one screen: what to set, where the scene lands, how sure, and next."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterator, Mapping

from curves.sensitometry.analysis.index_words import HARDLY, loss_words
from curves.sensitometry.core.choices import Choices
from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import STOP
from curves.sensitometry.strip.exposure import NO_ORIGIN
from curves.sensitometry.uncertainty.results import Analysis, Placement, Trial, WorkingEI
from curves.views.words import digits
from curves.views.words.answers import (
    budget_rows,
    cast_words,
    clearing_words,
    densities_words,
    doubts,
    frames_words,
    grave,
    judged_words,
    range_words,
    side_words,
    speed_words,
    sure_words,
)
from curves.views.words.digits import show
from curves.views.words.meters import meter_words
from curves.views.words.wrapping import WIDTH, listed, row, wrapped

MOST_LINES = 20
"""Lines of an answer, for a screen of 24 with the command above it and the prompt below."""

_LABEL = 10
"""Width of the labels at the left [characters]."""


def answer_text(analysis: Analysis, choices: Choices, filters: str, whole: str) -> str:
    """Return the working exposure index and what goes with it, in at most `MOST_LINES` lines.

    What does not fit, of advice and remarks, is counted, and stands in the whole text.

    Args:
        analysis: results of the strip.
        choices: where scene tones lie.
        filters: the command that finds the filters for the strip.
        whole: the option that prints the whole text.
    """
    remarks = [notice.message for notice in grave(analysis.warnings)]
    lines = _answer(analysis, choices, filters)
    room = MOST_LINES - len(_row("Look at", remarks[0])) if remarks else MOST_LINES
    if len(lines) >= room:
        # A doubt or a remark takes the place of the reasons for the range.
        lines = _answer(analysis, choices, filters, reasons=False)
    if len(lines) >= room:
        lines = _answer(analysis, choices, filters, reasons=False, speed=False)
    return "\n".join(_with_the_rest(lines, remarks, analysis.working_ei, whole)) + "\n"


def _answer(
    analysis: Analysis, choices: Choices, filters: str, *, reasons: bool = True, speed: bool = True
) -> list[str]:
    """Return the lines of an answer without remarks and advice.

    Args:
        analysis, choices, filters: as for `answer_text`.
        reasons: True to give the reason for each end of the range.
        speed: True to give the speed of a standard.
    """
    ei = analysis.working_ei
    lines = [*wrapped(analysis.strip.title), ""]
    lines += [line for doubt in doubts(analysis.warnings) for line in _row("Doubt", doubt.message)]
    if (cast := cast_words(ei)) is not None:
        lines += _row("Look at", cast)
        lines += _row("", f"First: {filters}")
    lines += [*_setting(analysis), *_exposing(ei), *_range(ei, reasons=reasons)]
    if speed and (rated := speed_words(analysis)) is not None:
        lines += _row(rated[0], f"{rated[1]}.")
    if ei.placements:
        lines += ["", *_tones(ei.placements, choices)]
    if ei.base is not None:
        lines += _row("Clears", clearing_words(ei.base))
    if (sure := sure_words(ei)) is not None:
        lines += _row("Sure", f"{sure}.")
    if (judged := judged_words(ei)) is not None:
        lines += _row("Judged", judged)
    return lines


def trial_text(analysis: Analysis, choices: Choices, *, timed: bool) -> str:
    """Return the densities of the scene at an index of one's own, and the stops of its tones that are lost there.

    Args:
        analysis: the strip.
        choices: the tones of the scene.
        timed: True to tell the exposure time that was asked about, too.
    """
    ei, trial = analysis.working_ei, analysis.working_ei.trial
    assert trial is not None
    lines = [
        *wrapped(analysis.strip.title),
        "",
        *_row(f"At {trial.ei:g}", _against(ei, trial)),
        *(_exposing(ei) if timed else []),
        "",
    ]
    lines += [*_tones(trial.placements, choices), ""]
    lines += [line for tone, stops in trial.lost.items() for line in _row(tone, _loss(tone, stops))]
    return "\n".join(lines) + "\n"


def answer_line(analysis: Analysis) -> str:
    """Return the index to set with the densities that the scene gets there, and the range, in one line."""
    ei = analysis.working_ei
    if ei.nominal is None:
        lies = "is" if ei.recommended.why == NO_ORIGIN else "lies"
        return f"{analysis.strip.title}: working EI {lies} {side_words(ei)}, range {range_words(ei)}"
    return f"{analysis.strip.title}: set EI {ei.nominal:g} ({densities_words(ei)}), range {range_words(ei)}"


def _setting(analysis: Analysis) -> Iterator[str]:
    ei = analysis.working_ei
    if ei.nominal is not None:
        return iter(_row("Set", f"{meter_words(analysis)} Before rounding {show(ei.recommended)}."))
    if ei.recommended.why is not None and ei.recommended.why.startswith(HARDLY):
        return iter(_row("Set", f"No index can be named: this is {ei.recommended.why}."))
    if ei.recommended.why == NO_ORIGIN:
        return iter(_row("Set", f"No index can be named yet: {NO_ORIGIN}."))
    return iter(_row("Set", f"No index can be named yet. It lies {side_words(ei)}."))


def _exposing(ei: WorkingEI) -> list[str]:
    """Return the exposure time of the scene that was asked about; nothing where none was."""
    if ei.scene is None:
        return []
    found = ei.scene.corrected
    time = show(found, "s") if found.value is None else f"{digits.figures(found.value)} s, {found.note}"
    return _row("Expose", f"where the meter asks for {ei.scene.metered:g} s: {time}.")


def _range(ei: WorkingEI, *, reasons: bool) -> list[str]:
    """Return the usable range, with the reason for each end that is known, or what a scene too long loses."""
    if reasons and ei.shortfall is not None and (losses := loss_words(ei)) is not None:
        return _row("Usable", losses)
    ends = zip(ei.range, ei.range_why, strict=True)
    why = [reason for end, reason in ends if end.value is not None and reasons]
    return _row("Usable", f"{range_words(ei)}{': ' if why else ''}{'; '.join(why)}.")


def _tones(placements: Mapping[str, Placement], choices: Choices) -> Iterator[str]:
    """Yield the table of white, grey and shadow: stops from mid-grey, density, density above Dmin, and state."""
    stops = {"white": choices.white / STOP, "grey": 0.0, "shadow": choices.shadow / STOP}
    yield f"{'':<{_LABEL}}{'stops':>5}   {'density':<22}above Dmin"
    for name, tone in placements.items():
        place = f"{stops[name]:+.1f}" if stops[name] else "0"
        density, net = (digits.value_and_interval(q, 2) for q in (tone.density, tone.net))
        yield f"{name:<{_LABEL}}{place:>5}   {density:<22}{net:<22}{tone.state}".rstrip()


def _against(ei: WorkingEI, trial: Trial) -> str:
    """Return the distance of an index of one's own from the index that the strip gives, before rounding, in words."""
    if ei.nominal is None or ei.recommended.value is None:
        return f"The index to set lies {side_words(ei)}; usable {range_words(ei)}."
    stops = math.log2(trial.ei / ei.recommended.value)
    far = f"{abs(stops):.1f} stops {'above' if stops > 0 else 'below'}"
    apart = f"{far} the index before rounding" if round(stops, 1) else "the index before rounding"
    return f"{apart}, {show(ei.recommended)}; usable {range_words(ei)}."


def _loss(tone: str, stops: Quantity) -> str:
    """Return the stops that a tone loses, or has to spare, in words."""
    what = "its detail" if tone == "white" else "its texture"
    if stops.value is None:
        if stops.bound is None:
            return f"not known whether {what} is kept: {stops.why}."
        side, limit = stops.bound
        if side == "<" and limit <= 0.0:
            return f"keeps {what}, with {-limit:.1f} stops to spare or more."
        lost = f"loses less than {limit:.1f}" if side == "<" else f"loses at least {max(limit, 0.0):.1f}"
        return f"{lost} stops of {what}: {stops.why}."
    low, high = (stops.low, stops.high) if stops.low is not None and stops.high is not None else (stops.value,) * 2
    if stops.value > 0.0:
        return f"loses {what} by {stops.value:.1f} stops ({max(low, 0.0):.1f} to {high:.1f})."
    return f"keeps {what}, with {-stops.value:.1f} stops to spare ({max(-high, 0.0):.1f} to {-low:.1f})."


def _with_the_rest(lines: list[str], remarks: list[str], ei: WorkingEI, whole: str) -> list[str]:
    """Return an answer with as many of the remarks and of the advice as there is room for."""
    remedy = [] if ei.budget is None or not ei.budget.lines else [f"To be surer, {ei.budget.lines[0].remedy}."]
    following = [*(("Look at", text) for text in remarks), *(("Next", text) for text in (*ei.advice, *remedy))]
    last, left = "", 0
    for number, (label, text) in enumerate(following):
        more = _row("" if label == last else label, text)
        # The first remark always has its place.
        if len(lines) + len(more) >= MOST_LINES and (number or not remarks):
            left += 1
            continue
        lines, last = lines + more, label
    return [*lines, *_row("More", f"{whole}: all numbers{f', and {left} more remark{_s(left)}' if left else ''}")]


def _s(count: int) -> str:
    return "" if count == 1 else "s"


def _row(label: str, text: str) -> list[str]:
    """Return a label and a text beside it, wrapped."""
    return textwrap.wrap(
        text, WIDTH, initial_indent=f"{label:<{_LABEL}}", subsequent_indent=" " * _LABEL, break_on_hyphens=False
    )


def by_eye_text(analysis: Analysis, *, full: bool) -> str:
    """Return the index that judgements alone give, how sure it is, and what to do next.

    Args:
        analysis: results of a bracket without densities.
        full: True to give the rule of the judgements and every source of error.
    """
    ei = analysis.working_ei
    told = ei.by_eye
    assert told is not None, "a bracket without densities was judged"
    lines = [*wrapped(analysis.strip.title), ""]
    if ei.nominal is None:
        lines += row("Set", f"No index can be named yet. It lies {side_words(ei)}.")
        lines += row("Why", f"{(ei.recommended.why or '').capitalize()}.")
    else:
        before = digits.value_and_interval(ei.recommended, 1)
        lines += row("Set", f"{meter_words(analysis)} Before rounding {before}.")
    lines += row("Judged", f"{frames_words(told)}; no density was read.")
    if (sure := sure_words(ei)) is not None:
        lines += row("Sure", f"{sure}.")
    if full:
        lines += ["", *wrapped(ei.reason)]
        if ei.budget is not None:
            lines += ["", "Sources of error:", *budget_rows(ei.budget)]
    lines += listed("Look at:", (notice.message for notice in analysis.warnings))
    lines += listed("Next:", ei.advice)
    return "\n".join(lines) + "\n"
