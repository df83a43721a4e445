"""The next exposure, in the terminal: what tells most, what each proposal would do, and what nothing here shrinks."""

from __future__ import annotations

import math
from collections.abc import Iterator

from curves.sensitometry.comparison.numbers import Scale
from curves.sensitometry.core.units import PATCH_NAMES
from curves.sensitometry.next_exposure.expected_gain import SURE, WORTH, ExpectedGain, NextExposure
from curves.sensitometry.next_exposure.proposals import PATCH_CM, STEP_CM, Proposal
from curves.sensitometry.strip.strip import Strip
from curves.views.words.cautions import cautions
from curves.views.words.digits import index_alone, value, value_and_interval
from curves.views.words.wrapping import listed, wrapped

_UNITS: dict[Scale, str] = {"stops": " stops", "density": " density", "gradient": ""}
_DECIMALS: dict[Scale, int] = {"stops": 2, "density": 3, "gradient": 3}
_NAME, _WIDTH, _BETWEEN, _TAKES = 35, 6, 16, 12
"""Columns of the table [characters]."""

_LINES = 4
"""Sources of error that are named [unitless]."""


def next_exposure_text(found: NextExposure, together: str, joined: str) -> str:
    """Return a plan after a strip as text: the answer, a row for each proposal, and remarks.

    Args:
        found: the proposals with what they can be expected to do.
        together: the command that makes one index of this strip and another.
        joined: the command that makes one curve of them.
    """
    lines = [*wrapped(found.analysis.strip.title), *wrapped(state(found)), ""]
    lines += [line for sentence in answer(found, together, joined) for line in wrapped(sentence)]
    unit = _UNITS[found.number.scale].strip()
    lines += ["", f"Expected afterwards{f', in {unit}' if unit else ''}:"]
    chances = any(gain.chance < 1.0 for gain in found.gains)
    lines.append(_line("", "half", "nine in ten", "there" if chances else "", ""))
    lines.append(_line("", "width", "between", "in" if chances else "", "takes"))
    if found.half_width is not None:
        lines.append(_line("the strip as it is", _size(found.half_width, found.number.scale), "", "", ""))
    for gain in found.gains:
        lines.append(_row(gain, found.number.scale, chances=chances))
    lines += listed("Remarks:", remarks(found))
    return "\n".join(lines) + "\n"


def next_record_text(record: str, proposal: Proposal, first: Strip, enter: str) -> str:
    """Return the record of the next strip in words: what it is of, the patches it needs, and how to go on.

    Args:
        record: the file.
        proposal: the strip that it describes.
        first: the strip before it.
        enter: the command that asks for its densities.
    """
    lines = ["", f"Written: {record} ({words(proposal)})"]
    patches = [name.replace("_", " ") for name in PATCH_NAMES if getattr(first.patches, name)]
    if patches:
        lines.append(f"The plan counts on patches beside this strip as beside the first: {', '.join(patches)}.")
    return "\n".join([*lines, f"After the process: {enter}"]) + "\n"


def state(found: NextExposure) -> str:
    """Return the number as it is known now, in a sentence."""
    shown = found.number.shown
    if found.half_width is None:
        known = index_alone(shown) if found.number.key[0] == "ei" else value(shown)
        return f"{_name(found)}: {known}{f': {shown.why}' if shown.why else ''}."
    size = f"{_size(found.half_width, found.number.scale)}{_UNITS[found.number.scale]}"
    known = f"{_name(found)} {value_and_interval(shown)}: known to {size} (95 %)"
    aside = " and ".join(f"the {line.name}" for line in found.of_the_meter)
    if not aside or found.without_meter is None:
        return f"{known}."
    without = _size(found.without_meter, found.number.scale)
    return f"{known}; {without} without {aside}, the same for every strip."


def answer(found: NextExposure, together: str, joined: str) -> Iterator[str]:
    """Yield the proposal that tells most, or the reason that none is worth its film, each a sentence or two.

    Args:
        found: the proposals with what they can be expected to do.
        together: the command that makes one index of this strip and another.
        joined: the command that makes one curve of them.
    """
    best = found.best
    if best is None and found.half_width is None:
        first = found.gains[0]
        yield (
            f"None of these is sure to show it. Most likely does: {words(first.proposal)}, on {_films(first, found)}."
        )
        return
    if best is None:
        yield f"Nothing more to gain by film: {_greatest(found)}."
        return
    size = f"{_size(best.half_width or 0.0, found.number.scale)}{_UNITS[found.number.scale]}"
    if best.gain is None:
        yield f"What finishes it: {words(best.proposal)}, on {_films(best, found)}. Expect {size}."
        if best.proposal.way == "again":
            yield f"Then join the two: {joined}"
        return
    yield f"What tells most: {words(best.proposal)}. Expect {size}, {100 * best.gain:.0f} % less."
    if best.proposal.exposes:
        yield f"Then: {together if found.number.key[0] == 'ei' else joined}"
    rest = [g.gain for g in found.gains if g.proposal.way not in ("camera", "bracket") and g.gain is not None]
    if best.proposal.way in ("camera", "bracket") and rest and max(rest) < WORTH:
        most = max(0, round(100 * max(rest)))
        yield f"Strips by the same light and more readings gain {most} % at most: {_greatest(found)}."


def _greatest(found: NextExposure) -> str:
    """Return the greatest source of a number's uncertainty as a clause, with what would shrink it."""
    if found.budget is None or not found.budget.lines:
        return "its uncertainty comes from what another exposure does not change"
    line = found.budget.lines[0]
    name = line.name.removeprefix("the ")
    return f"the {name} is {100 * line.share:.0f} % of it ({line.remedy})"


