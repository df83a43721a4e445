"""An entry on the disk: the record, the table of readings, and beside them one small file of state.

The table holds the readings: a line is taken once a table with its densities is on the disk. The state holds the rest:
the answers about the record, the order of reading, the steps left out, and the readings that every change replaced.
Wherever a kill strikes, the state has the last change and the table may lack it; an entry that goes on takes such a
change back.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
from collections.abc import Iterator, Mapping
from dataclasses import asdict
from functools import cached_property, partial
from pathlib import Path
from typing import Any

import numpy as np

from curves.errors import OutputError, RecordError
from curves.files.base.grids import read_text
from curves.files.base.locking import hold, let_go
from curves.files.base.record_edits import last_record, record_content, write_record
from curves.files.base.strip_table import FRAME_COLUMNS, StripTable, strip_table_of
from curves.files.base.tables import read_table
from curves.files.base.writing import remove_left_over, write_atomically
from curves.files.entry.questions import QUESTIONS, Answers, all_keys
from curves.files.entry.sheet import Plan, Sheet, StepRows
from curves.files.strips.readings import check_readings, positions_of
from curves.files.strips.record import Setup, read_setup
from curves.sensitometry.core.units import CHANNELS, LAYERS, Channel
from curves.sensitometry.strip.exposure import POSITIONS, Camera, Contact, Frames, Position

ENDING = ".entry"
"""Ending of the state's name."""

_FORMAT = 3


