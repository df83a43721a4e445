"""A planned roll as files: the table to fill in, its record, the sheet to print; and as JSON."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from curves.errors import OutputError
from curves.files.base.record_edits import new_text, record_path
from curves.files.base.strip_table import NO_STACK
from curves.files.base.writing import all_or_none, write_atomically
from curves.files.results.content import FORMAT, json_text, quantity
from curves.sensitometry.brackets.roll import Bracket, RollFrame
from curves.sensitometry.core.units import LAYERS, DensityKind, Kind
from curves.sensitometry.strip.metering import FilterUsed, Metered


def roll_json(brackets: Sequence[Bracket], kind: Kind) -> str:
    """Return a planned roll as JSON text."""
    stacks = [
        {
            "stack": bracket.candidate.stack or NO_STACK,
            "index": quantity(bracket.candidate.index),
            "factor": bracket.candidate.factor,
            "worth": bracket.candidate.worth,
            "middle": bracket.middle,
            "spacing_stops": bracket.spacing / 3.0,
            "chance_covered": bracket.covers,
            "expected_half_width_stops": bracket.expected,
            "frames": [
                {
                    "frame": frame.number,
                    "ei_hand_held": frame.hand_held,
                    "ei_through": frame.through,
                    "stops": frame.thirds / 3.0,
                }
                for frame in bracket.frames
            ],
        }
        for bracket in brackets
    ]
    return json_text({"format": FORMAT, "kind": kind, "stacks": stacks})


def frame_setting(frame: RollFrame, metered: Metered) -> float:
    """Return the setting of the meter in use for a frame, on the dial."""
    return frame.through if metered == "through" else frame.hand_held


def roll_table(brackets: Sequence[Bracket], density: DensityKind, metered: Metered) -> str:
    """Return the table of a roll, its judgements and densities empty, as a record names it.

    Args:
        brackets: the frames of each stack.
        density: the kind of density that may be read.
        metered: whether the meter in use looks through the filters.
    """
    channels = ("visual",) if density == "visual" else LAYERS
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\n")
    table.writerow(["frame", "stack", "ei", "judgement", *channels])
    for frame in (frame for bracket in brackets for frame in bracket.frames):
        setting = f"{frame_setting(frame, metered):g}"
        table.writerow([frame.number, frame.stack or NO_STACK, setting, "", *("" for _ in channels)])
    return text.getvalue()


def roll_record(
    brackets: Sequence[Bracket],
    facts: Mapping[str, str],
    metered: Metered,
    filters: Sequence[FilterUsed],
) -> dict[str, Any]:
    """Return the record of a roll: a bracket of frames whose readings are still to come.

    Args:
        brackets: the frames of each stack.
        facts: title, film, process, kind and density, as a record has them; what is empty is left out.
        metered: whether the meter in use looks through the filters.
        filters: the filters of the stacks.
    """
    first = brackets[0]
    middle = next(frame for frame in first.frames if frame.thirds == 0)
    content: dict[str, Any] = {key: value for key, value in facts.items() if value}
    content["exposure"] = {"method": "frames", "ei": frame_setting(middle, metered)}
    if filters:
        described = [{"name": f.name, "metered": f.metered, "factor": f.factor} for f in filters]
        content["filter"] = [{key: value for key, value in one.items() if value is not None} for one in described]
    return content


def write_roll(name: Path, record: Mapping[str, Any], table: str, page: str) -> tuple[Path, Path, Path]:
    """Write the table, the record and the sheet of a roll.

    Args:
        name: of the record, with or without its ending; the others stand beside it.
        record: its contents, without the name of the table.
        table: the table of the frames.
        page: the sheet to print.

    Returns:
        The paths of table, record and sheet.

    Raises:
        OutputError: one of the files exists, or cannot be written; then none is.
    """
    path = record_path(name)
    files = path.with_suffix(".csv"), path, path.with_suffix(".html")
    texts = {files[0]: table, files[2]: page}
    for file in files:
        # The record is written last: a table or a sheet of this plan without one was left by a run that was killed.
        left_over = file in texts and file.is_file() and file.read_bytes() == texts[file].encode("utf-8")
        if file.exists() and not left_over:
            raise OutputError(
                "there is already such a file",
                where=str(file),
                needed="a name that is free, so that no judgement is lost",
                hint="name another, or move the file away",
                settings=("write",),
            )
    with all_or_none(*files):
        for file, text in texts.items():
            write_atomically(file, text)
        write_atomically(path, new_text({**record, "readings": files[0].name}))
    return files