def words(proposal: Proposal) -> str:
    """Return a proposal in words: "the strip again, 1 stop more"."""
    if proposal.way == "again":
        stops = abs(proposal.offset_stops)
        if not stops:
            return "the strip again, same exposure"
        amount = f"{stops:g} stop{'s' if stops > 1 else ''}"
        return f"the strip again, {amount} {'more' if proposal.offset_stops > 0 else 'less'}{_beside(proposal)}"
    if proposal.way == "filter":
        return "the strip with and without filter"
    if proposal.way == "readings":
        return f"every step read {proposal.readings} times"
    if proposal.patch is not None:
        return f"the {proposal.patch.replace('_', ' ')} patch, read"
    if proposal.metered_step is not None:
        return f"the wedge, lit from behind, in the camera: meter at EI {proposal.indexes[0]:g} on step" + (
            f" {proposal.metered_step}"
        )
    return f"{proposal.frames} frames of a grey card at EI " + " ".join(f"{index:g}" for index in proposal.indexes)


def _beside(proposal: Proposal) -> str:
    """Return the patch that is read beside a strip, in words; an empty text without one."""
    return "" if proposal.patch is None else f", with {proposal.patch.replace('_', ' ')} film beside it"


def _short(proposal: Proposal) -> str:
    """Return a proposal in as few words as a row has room for."""
    if proposal.way == "again":
        return words(proposal).removesuffix(_beside(proposal))
    if proposal.metered_step is not None:
        return f"the wedge photographed at EI {proposal.indexes[0]:g}"
    if proposal.way == "bracket":
        return f"{proposal.frames} frames, EI {proposal.indexes[0]:g} to {proposal.indexes[-1]:g}"
    return words(proposal)


def _row(gain: ExpectedGain, scale: Scale, *, chances: bool) -> str:
    """Return the row of one proposal."""
    proposal = gain.proposal
    takes = f"{proposal.to_read} readings"
    if proposal.frames:
        takes = f"{proposal.frames} frame{'s' if proposal.frames > 1 else ''}"
    elif proposal.film_cm:
        takes = f"{math.ceil(proposal.film_cm)} cm"
    width = "none" if gain.half_width is None else _size(gain.half_width, scale)
    ends = () if gain.after is None else gain.after.half_width[::2]
    between = " to ".join(f"{x:.{_DECIMALS[scale]}f}" for x in ends)
    return _line(_short(proposal), width, between, f"{100 * gain.chance:.0f} %" if chances else "", takes)


def _line(name: str, width: str, between: str, chance: str, takes: str) -> str:
    """Return a line of the table; the chance has room only where it is given."""
    room = f"{chance:>6}" if chance else ""
    return f"  {name:<{_NAME}}{width:>{_WIDTH}}{between:>{_BETWEEN}}{room}{takes:>{_TAKES}}".rstrip()


def remarks(found: NextExposure) -> Iterator[str]:
    """Yield the assumptions of a plan and all that it leaves out, each a sentence or two."""
    yield (
        f"Half widths are medians over {found.films} simulated films that the strip leaves possible. Nine in ten of"
        " what comes lies between the ends, the least and the greatest of these films, a tenth further out: the width"
        " of an interval depends on how the readings fall. Each film's new readings were analysed as any strip's are,"
        " together with this one."
    )
    if any(gain.chance < 1.0 for gain in found.gains):
        yield (
            f"The share of these films that then show the number is given in per cent; {100 * SURE:.0f} % counts as"
            " sure. What a curve has left to move beyond the strip is drawn: half to three times its movement over the"
            " last stop (own choice)."
        )
    beside = {_beside(gain.proposal) for gain in found.gains if gain.proposal.way == "again"} - {""}
    for text in beside:
        yield f"Strips of another exposure are meant{text.removeprefix(',')}, through the same run."
    for gain in found.gains:
        if gain.proposal.way == "bracket":
            indexes = " ".join(f"{index:g}" for index in gain.proposal.indexes)
            yield f"The {gain.proposal.frames} frames show a grey card, metered with the meter in use, at EI {indexes}."
    if found.budget is not None:
        parts = [f"{line.name} {100 * line.share:.0f} %" for line in found.budget.lines[:_LINES]]
        yield f"What the uncertainty is made of now: {'; '.join(parts)}."
    if any(gain.proposal.film_cm for gain in found.gains):
        yield (
            f"Film is counted at {10 * STEP_CM:.0f} mm a step and {PATCH_CM:.0f} cm a patch (common practice); a patch"
            " must be film of the same process run."
        )
    yield (
        "A second strip goes through the process again. How much a process differs from one run to the next is not"
        " known from one strip; an index of two allows for it, so that a strip which tells little can widen it."
    )
    yield from cautions()


def _films(gain: ExpectedGain, found: NextExposure) -> str:
    """Return on how many of the possible films the number is there, in words."""
    return f"{round(gain.chance * found.films)} of {found.films} films that this strip leaves possible"


def _name(found: NextExposure) -> str:
    """Return the name of the number with its channel, to begin a sentence."""
    name, channel = found.number.label, found.number.key[1]
    return f"{name[:1].upper()}{name[1:]}{f', {channel}' if channel else ''}"


def _size(half_width: float, scale: Scale) -> str:
    """Return half a width with its sign: "±0.33"; gradients and densities to three decimals."""
    return f"±{half_width:.{_DECIMALS[scale]}f}"