class Entry:
    """The entry of one strip; who writes it works inside `one_writer`.

    Args:
        record: the strip record that the entry makes, or completes.

    Attributes:
        record: the record.
        path: the state.
        answers: the answers about the record; None before the first.

    Raises:
        RecordError: there is a state, and it cannot be understood.
    """

    def __init__(self, record: Path) -> None:
        self.record, self.path = record, record.with_suffix(ENDING)
        self.answers: Answers | None = None
        self._sheet: Sheet | None = None
        if self.path.exists():
            self._load()

    @property
    def begun(self) -> bool:
        """True once there is a sheet: the record is answered, and the plan of the reading is settled."""
        return self._sheet is not None

    @property
    def sheet(self) -> Sheet:
        """The sheet as the disk holds it."""
        assert self._sheet is not None
        return self._sheet

    @cached_property
    def setup(self) -> Setup:
        """The record, as far as it is known before anything is read."""
        return read_setup(self.record)

    @property
    def table(self) -> Path:
        """The table of readings."""
        return _table_of(self.record, self.setup)

    @cached_property
    def log_h(self) -> list[float]:
        """The log exposure of every step, step 1 first [log10]."""
        positions, setup = np.array(self.sheet.plan.positions), self.setup
        if isinstance(setup.exposure, Frames) and self.sheet.plan.column == "ei":
            positions = setup.exposure.stops_of_ei(positions)
        return [float(x) for x in setup.exposure.log_h(positions, setup.wedge)]

    def keep_answers(self, answers: Answers) -> None:
        """Put the answers so far on the disk.

        Raises:
            OutputError: they could not be written.
        """
        self.answers = answers
        self._write_state(self._sheet)

    def keep(self, sheet: Sheet) -> None:
        """Put the sheet on the disk after one more change, or without its last one.

        Raises:
            OutputError: it could not be written, and the sheet stays as it was.
        """
        adds, same_rows = len(sheet.changes) > len(self.sheet.changes), sheet.rows == self.sheet.rows
        if adds:
            self._write_state(sheet)
        if not same_rows:
            _write_table(self.table, sheet)
        if not adds:
            # A table that lacks the change takes it back from an old state, too.
            with contextlib.suppress(*[] if same_rows else [OutputError]):
                self._write_state(sheet)
        self._sheet = sheet

    def write_record(self, *, whole: bool = False) -> None:
        """Write the record that the answers make.

        Args:
            whole: True if a person has reviewed all answers, so that the record there loses those it has beyond them.

        Raises:
            RecordError: the answers do not make a record.
            OutputError: it could not be written.
        """
        draft = self.answers.draft if self.answers else {}
        readings = draft.get("readings") or f"{self.record.stem}.csv"
        gone = _taken_out(record_content(self.record), draft) if whole and self.record.exists() else []
        write_record(self.record, {**draft, "readings": readings}, gone)
        read_setup(self.record)

    def reopened(self) -> Entry:
        """Return the entry as it is before its sheet, all its answers to be reviewed; it has no reading yet.

        Raises:
            OutputError: that could not be written, and the sheet stays.
        """
        draft = record_content(self.record)
        self.answers = Answers(draft, all_keys(draft))
        self._write_state(None)
        return Entry(self.record)

    def begin(self, plan: Plan) -> Path | None:
        """Begin a sheet with the readings that a table already holds; return what `resume` returns."""
        self._sheet = Sheet(plan)
        copy = self.resume()
        self._write_state(self._sheet)
        return copy

    def resume(self) -> Path | None:
        """Go on with the sheet, with the readings that the table holds now.

        Returns:
            Where a copy of the table went that would lose its layout or comments; None if nothing would be lost.

        Raises:
            RecordError: the record has other steps now, or the table cannot be understood.
            OutputError: the table is gone, and could not be written again.
        """
        if not self.record.exists():
            self.write_record()
        self._refuse_other_steps()
        table = self.table
        for path in (self.record, self.path, table):
            remove_left_over(path)
        if table.exists():
            self._sheet = self.sheet.matched(self._rows_of(_read(table, self.setup)))
            return self._copy_of_layout(table)
        if self.sheet.rows:
            _write_table(table, self.sheet)
        return None

    def finish(self) -> None:
        """Complete the record, and remove the state, which then holds nothing more than record and table do.

        Raises:
            OutputError: they could not be written; the state is still there.
        """
        sheet, setup, table = self.sheet, self.setup, self.table
        if not table.exists():
            _write_table(table, sheet)
        content: dict[str, Any] = {} if setup.readings else {"readings": table.name}
        content["patches"] = {name: dict(densities) for name, densities in sheet.patches.items() if densities}
        write_record(self.record, content | ({"notes": sheet.notes} if sheet.notes else {}))
        self.path.unlink(missing_ok=True)

    def _write_state(self, sheet: Sheet | None) -> None:
        parts = {"answers": self.answers, "sheet": sheet}
        text = _as_json({name: part and asdict(part) for name, part in parts.items()})
        content = {"format": _FORMAT, "digest": _digest(text), "state": json.loads(text)}
        write_atomically(self.path, _as_json(content) + "\n")

    def _load(self) -> None:
        try:
            content = json.loads(read_text(self.path))
            if not isinstance(content, dict) or content.get("format") != _FORMAT:
                raise ValueError
            state = content["state"]
            if content["digest"] != _digest(_as_json(state)):
                raise ValueError
            answers, sheet = state["answers"], state["sheet"]
            self.answers = answers and Answers(answers["draft"], tuple(answers["asked"]))
            self._sheet = sheet and Sheet.from_content(sheet)
        except (AttributeError, KeyError, RecordError, RecursionError, TypeError, ValueError) as error:
            raise self._damage() from error

    def _damage(self) -> RecordError:
        """Return the refusal of a state that is damaged, or of another version."""
        name, record, table = self.path.name, self.record.name, self.record.with_suffix(".csv").name
        with contextlib.suppress(RecordError):
            table = self.table.name
        there = [path for path in (record, table) if (self.record.parent / path).exists()]
        safe = (
            f"{' and '.join(there)} {'are' if len(there) > 1 else 'is'} not touched" if there else "no reading is lost"
        )
        return RecordError(
            f"the file is damaged, or of another version: it is not the state of an entry as this version keeps it;"
            f" {safe}",
            where=name,
            hint=f"rename it to {name}.old and run the same command again, which goes on from"
            f" {' and '.join(there) or 'the first question'}; an editor shows the patches and notes in it",
        )

    def _refuse_other_steps(self) -> None:
        """Refuse to go on where the record no longer has the steps that the entry began with."""
        plan, setup = self.sheet.plan, self.setup
        count = len(plan.positions)
        if plan.column not in setup.exposure.positions or (setup.wedge is not None and setup.wedge.steps != count):
            raise RecordError(
                f"the record now has other steps than the {count} that the entry began with",
                where=self.record.name,
                hint=f"put back what it said, or move {self.path.name} away to go on from the table",
            )

    def _rows_of(self, table: StripTable) -> dict[int, StepRows]:
        """Return the rows of the table by step."""
        plan = self.sheet.plan
        rows: dict[int, StepRows] = {}
        for at, position in enumerate(table.positions):
            if table.column != plan.column or position not in plan.positions:
                raise RecordError(
                    f"the entry has no {table.column} {position:g}",
                    where=table.places[at],
                    hint=f"remove the row, or move {self.path.name} away to go on from the table",
                )
            shown = table.shown or table.readings
            row = {c: values[at] for c, values in shown.items() if values[at] == values[at]}
            if row:
                step = plan.positions.index(position) + 1
                rows[step] = (*rows.get(step, ()), row)
        return rows

    def _copy_of_layout(self, table: Path) -> Path | None:
        """Copy a table that the entry would write in another layout; return where, or None if there is no need."""
        text, number = read_text(table), ""
        while (copy := table.with_name(f"{table.name}.before{number}")).exists() and read_text(copy) != text:
            number = str(int(number or "1") + 1)
        if text == self.sheet.table_text() or copy.exists():
            return None
        write_atomically(copy, text)
        return copy


