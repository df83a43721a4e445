"""What the events of a journal have come to: the record, the plan, the acts, the patches and the notes."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from curves.errors import RecordError
from curves.files.entry.entry import Act, Plan, Slot
from curves.sensitometry.core.units import Channel

PATCHES = {
    "base": "the support alone, no image and no fog",
    "unexposed": "film that saw no light, processed",
    "fully_exposed": "film that saw plenty of light, processed",
}
"""The patches that may be read beside the wedge, and what each is."""

_ACTS = ("read", "repeat", "skip", "go", "end")


@dataclass(frozen=True)
class Progress:
    """An entry so far.

    Attributes:
        draft: what the record says, as far as it was answered; None before the first answer.
        asked: the questions already answered.
        settled: True once the record has every answer.
        plan: how the strip is read; None before that is settled.
        table: digest of the table that the entry found, empty if there was none.
        done: the events that may be taken back, oldest first.
        acts: the acts among them.
        patches: densities by patch and channel; an empty mapping for a patch that was passed over [density].
        notes: None before they were asked for.
        pointless: whether the instrument shows no decimal point; None before that was asked.
    """

    draft: Mapping[str, Any] | None = None
    asked: tuple[str, ...] = ()
    settled: bool = False
    plan: Plan | None = None
    table: str = ""
    done: tuple[Mapping[str, Any], ...] = ()
    acts: tuple[Act, ...] = ()
    patches: Mapping[str, Mapping[Channel, float]] = field(default_factory=dict)
    notes: str | None = None
    pointless: bool | None = None


def progress(events: Sequence[Mapping[str, Any]]) -> Progress:
    """Return what a journal's events have come to.

    Raises:
        RecordError: an event is none that this version knows.
    """
    latest: dict[str, Mapping[str, Any]] = {}
    done: list[Mapping[str, Any]] = []
    try:
        for event in events:
            what = event["is"]
            if what in ("draft", "plan", "no point"):
                latest[what] = event
            elif what == "back":
                done.pop()
            elif what in (*_ACTS, "patch", "notes"):
                done.append(event)
            else:
                raise KeyError(what)
        draft, plan = latest.get("draft", {}), latest.get("plan")
        return Progress(
            draft=draft.get("content"),
            asked=tuple(draft.get("asked", ())),
            settled=draft.get("settled", False),
            plan=None if plan is None else _plan(plan),
            table="" if plan is None else plan["table"],
            done=tuple(done),
            acts=tuple(_act(e) for e in done if e["is"] in _ACTS),
            patches={e["name"]: e["densities"] for e in done if e["is"] == "patch"},
            notes=next((e["text"] for e in reversed(done) if e["is"] == "notes"), None),
            pointless=latest["no point"]["value"] if "no point" in latest else None,
        )
    except (KeyError, IndexError, TypeError) as error:
        raise RecordError(
            "the entry under way holds what this version does not know",
            where=f"its line '{json.dumps(event)}'" if events else "",
            hint="go on with the version that wrote it, or move the file away and begin again",
        ) from error


def event_of_plan(plan: Plan, table: str) -> dict[str, Any]:
    """Return the event that settles a plan; ``table`` is the digest of the table found, empty if none."""
    return {
        "is": "plan",
        "channels": list(plan.channels),
        "positions": list(plan.positions),
        "column": plan.column,
        "first_end": plan.first_end,
        "by": plan.by,
        "table": table,
    }


def event_of_act(act: Act) -> dict[str, Any]:
    """Return the event of an act."""
    event: dict[str, Any] = {"is": act.what, "step": act.slot.step, "channels": list(act.slot.channels)}
    if act.values:
        event["values"] = list(act.values)
    if act.kept:
        event["kept"] = True
    return event


def _act(event: Mapping[str, Any]) -> Act:
    slot = Slot(event["step"], tuple(event["channels"]))
    return Act(event["is"], slot, tuple(event.get("values", ())), event.get("kept", False))


def _plan(event: Mapping[str, Any]) -> Plan:
    return Plan(tuple(event["channels"]), tuple(event["positions"]), event["column"], event["first_end"], event["by"])
