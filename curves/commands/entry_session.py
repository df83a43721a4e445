"""The readings of an entry, line by line: asked for, questioned where they break the run, and shown as a curve."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import partial
from pathlib import Path
from re import Pattern

from curves.commands.terminal import Interruption, Terminal
from curves.errors import OutputError
from curves.files.entry.entry import Act, Plan, Slot
from curves.files.entry.instrument import numbers_in
from curves.files.entry.ongoing import Ongoing
from curves.files.entry.progress import PATCHES, event_of_act
from curves.files.entry.typed import Asked, Line, Refused, Taken, Told, understand
from curves.sensitometry.core.units import Channel
from curves.views.text import entry

_YES = ("y", "yes")


class Entering:
    """The lines of one entry.

    Args:
        ongoing: the entry under way.
        terminal: where questions are put; None where nobody is there to answer them.
        patches_there: patches that the record already has; they are not asked for.
    """

    def __init__(self, ongoing: Ongoing, terminal: Terminal | None, patches_there: Iterable[str] = ()) -> None:
        self.ongoing, self.terminal = ongoing, terminal
        self._there = set(patches_there)
        self._again: Slot | None = None
        self.doubtful = 0

    def ask_all(self) -> None:
        """Ask for every reading, patch and note that is still open.

        Raises:
            Interruption: the person leaves.
        """
        assert self.terminal is not None
        asked = False
        while True:
            slot = self._again or self.ongoing.standing.next
            if slot is not None:
                text = self.terminal.ask(entry.prompt(self.ongoing.plan, slot, again=self._again is not None))
                self._guarded(partial(self.take, text, slot))
            elif (name := self._next_patch()) is not None:
                what = f"{name.replace('_', ' ')} ({PATCHES[name]}), Enter if not read"
                text = self.terminal.ask(f"{what}\n{'':>5} > ")
                self._guarded(partial(self._take_patch, text, name))
            elif self.ongoing.progress.notes is None and "notes" not in self._there:
                text = self.terminal.ask(f"notes, Enter for none\n{'':>5} > ")
                self._guarded(partial(self.ongoing.add, {"is": "notes", "text": text.strip()}))
            elif asked or not self._more():
                return
            asked = True

    def _more(self) -> bool:
        """Ask what a person who comes back to a strip that is all read came for; return whether there is any."""
        assert self.terminal is not None
        last = self.ongoing.plan.slots()[-1]
        try:
            text = self.terminal.ask("All is read: r 12 reads step 12 again, g 12 replaces it, Enter ends > ").strip()
        except Interruption:
            return False
        if not text:
            return False
        line = self._line(text, last)
        if isinstance(line, Told):
            self._guarded(partial(self._do, line, last))
        else:
            self._say("  Not taken: r or g and a step was wanted.")
        return True

    def take_stream(self, lines: Iterable[str], wanted: Pattern[str]) -> None:
        """Take readings from lines as an instrument prints them, until every step is read or the lines end."""
        for raw in lines:
            line = raw.strip()
            slot = self.ongoing.standing.next
            if slot is None:
                return
            if not line:
                continue
            found = numbers_in(line, wanted, slot.channels)
            if found is None and not any(c.isdigit() for c in line):
                self._say(f"  passed over: {line}")
            elif found is None or not isinstance(self._line(found, slot), Taken | Asked):
                why = "holds no reading" if found is None else _why(self._line(found, slot))
                self._unreadable(line, why, slot)
            else:
                self._guarded(partial(self.take, found, slot))

    def take(self, text: str, slot: Slot) -> None:
        """Take one typed line for a step: a reading or a command."""
        line = self._line(text, slot)
        if isinstance(line, Asked):
            line = self._about_point(line)
        if isinstance(line, Refused):
            extra = f": step {slot.step} is still to be read" if not text.strip() else ""
            self._say(entry.sentence(f"Not taken: {line.why}{extra}."))
        elif isinstance(line, Told):
            self._do(line, slot)
        elif isinstance(line, Taken):
            self._read(line, slot)

    def _line(self, text: str, slot: Slot) -> Line:
        return understand(text, len(slot.channels), pointless=self.ongoing.progress.pointless)

    def _read(self, line: Taken, slot: Slot) -> None:
        """Take a reading, and question it first if it breaks the run."""
        act = Act("repeat" if self._again else "read", slot, line.values)
        said = self.ongoing.doubts(act)
        if said:
            answer = self._question(f"{'; '.join(said)}.", f"{'':>5} y keeps it, or read it again > ")
            if answer.lower() not in _YES:
                if answer:
                    self.take(answer, slot)
                return
            act = Act(act.what, act.slot, act.values, kept=True)
            self.doubtful += 1
        again = self._again is not None
        self._add(act)
        self._again = None
        plan, read = self.ongoing.plan, self.ongoing.standing.read
        whole = act.readings() if again else {c: d[slot.step] for c, d in read.items() if slot.step in d}
        shown = entry.step_line(plan, slot.step, whole, "again" if again else "kept" if act.kept else "")
        (self.terminal.say_over if self.terminal and not said else self._say)(shown)

    def _do(self, told: Told, slot: Slot) -> None:
        """Carry out a command."""
        plan, standing = self.ongoing.plan, self.ongoing.standing
        if told.command == "quit":
            raise Interruption
        if told.command == "help":
            self._say(entry.HELP)
        elif told.command == "list":
            self._say("\n".join(entry.strip_lines(plan, standing)))
        elif told.command == "back":
            self._back()
        elif told.command == "skip" and self._again:
            self._again = None
            self._say("  No repeat, then.")
        elif told.command == "skip":
            was = any(slot.step in standing.read[c] for c in slot.channels)
            self._add(Act("skip", slot))
            self._say(f"  Step {slot.step} is left out{'; u brings its reading back' if was else ''}.")
        elif told.command == "end":
            self._add(Act("end", slot))
            self._say(f"  Ended here: {standing.left} of {len(plan.slots())} lines are left out.")
        elif told.step is not None and not 1 <= told.step <= plan.steps:
            self._say(f"  Not taken: there is no step {told.step}; the strip has {plan.steps}.")
        elif told.channel and (plan.by == "step" or not self._named(told.channel)):
            self._say("  Not taken: channels are named, such as g 12 red, in a reading by channel alone.")
        elif told.command == "repeat":
            self._repeat(told.step, self._named(told.channel))
        elif told.step is not None:
            self._go(Slot(told.step, self._named(told.channel) or slot.channels))

    def _go(self, to: Slot) -> None:
        self._again = None
        self._add(Act("go", to))
        there = self.ongoing.standing.read
        old = [there[c].get(to.step) for c in to.channels]
        if any(v is not None for v in old):
            self._say(f"  Step {to.step} has {entry.shown(old)}: a new line replaces it, r {to.step} adds a repeat.")

    def _named(self, beginning: str) -> tuple[Channel, ...]:
        """Return the channel that a word begins, alone; nothing if it begins none or more than one."""
        named = tuple(c for c in self.ongoing.plan.channels if beginning and c.startswith(beginning))
        return named if len(named) == 1 else ()

    def _repeat(self, step: int | None, channels: tuple[Channel, ...]) -> None:
        standing = self.ongoing.standing
        if standing.last is None:
            self._say("  Not taken: no step is read yet.")
            return
        slot = standing.last if step is None else Slot(step, channels or standing.last.channels)
        if not any(slot.step in standing.read[c] for c in slot.channels):
            self._say(f"  Not taken: step {slot.step} is not read yet; g {slot.step} goes there.")
            return
        self._again = slot

    def _back(self) -> None:
        if self._again:
            self._again = None
            self._say("  No repeat, then.")
            return
        done = self.ongoing.progress.done
        if not done:
            self._say("  There is nothing to take back.")
            return
        self.ongoing.add({"is": "back"})
        self._write_table()
        last = done[-1]
        values = f", {entry.shown(last['values'])}" if last.get("values") else ""
        what = {"read": f"step {last.get('step')}{values}", "repeat": f"a repeat of step {last.get('step')}{values}",
                "skip": f"leaving out step {last.get('step')}", "go": f"going to step {last.get('step')}",
                "end": "ending", "patch": f"the patch {last.get('name', '').replace('_', ' ')}",
                "notes": "the notes"}[last["is"]]  # fmt: skip
        self._say(f"  Taken back: {what}.")

    def _take_patch(self, text: str, name: str) -> None:
        """Take one typed line for a patch beside the wedge."""
        channels = self.ongoing.plan.channels
        if not text.strip():
            self.ongoing.add({"is": "patch", "name": name, "densities": {}})
            return
        line = understand(text, len(channels), pointless=self.ongoing.progress.pointless)
        if isinstance(line, Asked):
            line = self._about_point(line)
        if isinstance(line, Refused):
            self._say(entry.sentence(f"Not taken: {line.why}."))
        elif isinstance(line, Told):
            self._do(line, self.ongoing.plan.slots()[-1])
        elif isinstance(line, Taken):
            densities: dict[Channel, float] = {
                c: v for c, v in zip(channels, line.values, strict=True) if v is not None
            }
            said = self.ongoing.patch_doubts(name, densities)
            if said:
                answer = self._question(f"{'; '.join(said)}.", f"{'':>5} y keeps it, or read it again > ")
                if answer.lower() not in _YES:
                    if answer:
                        self._take_patch(answer, name)
                    return
            self.ongoing.add({"is": "patch", "name": name, "densities": densities})

    def _next_patch(self) -> str | None:
        done = {*self.ongoing.progress.patches, *self._there}
        return next((name for name in PATCHES if name not in done), None)

    def _about_point(self, line: Asked) -> Line:
        """Ask once whether the instrument shows no decimal point."""
        if self.terminal is None:
            return Refused("whole numbers; --no-point says that the instrument shows hundredths without a point")
        shown = entry.shown(line.values)
        answer = self._question("", f"{'':>5} Is that {shown}, from an instrument that shows no point? y/n > ").lower()
        if answer in _YES:
            self.ongoing.add({"is": "no point", "value": True})
            return Taken(line.values)
        if answer in ("n", "no"):
            self.ongoing.add({"is": "no point", "value": False})
            return Refused("these are no densities") if line.otherwise is None else Taken(line.otherwise)
        return Refused("y or n was wanted")

    def _question(self, text: str, prompt: str) -> str:
        """Return the answer to a question; "y" where nobody is there, and it is said that nobody was."""
        if text:
            self._say(entry.sentence(text[0].upper() + text[1:]))
        if self.terminal is None:
            self._say("  Kept: nobody is at the terminal to say otherwise.")
            return "y"
        return self.terminal.ask(prompt).strip()

    def _unreadable(self, line: str, why: str, slot: Slot) -> None:
        """Ask what to do about a line that an instrument printed and nobody can read."""
        self._say(entry.sentence(f"Not understood: '{line}' ({why})."))
        if self.terminal is None:
            self._say(f"  Passed over; step {slot.step} is still to be read.")
            return
        text = self.terminal.ask(f"{entry.prompt(self.ongoing.plan, slot)}type it, or Enter for the next line > ")
        if text.strip():
            self._guarded(partial(self.take, text, slot))

    def _add(self, act: Act) -> None:
        self.ongoing.add(event_of_act(act))
        self._write_table()

    def _write_table(self) -> None:
        """Let the table follow the journal; if it cannot, the journal has all of it, and that is said."""
        try:
            self.ongoing.write_table()
        except OutputError as error:
            safe = f"The line is taken, and safe in {self.ongoing.journal.path}."
            self._say(entry.sentence(f"{error.where}: {error.what}. {safe}"))

    def _guarded(self, take: Callable[[], None]) -> None:
        """Do what takes a line; a full disk is told, and the same line asked for again."""
        try:
            take()
        except OutputError as error:
            self._say("\n".join(entry.sentence(part) for part in str(error).split("\n")))

    def _say(self, text: str) -> None:
        if self.terminal is None:
            print(text, flush=True)
        else:
            self.terminal.say(text)


def _why(line: Line) -> str:
    return line.why if isinstance(line, Refused) else "it is no reading"


def first_lines(ongoing: Ongoing) -> str:
    """Return what is shown before the first line of a session: the strip so far, or the scale alone."""
    return "\n".join(entry.strip_lines(ongoing.plan, ongoing.standing))


def plan_in_words(plan: Plan) -> str:
    """Return how a strip is read: "from the clear end, by step, red green blue"."""
    return f"from the {plan.first_end} end, by {plan.by}, {' '.join(plan.channels)}"


def stop_text(ongoing: Ongoing, name: Path) -> str:
    """Return what is said to a person who leaves."""
    if not ongoing.journal.events:
        return "Interruption. Nothing was entered yet."
    if ongoing.progress.plan is None:
        return f"Stopped. The same command goes on from here; the answers are in {ongoing.journal.path}."
    standing = ongoing.standing
    lines = len(ongoing.plan.slots())
    return (
        f"Stopped with {standing.done} of {lines} lines read; all are safe in {ongoing.journal.path}.\n"
        f"Go on with: curves enter {name}"
    )
