"""The plan of a roll in the terminal: the frames as a table, what to look for, and what the judgements will tell."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from curves.sensitometry.brackets.roll import Bracket, RollFrame
from curves.sensitometry.core.units import DensityKind, Kind, exact_ei
from curves.sensitometry.filters.stacks import Stack
from curves.sensitometry.planning.camera import Dial, Mark, value_of
from curves.sensitometry.planning.light import SPEED
from curves.sensitometry.planning.ways import USUAL_SECONDS
from curves.sensitometry.strip.exposure import ASSUMED_EYE, ASSUMED_RIGHT
from curves.sensitometry.strip.metering import Metered
from curves.sensitometry.strip.strip import Strip
from curves.sensitometry.uncertainty.results import Analysis
from curves.views.pages.card import thirds_of
from curves.views.words import digits
from curves.views.words.cautions import cautions
from curves.views.words.wrapping import listed, row, wrapped

_MISSED = 0.25
"""Exposure by which a setting may miss a frame without a word: a click of half a stop does [stops]."""

GUESSED = "a guess"
"""Note of an index that nobody measured."""


@dataclass(frozen=True, eq=False)
class Roll:
    """A planned roll.

    Attributes:
        brackets: the frames of each stack.
        kind: of the film.
        metered: whether the meter in use looks through the filters.
        density: the kind of density that may be read.
        strip: the strip that the indexes rest on; None for a guess.
        analysis: its results; None for a guess.
        camera: what a hand-held meter shows of the scene [EV at 100], and the settings of the camera; None where not
            known.
    """

    brackets: tuple[Bracket, ...]
    kind: Kind
    metered: Metered
    density: DensityKind
    strip: Strip | None = None
    analysis: Analysis | None = None
    camera: tuple[float, Dial] | None = None

    @property
    def frames(self) -> list[RollFrame]:
        """All frames, in the order of exposing."""
        return [frame for bracket in self.brackets for frame in bracket.frames]

    @property
    def filtered(self) -> bool:
        """True if a stack holds a filter."""
        return any(frame.stack for frame in self.frames)


def roll_text(roll: Roll) -> str:
    """Return the plan of a roll: what it rests on, its frames, what to look for, and what it will tell."""
    count = len(roll.frames)
    lines = wrapped(f"Expose {count} frames of one scene, a grey card and a white in it, in one steady light.")
    lines += ["", *frame_lines(roll), ""]
    each = " of each stack" if len(roll.brackets) > 1 else ""
    lines += wrapped(f"Stops count from the middle frame{each}: more is a lower index.")
    for bracket in roll.brackets:
        lines += row(stack_name(bracket), f"{rests_on(bracket)}.")
    lines += listed("What to look for:", looks(roll))
    lines += listed("What it will tell:", tells(roll))
    lines += listed("Remarks:", (*worths(roll), *missed_settings(roll), *cautions()))
    return "\n".join(lines) + "\n"


def roll_files_text(page: str, table: str, answer: str) -> str:
    """Return the files of a roll in words: what to do with each.

    Args:
        page: the checklist.
        table: the table that the judgements go into.
        answer: the command that makes an index of them.
    """
    return f"\nPrint {page}, judge the frames, and fill in {table}.\nThen: {answer}\n"


def frame_lines(roll: Roll) -> list[str]:
    """Return the frames as a table."""
    head = ["frame", "EI", "stops"] if not roll.filtered else ["frame", "hand-held EI", "EI through", "stops"]
    stack = max(len(stack_name(b)) for b in roll.brackets) if roll.filtered else 0
    set_as = "   set" if roll.camera is not None else ""
    lines = [f"{'stack':<{stack}}  {'  '.join(head)}{set_as}" if stack else f"{'  '.join(head)}{set_as}"]
    for frame in roll.frames:
        cells = [f"{frame.number}", f"{frame.hand_held:g}"]
        cells += [f"{frame.through:g}"] if roll.filtered else []
        cells.append(thirds_of(frame.thirds).replace("−", "-"))
        line = "  ".join(f"{cell:>{len(name)}}" for cell, name in zip(cells, head, strict=True))
        named = f"{frame.stack or 'no filter':<{stack}}  " if stack else ""
        lines.append(f"{named}{line}   {setting(roll, frame)}".rstrip())
    return lines


def setting(roll: Roll, frame: RollFrame) -> str:
    """Return aperture and time for a frame; empty where nothing states what a meter shows of the scene."""
    if roll.camera is None:
        return ""
    aperture, time, _ = _clicks(roll.camera, frame)
    return f"f/{aperture.engraved} {time.engraved} s"


def _clicks(camera: tuple[float, Dial], frame: RollFrame) -> tuple[Mark, Mark, float]:
    """Return aperture and time for a frame, and the exposure that they give beyond the planned one [stops]."""
    reading, dial = camera
    wanted = reading + math.log2(float(exact_ei(frame.hand_held)) / SPEED)
    aperture, time = dial.nearest_pair(wanted, USUAL_SECONDS)
    return aperture, time, wanted - value_of(aperture, time)


def missed_settings(roll: Roll) -> Iterator[str]:
    """Yield in a sentence the frames that the dial gives another exposure than planned."""
    if roll.camera is None:
        return
    off = {frame.number: _clicks(roll.camera, frame)[2] for frame in roll.frames}
    missed = [
        f"frame {n} {abs(stops):.1f} {'more' if stops > 0 else 'less'}"
        for n, stops in off.items()
        if abs(stops) > _MISSED
    ]
    if missed:
        yield (
            f"The dial gives some frames another exposure than planned, in stops: {', '.join(missed)}. Turn the"
            " diaphragm between clicks, take another light, or plan with finer clicks or longer times."
        )


def stack_name(bracket: Bracket) -> str:
    """Return the filters of a stack, or "no filter"."""
    return bracket.candidate.stack or "no filter"


def rests_on(bracket: Bracket) -> str:
    """Return the index that a stack's frames lie about, their distance, and the chance that they hold it."""
    index = bracket.candidate.index
    apart = {1: "a third of a stop", 2: "two thirds of a stop", 3: "a stop"}[bracket.spacing]
    if index.value is None:
        return f"the index lies {digits.value(index)}: frames {apart} apart from there on"
    covered = "" if bracket.covers is None else f"; the chance that it lies between them is {_per_cent(bracket.covers)}"
    known = "guessed at" if index.note == GUESSED else "known as"
    return f"index {known} {digits.value_and_interval(index, 1)}: frames {apart} apart{covered}"


