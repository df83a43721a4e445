"""The plan of a roll: the frames that choose between candidate stacks of filters and their exposure indexes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from curves.commands.plan_first import FilmOptions, check_film, dial_of, missing, reading_of

if TYPE_CHECKING:
    from curves.sensitometry.brackets.roll import Candidate
    from curves.sensitometry.core.quantity import Quantity
    from curves.sensitometry.core.units import DensityKind
    from curves.sensitometry.filters.densities import Filter
    from curves.sensitometry.strip.metering import FilterUsed
    from curves.sensitometry.uncertainty.results import Analysis
    from curves.views.plans.roll import Roll

_OF_A_STRIP = (
    "made_as", "chance", "method", "wedge", "metered_step", "schwarzschild", "lux", "incident", "card", "light_of",
    "read_at", "distance",
)  # fmt: skip
"""Options of `plan` that a roll of frames does not take."""

_Found = tuple["Candidate", "list[FilterUsed]"]

_NONE = "none"
"""The name of a stack without filters."""

_BEST = 2
"""Stacks of a drawer that a roll tries if none is named: the best, and the next."""


@dataclass(frozen=True)
class BracketOptions:
    """The options of a roll.

    Attributes:
        strip: the strip that the index rests on; None for a guess.
        frames: most frames to expose.
        stacks: the stacks to try, as a person names them; empty if none is named.
        drawer: the table of filters; None if there is none.
        metered: whether the meter in use looks through the filters.
        small: True for a checklist on A6.
    """

    strip: Path | None
    frames: int
    stacks: tuple[str, ...]
    drawer: Path | None
    metered: Literal["through", "without"]
    small: bool


def plan_bracket(wanted: FilmOptions, asked: BracketOptions, *, as_json: bool) -> None:
    """Print the frames of a roll, and write its table, its record and its checklist."""
    from curves.files.plans.roll import roll_json, roll_record, roll_table, write_roll
    from curves.views.plans.checklist import checklist
    from curves.views.plans.roll import roll_files_text, roll_text

    check_film(wanted)
    _refuse_others(wanted, asked)
    roll, filters = _roll(wanted, asked)
    written = ""
    if wanted.write is not None:
        facts = _facts(wanted, roll)
        page = checklist(roll, facts, wanted.write.with_suffix("").name, small=asked.small)
        record = roll_record(roll.brackets, facts, roll.metered, filters)
        files = write_roll(wanted.write, record, roll_table(roll.brackets, roll.density, roll.metered), page)
        written = roll_files_text(str(files[2]), str(files[0]), f"curves ei {files[1]}")
    if as_json:
        print(roll_json(roll.brackets, roll.kind), end="")
    else:
        print(roll_text(roll) + written, end="")


def _refuse_others(wanted: FilmOptions, asked: BracketOptions) -> None:
    """Refuse options that a roll does not take, and a guess beside a strip.

    Raises:
        RecordError: names the option.
    """
    from curves.errors import RecordError

    for name in _OF_A_STRIP:
        if getattr(wanted, name) is not None:
            raise RecordError("a roll of frames does not take it", where=name, hint="leave it out", settings=(name,))
    guess = next((name for name in ("box", "off", "kind") if getattr(wanted, name) is not None), None)
    if asked.strip is not None and guess is not None:
        raise RecordError(
            "a strip is given too, which tells it", where=guess, needed="a strip, or a guess", settings=(guess,)
        )


def _facts(wanted: FilmOptions, roll: Roll) -> dict[str, str]:
    """Return the facts of the film for the record of a roll: as given, or as the strip's record has it."""
    film, process = wanted.film, wanted.process
    if roll.strip is not None:
        film, process = film or roll.strip.film, process or roll.strip.process
    assert wanted.write is not None
    title = f"{film}, bracket" if film else f"Bracket {wanted.write.with_suffix('').name}"
    return {"title": title, "film": film, "process": process, "kind": roll.kind, "density": roll.density}


def _roll(wanted: FilmOptions, asked: BracketOptions) -> tuple[Roll, list[FilterUsed]]:
    """Return the roll that the options ask for, and its filters as a record describes them."""
    from curves.files.filters.drawer import read_drawer
    from curves.sensitometry.brackets.roll import plan_roll
    from curves.sensitometry.strip.exposure import Eye
    from curves.views.plans.roll import Roll

    drawer = read_drawer(asked.drawer) if asked.drawer is not None else ()
    reading = None if wanted.reflected is None else reading_of(wanted.reflected, "reflected")
    analysis = None if asked.strip is None else _analysis(asked.strip)
    strip = None if analysis is None else analysis.strip
    if analysis is not None and analysis.channels and drawer:
        found = _of_drawer(analysis, asked, drawer)
    else:
        bare = _guess(wanted) if analysis is None else analysis.working_ei.recommended
        found = [_behind(name, bare, asked, drawer) for name in asked.stacks or (_NONE,)]
    kind = wanted.kind if strip is None else strip.kind
    assert kind is not None, "a guess needs the kind of film"
    usual: DensityKind = "status A" if kind == "reversal" else "status M"
    roll = Roll(
        brackets=plan_roll(tuple(candidate for candidate, _ in found), kind, asked.frames, Eye()),
        kind=kind,
        metered=asked.metered,
        density=wanted.density or (usual if strip is None else strip.density),
        strip=strip,
        analysis=analysis,
        camera=None if reading is None else (reading, dial_of(wanted)),
    )
    filters = {one.name: one for _, members in found for one in members}
    return roll, list(filters.values())


