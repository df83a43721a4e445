"""An entry under way: its journal, the record and the table beside it.

The journal is the truth while the entry lasts. The table of readings follows it, line by line, each time replaced as a
whole; so the strip can be loaded at any moment, and what the table misses after an accident the journal still has.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from curves.errors import RecordError
from curves.files.base.grids import read_text
from curves.files.base.record_edits import record_content, write_record
from curves.files.base.tables import read_table
from curves.files.base.writing import write_atomically
from curves.files.entry.entry import Act, Grouping, Plan, Standing, Way, acts_of_rows, standing, table_text
from curves.files.entry.journal import Journal
from curves.files.entry.progress import event_of_act, event_of_plan, progress
from curves.files.strips.record import Setup, read_setup
from curves.sensitometry.checks.running import doubts, patch_doubts
from curves.sensitometry.core.units import CHANNELS, Channel
from curves.sensitometry.strip.exposure import POSITIONS, Frames, Position

ENDING = ".entry"
"""Ending of a journal's name."""


class Ongoing:
    """One entry under way.

    Args:
        record: the strip record that the entry is to make, or to complete.
        journal: its journal, open.
    """

    def __init__(self, record: Path, journal: Journal) -> None:
        self.record, self.journal = record, journal
        self.progress = progress(journal.events)
        self.setup: Setup | None = None
        self._log_h: list[float] = []
        if self.progress.plan is not None:
            self._load()

    def add(self, event: Mapping[str, Any]) -> None:
        """Put an event on the disk, and count it.

        Raises:
            OutputError: it could not be written; nothing before it is lost.
        """
        self.journal.add(dict(event))
        self.progress = progress(self.journal.events)

    def settle_record(self, content: Mapping[str, Any]) -> None:
        """Write the record that the answers have come to.

        Raises:
            RecordError: the answers do not make a record.
            OutputError: it could not be written.
        """
        write_record(self.record, {**content, "readings": content.get("readings") or f"{self.record.stem}.csv"})
        read_setup(self.record)

    def settle_plan(
        self, positions: Sequence[float], column: Position, channels: Sequence[Channel], first_end: Way, by: Grouping
    ) -> Path | None:
        """Settle how the strip is read, and take over the readings that a table already holds.

        Returns:
            Where a copy of a table went that would lose its layout or comments; None if nothing would be lost.
        """
        self.setup = read_setup(self.record)
        plan = Plan(tuple(channels), tuple(positions), column, first_end, by)
        text = read_text(self.table) if self.table.exists() else ""
        acts: list[Act] = []
        if text:
            table = read_table(self.table, (*POSITIONS, *CHANNELS))
            there = {c: table.numbers(c) for c in CHANNELS if c in table.header}
            acts = acts_of_rows(plan, table.numbers(column), there)
        copy = None
        if text and text != table_text(plan, standing(plan, acts).rows):
            copy = self.table.with_name(self.table.name + ".before")
            write_atomically(copy, text)
        self.add(event_of_plan(plan, _digest(text)))
        for act in acts:
            self.add(event_of_act(act))
        self._load()
        return copy

    @property
    def table(self) -> Path:
        """The table of readings."""
        assert self.setup is not None
        return self.record.parent / (self.setup.readings or f"{self.record.stem}.csv")

    @property
    def plan(self) -> Plan:
        """How the strip is read."""
        assert self.progress.plan is not None
        return self.progress.plan

    @property
    def standing(self) -> Standing:
        """Where the reading stands."""
        return standing(self.plan, self.progress.acts)

    def doubts(self, act: Act) -> list[str]:
        """Return what speaks against a reading, before it is taken."""
        assert self.setup is not None
        return doubts(self.setup.kind, self._log_h, self.standing.trusted, act.slot.step, act.readings())

    def patch_doubts(self, name: str, densities: Mapping[Channel, float]) -> list[str]:
        """Return what speaks against the reading of a patch, before it is taken."""
        assert self.setup is not None
        return patch_doubts(self.setup.kind, name, densities, self.standing.trusted)

    def write_table(self) -> None:
        """Write the readings so far as a table.

        Raises:
            OutputError: it could not be written; the journal has all of it.
        """
        write_atomically(self.table, table_text(self.plan, self.standing.rows))

    def finish(self) -> None:
        """Write the table and the record, and remove the journal, which holds nothing more than they do.

        Raises:
            OutputError: they could not be written; the journal has all of it.
        """
        self.write_table()
        content: dict[str, Any] = {"readings": self.table.name} if not self._readings_named() else {}
        content["patches"] = {name: dict(d) for name, d in self.progress.patches.items() if d}
        if self.progress.notes:
            content["notes"] = self.progress.notes
        write_record(self.record, content)
        self.journal.remove()

    def _readings_named(self) -> bool:
        return "readings" in record_content(self.record)

    def _load(self) -> None:
        """Load what the record says, and compare the table with the journal."""
        if self.setup is None:
            if not self.record.exists() and self.progress.draft is not None:
                self.settle_record(self.progress.draft)
            self.setup = read_setup(self.record)
            self._refuse_changed_table()
        self._refuse_changed_wedge(self.setup)
        positions = np.array(self.plan.positions)
        if self.plan.column == "ei":
            assert isinstance(self.setup.exposure, Frames)
            positions = self.setup.exposure.stops_of_ei(positions)
        self._log_h = [float(x) for x in self.setup.exposure.log_h(positions, self.setup.wedge)]

    def _refuse_changed_wedge(self, setup: Setup) -> None:
        """Refuse to go on where the record no longer has the steps that the entry began with."""
        steps = setup.wedge.steps if setup.wedge is not None else self.plan.steps
        if self.plan.column not in setup.exposure.positions or steps != self.plan.steps:
            raise RecordError(
                f"the record now has other steps than the {self.plan.steps} that the entry began with",
                where=self.record.name,
                hint=f"put back what it said, or move {self.journal.path.name} away to go on from the table",
            )

    def _refuse_changed_table(self) -> None:
        """Refuse to go on over a table that somebody changed since it was last written."""
        if not self.table.exists():
            return
        text = read_text(self.table)
        if _digest(text) == self.progress.table:
            return
        for count in range(len(self.journal.events), 0, -1):
            then = progress(self.journal.events[:count])
            if then.plan is None:
                break
            if text == table_text(then.plan, standing(then.plan, then.acts).rows):
                return
        raise RecordError(
            "the table was changed since the entry last wrote it, so neither is written over the other",
            where=str(self.table),
            hint=f"move {self.journal.path.name} away to go on from the table, or the table away to go on from the"
            " entry",
        )


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8")).hexdigest() if text else ""