def looks(roll: Roll) -> Iterator[str]:
    """Yield the things to look for in a frame, each a sentence or two."""
    if roll.kind == "negative":
        yield (
            "Judge the film itself on a light table. Too light: the textured shadow has no more density than the film"
            " between the frames. Too dark: the shadow is there and the white has gone dense and flat. Right: the"
            " thinnest frame whose shadows still show their texture."
        )
        return
    yield (
        "Judge the film itself, shown as it will be shown, each frame beside its neighbours and all by one eye. Right:"
        " the white still has tone, and the textured shadow still shows its texture."
    )
    base = None if roll.analysis is None else roll.analysis.working_ei.base
    dmin = None if base is None else base.dmin.value
    if base is not None and base.clears and dmin is not None:
        yield (
            "White decides: too light is a white that cannot be told from a piece of fully exposed film laid beside it"
            f" (density {dmin:.2f})."
        )
    elif base is not None and base.clears is False and dmin is not None:
        yield (
            f"This film does not clear: white that is lost is not clear, it has the grey or the colour of the clearest"
            f" film there is (density {dmin:.2f}). Lay a piece of fully exposed film beside the frame: too light is a"
            " white that cannot be told from it. Mid-grey decides before white does."
        )
    else:
        yield (
            "Too light: the white cannot be told from a piece of fully exposed film of the same process laid beside it."
            " Where the film does not clear, that piece is grey or coloured, and lost white looks like it, not clear."
        )
    yield "Too dark: mid-grey looks like a shadow, and the textured shadow has closed up."
    if len(roll.brackets) > 1:
        yield (
            "Between stacks: lay the frames that are right side by side, and take the stack whose grey card and white"
            " have least colour."
        )


def tells(roll: Roll) -> Iterator[str]:
    """Yield the numbers that judgements of the roll will tell, each a sentence or two."""
    widths = sorted({f"±{bracket.expected:.1f}" for bracket in roll.brackets})
    each = " for each stack" if len(roll.brackets) > 1 else ""
    yield (
        f"Judged by eye alone, the index to {' or '.join(widths)} stops (95 %){each}, the metering apart. One judgement"
        f" is taken to be good to {ASSUMED_EYE:g} stops (common practice), half of that variance the same in every"
        f" frame, and a frame within {ASSUMED_RIGHT:g} stops of right to look right (own choice)."
    )
    if all(_known_better(bracket) for bracket in roll.brackets):
        yield (
            "The index is known better than that already: the roll shows whether the eye agrees"
            f"{', and which stack to take' if len(roll.brackets) > 1 else ''}."
        )
    yield "Densities of the grey card's image in the same frames tell far more: fill in those columns too."


def worths(roll: Roll) -> Iterator[str]:
    """Yield the worth of each stack, and the setting that the table holds, each a sentence."""
    for bracket in roll.brackets:
        if bracket.candidate.worth:
            yield f"{stack_name(bracket)}: {bracket.candidate.worth}."
    if roll.filtered:
        meter = "looks through the filters" if roll.metered == "through" else "does not see the filters"
        yield f"The table's column ei holds the setting of a meter that {meter}."


def stack_worth(stack: Stack) -> str:
    """Return the cast that a stack is expected to leave, and its cost, in words."""
    left, cost = stack.prediction.cast_left, stack.prediction.cost
    return f"expected to leave a cast of {digits.value_and_interval(left, 2)} and to cost {digits.value(cost, 1)} stops"


def _known_better(bracket: Bracket) -> bool:
    """Return True if a stack's index is known better than judgements of its frames would tell."""
    index = bracket.candidate.index
    known = index.value is not None and index.note != GUESSED and bool(index.low) and bool(index.high)
    return known and math.log2((index.high or 1.0) / (index.low or 1.0)) / 2.0 < bracket.expected


def _per_cent(chance: float) -> str:
    return "over 99 %" if chance > 0.99 else f"{100.0 * chance:.0f} %"