def _guess(wanted: FilmOptions) -> Quantity:
    """Return the guess of the index without a filter, with how far it may be wrong."""
    from curves.sensitometry.core.quantity import Quantity
    from curves.sensitometry.core.units import exact_ei
    from curves.sensitometry.planning.population import ASSUMED_OFF
    from curves.views.plans.roll import GUESSED

    if wanted.kind is None:
        raise missing("kind", "reversal for a transparency, negative for a negative")
    if wanted.box is None:
        raise missing("box", "a strip, or a guess of the film's speed after this process, such as 12")
    off, ei = ASSUMED_OFF if wanted.off is None else wanted.off, float(exact_ei(wanted.box))
    return Quantity(ei, ei * 2.0**-off, ei * 2.0**off, how="estimated", note=GUESSED)


def _analysis(path: Path) -> Analysis:
    """Return the analysis of the strip that a roll rests on.

    Raises:
        RecordError: the frames of the strip were exposed behind several stacks.
    """
    from curves.commands.options import StripOptions
    from curves.errors import RecordError
    from curves.sensitometry.core.choices import Choices

    analyses = StripOptions().index_analyses(path, Choices())
    if len(analyses) > 1:
        raise RecordError(
            f"its frames were exposed behind {len(analyses)} stacks",
            where=path.name,
            needed="a strip behind one of them: write stack in [exposure] of a copy of the record",
        )
    return analyses[0]


def _behind(name: str, bare: Quantity, asked: BracketOptions, drawer: Sequence[Filter]) -> _Found:
    """Return a stack by its name, the index behind it being that without a filter, divided by its factor.

    Args:
        name: of filters in the drawer, joined by +, or of one filter with its factor, such as "orange=2.5", or none.
        bare: the index without a filter [unitless].
        asked: the options of the roll.
        drawer: the filters at hand.
    """
    from curves.errors import RecordError
    from curves.files.filters.drawer import stack_of
    from curves.sensitometry.brackets.roll import Candidate
    from curves.sensitometry.strip.metering import FACTOR, FilterUsed

    stated, _, text = name.rpartition("=")
    if name.strip().casefold() in ("", _NONE):
        return Candidate("", bare, 1.0), []
    if drawer and not stated:
        members = [drawer[place] for place in stack_of(name, drawer)]
        used = [FilterUsed(one.name, asked.metered, round(10.0**one.visual, 3)) for one in members]
        factor = 10.0 ** sum(one.visual for one in members)
        return Candidate(" + ".join(one.name for one in members), _divided(bare, factor), factor), used
    try:
        factor = float(text.replace(",", "."))
    except ValueError:
        factor = 0.0
    if not stated or "+" in stated or not FACTOR.hold(factor):
        raise RecordError(
            f"the factor of '{stated or name}' is not known",
            where="stack",
            needed="the name of one filter with its factor, or filters of a drawer joined by +",
            settings=("stack=orange=2.5", "drawer=drawer.csv"),
        )
    one = FilterUsed(stated.strip(), asked.metered, factor)
    return Candidate(one.name, _divided(bare, factor), factor), [one]


def _divided(index: Quantity, factor: float) -> Quantity:
    """Return an index behind a filter of so great a factor; the factor itself is taken to be exact."""
    value, low, high = (None if x is None else x / factor for x in (index.value, index.low, index.high))
    bound = None if index.bound is None else (index.bound[0], index.bound[1] / factor)
    rows = None if index.rows is None else index.rows / factor
    return replace(index, value=value, low=low, high=high, bound=bound, rows=rows)


def _of_drawer(analysis: Analysis, asked: BracketOptions, drawer: Sequence[Filter]) -> list[_Found]:
    """Return stacks of a drawer, those named or the best and the next, with the index that the strip predicts."""
    from curves.files.filters.drawer import stack_of
    from curves.sensitometry.brackets.roll import Candidate
    from curves.sensitometry.filters.behind import BareStrip
    from curves.sensitometry.filters.stacks import STOP_WORTH, FilterRows, Stack, find_stacks, predict_stack
    from curves.sensitometry.strip.metering import FilterUsed
    from curves.views.plans.roll import stack_worth

    def unworthy(stack: Stack) -> float:
        return float(stack.prediction.cast_rows[0]) + STOP_WORTH * (stack.prediction.cost.value or 0.0)

    bare = BareStrip.of(analysis, analysis.choices)
    drawn = FilterRows.of(drawer, bare.rows, bare.choices.seed)
    if asked.stacks:
        stacks = [predict_stack(bare, drawn, stack_of(name, drawer)) for name in asked.stacks]
    else:
        stacks = sorted(find_stacks(bare, drawer).listed, key=unworthy)[:_BEST]
    visual = {one.name: one.visual for one in drawer}
    found = []
    for stack in stacks:
        used = [FilterUsed(name, asked.metered, round(10.0 ** visual[name], 3)) for name in stack.names]
        index, factor = stack.prediction.ei, stack.factor.value or 1.0
        found.append((Candidate(" + ".join(stack.names), index, factor, stack_worth(stack)), used))
    return found