def _taken_out(before: Mapping[str, Any], draft: Mapping[str, Any]) -> list[str]:
    """Return the keys that a record must lose to agree with a draft: answers, and sections of another method."""
    methods = [content.get("exposure", {}).get("method") for content in (before, draft)]
    gone = ["exposure", "wedge"] if methods[0] != methods[1] else []
    return gone + [q.key for q in QUESTIONS if q.key != "wedge" and q.answer_in(before) and not q.answer_in(draft)]


def _as_json(content: object) -> str:
    return json.dumps(content, ensure_ascii=False, default=str)


def _digest(text: str) -> str:
    """Return the sign by which a state that has changed on the disk is known."""
    return hashlib.sha256(text.encode("utf-8", errors="surrogatepass")).hexdigest()


def steps_of(record: Path) -> tuple[Position, tuple[float, ...], tuple[Channel, ...]]:
    """Return the column that lists a strip's steps, their positions if they are known, and the channels of its table.

    A wedge has its steps. A bracket has those of its table, and none before there is a table.

    Raises:
        RecordError: the record or the table cannot be understood.
    """
    setup = read_setup(record)
    path = _table_of(record, setup)
    table = _read(path, setup) if path.exists() else StripTable(path.name, setup.exposure.positions[0], (), {}, ())
    positions = tuple(dict.fromkeys(table.positions))
    if isinstance(setup.exposure, Contact | Camera):
        assert setup.wedge is not None
        positions = tuple(float(n) for n in range(1, setup.wedge.steps + 1))
    return table.column, positions, tuple(table.readings)


def usual_channels(record: Path) -> tuple[Channel, ...]:
    """Return the channels of the last strip in the folder if its density was of the same kind, else the usual ones."""
    setup, last = read_setup(record), last_record(record.parent, but=record)
    # The last strip's own troubles are not this one's.
    with contextlib.suppress(RecordError):
        if last is not None and read_setup(last).density == setup.density and (channels := steps_of(last)[2]):
            return channels
    return ("visual",) if setup.density == "visual" else LAYERS


def _write_table(path: Path, sheet: Sheet) -> None:
    write_atomically(path, sheet.table_text(), partial(check_readings, sheet.positioned_rows()))


def _table_of(record: Path, setup: Setup) -> Path:
    return record.parent / (setup.readings or f"{record.stem}.csv")


def _read(path: Path, setup: Setup) -> StripTable:
    """Return a table whose rows are of the record's exposure and wedge."""
    table = read_table(path, (*POSITIONS, *CHANNELS, *FRAME_COLUMNS))
    if any(column in FRAME_COLUMNS for column in table.header):
        raise RecordError(
            f"the table has columns of frames ({', '.join(c for c in table.header if c in FRAME_COLUMNS)}), which an"
            " entry would lose",
            where=path.name,
            needed="judgements and densities typed into the table itself",
        )
    positions_of(table, setup.exposure, setup.wedge)
    return strip_table_of(table, setup.exposure.positions, scale=setup.scale)


@contextlib.contextmanager
def one_writer(path: Path) -> Iterator[None]:
    """Hold the right to write an entry; it ends with the block, or with the process, however that ends.

    Args:
        path: the state of the entry.

    Raises:
        OutputError: another process holds the right, or the folder cannot be written to.
    """
    lock = path.with_name(f".{path.name}.lock")

    def busy() -> None:
        raise OutputError(
            "this strip is being entered in another terminal",
            where=str(path),
            hint="go on there, or stop there with q and come back",
        )

    try:
        file = hold(lock, busy)
    except OSError as error:
        kept = "what it holds is safe" if path.exists() else "nothing was typed yet"
        raise OutputError(
            f"no entry can be kept there: {error.strerror}; {kept}",
            where=str(path),
            needed="a folder that may be written to",
            hint="name the strip in another folder",
        ) from error
    try:
        yield
    finally:
        let_go(file, lock)
