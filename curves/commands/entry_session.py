"""The readings of an entry, line by line: asked for, questioned where they break the run, and shown as a curve."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from functools import partial
from re import Pattern

from curves.commands.terminal import Interruption, StepBack, Terminal
from curves.errors import OutputError, visible
from curves.files.entry.entry import Entry
from curves.files.entry.input import (
    NOT_READ,
    Command,
    Input,
    Reading,
    Refusal,
    WholeNumbers,
    find_numbers,
    line_text,
    parse_line,
)
from curves.files.entry.sheet import PATCHES, Densities, Line, Sheet
from curves.sensitometry.checks.running import doubts, patch_doubts
from curves.sensitometry.core.reader_units import ReaderScale
from curves.sensitometry.core.units import Channel
from curves.views.text.entry import (
    ALL_READ_TEXT,
    DOUBT_TEXT,
    NOTES_TEXT,
    POINT_TEXT,
    explained_line,
    explained_patch,
    prompt,
    sentence,
    step_line,
    strip_lines,
)

_YES = ("y", "yes")
_NOTES = "notes"


class Session:
    """The lines of one entry.

    Args:
        entry: the entry, begun.
        terminal: where questions are put; None where nobody is there to answer them.
        known: patches, and "notes", that the record already has; they are not asked for.
    """

    def __init__(self, entry: Entry, terminal: Terminal | None, known: Iterable[str] = ()) -> None:
        self._entry, self._terminal = entry, terminal
        self._pieces = tuple(piece for piece in (*PATCHES, _NOTES) if piece not in set(known))
        self._again: Line | None = None
        self._revisited: str | None = None

    def ask_all(self, terminal: Terminal) -> None:
        """Ask for every reading, patch and note that is still open.

        Raises:
            Interruption: the person leaves.
            StepBack: the person goes back before the first line, and nothing is read yet.
        """
        asked = False
        while True:
            sheet = self._sheet
            line, piece = self._again or sheet.next, self._revisited or self._piece_open()
            if self._revisited is None and line is not None:
                self._guarded(partial(self._ask_line, terminal, line))
            elif piece is not None:
                self._guarded(partial(self._ask_piece, terminal, piece))
            elif asked or not self._ask_more(terminal):
                return
            else:
                continue
            asked = True

    def take_stream(self, lines: Iterable[str], pattern: Pattern[str]) -> None:
        """Take readings from lines as an instrument prints them, until every step is read or the lines end."""
        for printed in map(str.strip, lines):
            line = self._again or self._sheet.next
            if line is None:
                return
            found = find_numbers(printed, pattern, line.channels)
            meaning = Refusal("it has no reading") if found is None else self._parsed(found, line)
            if found is not None and isinstance(meaning, Reading | WholeNumbers):
                self._guarded(partial(self._take, found, line))
            elif found is not None or any(c.isdigit() for c in printed):
                why = meaning.why if isinstance(meaning, Refusal) else "it is not a reading"
                self._ask_about(printed, why, line)
            elif printed:
                self._say(f"  passed over: {printed}")

    @property
    def _sheet(self) -> Sheet:
        return self._entry.sheet

    @property
    def _scale(self) -> ReaderScale:
        return self._entry.setup.scale

    def _piece_open(self) -> str | None:
        """Return the first patch, or the notes, not asked for yet."""
        answered = {*self._sheet.patches, *([] if self._sheet.notes is None else [_NOTES])}
        return next((piece for piece in self._pieces if piece not in answered), None)

    def _ask_line(self, terminal: Terminal, line: Line) -> None:
        """Ask for one line of readings."""
        shown = prompt(self._sheet.plan, line, again=self._again is not None)
        try:
            self._take(terminal.ask_question(shown, explained_line(self._sheet.plan, line, self._scale)), line)
        except StepBack:
            self._go_back(line)

    def _ask_piece(self, terminal: Terminal, piece: str) -> None:
        """Ask for a patch beside the wedge, or for the notes."""
        sheet, notes = self._sheet, piece == _NOTES
        there = (
            sheet.notes
            if notes
            else line_text([sheet.patches.get(piece, {}).get(c) for c in sheet.plan.channels], self._scale)
        )
        keeps = there if notes or sheet.patches.get(piece) else ""
        name = "notes" if notes else f"{piece.replace('_', ' ')} ({PATCHES[piece]})"
        offered = f"Enter keeps {keeps}" if keeps else "Enter for none" if notes else "Enter if not read"
        help_text = NOTES_TEXT if notes else explained_patch(piece, sheet.plan.channels, self._scale)
        try:
            text = terminal.ask_question(f"{name}, {offered}\n{'':>5} > ", help_text).strip()
        except StepBack:
            self._go_back_from(piece)
            return
        if text or not keeps:
            taken = self._take_notes(text) if notes else self._take_patch(text, piece)
            if not taken:
                return
        self._revisited = None

    def _go_back(self, line: Line) -> None:
        """Go to the line before one; from a repeat, to the line that it interrupted."""
        if self._again is not None:
            self._again = None
            self._say("  The repeat is called off.")
        elif (before := self._sheet.line_before(line)) is not None:
            self._go(before)
        elif self._sheet.rows or self._sheet.patches:
            self._say(
                sentence(
                    "This is the first line. The answers about the record stand once a reading is there;"
                    f" {self._entry.record} can be changed with an editor."
                )
            )
        else:
            raise StepBack

    def _go_back_from(self, piece: str | None) -> None:
        """Go back from a patch, the notes or the end: to the piece before, or to the last line."""
        pieces = self._pieces
        before = pieces[: pieces.index(piece)] if piece in pieces else pieces
        if before:
            self._revisited = before[-1]
        else:
            lines = self._sheet.plan.lines
            self._go(next((line for line in reversed(lines) if self._sheet.is_read(line)), lines[-1]))

    def _ask_more(self, terminal: Terminal) -> bool:
        """Ask what a person came for whose strip is all read; return whether the person wants anything."""
        try:
            text = terminal.ask_question(
                "All is read: r 12 reads step 12 again, g 12 replaces it, Enter ends > ", ALL_READ_TEXT
            ).strip()
        except Interruption:
            return False
        except StepBack:
            self._guarded(partial(self._go_back_from, None))
            return True
        if not text:
            return False
        command = self._parsed(text, self._sheet.plan.lines[-1])
        if isinstance(command, Command):
            self._guarded(partial(self._do, command, None))
        else:
            self._say("  Not taken: r or g and a step is expected, such as r 12.")
        return True

    def _ask_about(self, printed: str, why: str, line: Line) -> None:
        """Ask what to do about a line that an instrument printed and that is not understood."""
        self._say(sentence(f"Not understood: '{printed}' ({why})."))
        if self._terminal is None:
            self._say(f"  Passed over; step {line.step} is still to be read.")
            return
        shown = f"{prompt(self._sheet.plan, line)}type it, or Enter for the next line > "
        try:
            text = self._terminal.ask_question(shown, explained_line(self._sheet.plan, line, self._scale))
        except StepBack:
            self._guarded(partial(self._go_back, line))
            return
        if text.strip():
            self._guarded(partial(self._take, text, line))

    def _take(self, text: str, line: Line) -> None:
        """Take one typed line for a step: a reading or a command."""
        entry = self._entry
        if not text.strip() and self._again is None and self._sheet.is_read(line):
            entry.keep(self._sheet.keep_line(line))
            return
        kind, read = entry.setup.kind, self._trusted()
        taken = self._read(text, line, lambda new: doubts(kind, entry.log_h, read, line.step, self._densities(new)))
        if taken is None:
            return
        densities, said = taken
        if self._again:
            self._entry.keep(self._sheet.repeat(line, densities))
            shown, note = densities, "again"
        else:
            self._entry.keep(self._sheet.enter(line, densities, doubtful=said))
            first = self._sheet.densities()
            shown, note = {c: by[line.step] for c, by in first.items() if line.step in by}, "kept" if said else ""
        self._again = None
        say = self._terminal.say_over if self._terminal and not said else self._say
        say(step_line(self._sheet.plan, line.step, shown, note, self._scale))

    def _take_patch(self, text: str, name: str) -> bool:
        """Take one typed line for a patch beside the wedge: a reading, a command, or nothing; return if it is taken."""
        densities: Densities = {}
        if text.lower() not in ("", "s"):
            kind, read = self._entry.setup.kind, self._trusted()
            line = Line(0, self._sheet.plan.channels)
            taken = self._read(text, line, lambda new: patch_doubts(kind, name, self._densities(new), read))
            if taken is None:
                return False
            densities, _ = taken
        self._entry.keep(self._sheet.add_patch(name, densities))
        return True

    def _take_notes(self, text: str) -> bool:
        """Take the notes, or carry out a command typed in their place; return if they are taken."""
        command = self._parsed(text, self._sheet.plan.lines[-1])
        if isinstance(command, Command):
            self._do(command, None)
            return False
        self._entry.keep(self._sheet.add_notes("" if text == NOT_READ else text))
        return True

    def _read(
        self, text: str, line: Line, doubts_of: Callable[[Densities], list[str]]
    ) -> tuple[Densities, bool] | None:
        """Return the densities on a typed line, and whether the person kept them although they were questioned.

        None stands for a command, which is carried out, and for a line that is not taken.
        """
        while True:
            meaning = self._parsed(text, line)
            try:
                if isinstance(meaning, WholeNumbers):
                    meaning = self._about_point(meaning)
            except StepBack:
                return None
            if isinstance(meaning, Command):
                self._do(meaning, line if line.step else None)
            if isinstance(meaning, Refusal):
                extra = f": step {line.step} is still to be read" if not text.strip() else ""
                self._say(sentence(f"Not taken: {meaning.why}{extra}."))
            if not isinstance(meaning, Reading):
                return None
            densities = {c: v for c, v in zip(line.channels, meaning.values, strict=True) if v is not None}
            said = "; ".join(doubts_of(densities))
            if not said:
                return densities, False
            self._say(sentence(f"{said[0].upper()}{said[1:]}."))
            if self._terminal is None:
                self._say("  Kept: nobody is at the terminal to say otherwise.")
                return densities, True
            try:
                text = self._terminal.ask_question(f"{'':>5} y keeps it, or read it again > ", DOUBT_TEXT).strip()
            except StepBack:
                return None
            if text.lower() in _YES:
                return densities, True
            if not text:
                return None

    def _parsed(self, text: str, line: Line) -> Input:
        return parse_line(text, len(line.channels), no_point=self._sheet.no_point, scale=self._scale)

    def _densities(self, readings: Densities) -> Densities:
        """Return the densities that readings stand for [density]."""
        return {c: self._scale.density(v, c) for c, v in readings.items()}

    def _trusted(self) -> dict[Channel, dict[int, float]]:
        """Return the densities of the readings that are not doubtful, by channel and step [density]."""
        read = self._sheet.densities(trusted=True)
        return {c: {n: self._scale.density(v, c) for n, v in by.items()} for c, by in read.items()}

    def _about_point(self, numbers: WholeNumbers) -> Input:
        """Ask once whether the instrument shows no decimal point."""
        if self._terminal is None:
            return Refusal("whole numbers; --no-point says that the instrument shows hundredths without a point")
        asked = f"Is that {line_text(numbers.hundredths)}, from an instrument that shows no point? y/n > "
        answer = self._terminal.ask_question(f"{'':>5} {asked}", POINT_TEXT).strip().lower()
        if answer not in (*_YES, "n", "no"):
            return Refusal("y or n is expected")
        self._entry.keep(replace(self._sheet, no_point=answer in _YES))
        if answer in _YES:
            return Reading(numbers.hundredths)
        return Refusal("these numbers are not densities") if numbers.units is None else Reading(numbers.units)

    def _do(self, command: Command, line: Line | None) -> None:
        """Carry out a command.

        Args:
            command: the command.
            line: the line that was to be typed; None if none was.
        """
        sheet, name = self._sheet, command.name
        steps, channels = len(sheet.plan.positions), self._named(command.channel)
        if name == "list":
            self._say("\n".join(strip_lines(sheet, self._scale)))
        elif self._again and name in ("skip", "undo"):
            self._again = None
            self._say("  The repeat is called off.")
        elif name == "undo":
            self._take_back()
        elif name == "skip" and line is None:
            self._say("  Not taken: s leaves out a step, and none is being read.")
        elif name == "skip" and line is not None:
            self._entry.keep(sheet.leave_out(line))
            self._say(f"  Step {line.step} is left out{'; u brings its reading back' if sheet.is_read(line) else ''}.")
        elif name == "end":
            self._entry.keep(sheet.end())
            self._say(f"  Ended here: {len(sheet.lines_open)} of {len(sheet.plan.lines)} lines are left out.")
        elif command.step is not None and not 1 <= command.step <= steps:
            self._say(f"  Not taken: there is no step {command.step}; the strip has {steps}.")
        elif command.channel and (sheet.plan.by == "step" or not channels):
            self._say("  Not taken: channels are named, such as g 12 red, in a reading by channel alone.")
        elif name == "repeat":
            self._repeat(command.step, channels)
        elif command.step is not None:
            self._go(Line(command.step, channels or (line or sheet.plan.lines[-1]).channels))

    def _named(self, beginning: str) -> tuple[Channel, ...]:
        """Return the channel that a word begins, alone; nothing if it begins none or more than one."""
        named = tuple(c for c in self._sheet.plan.channels if beginning and c.startswith(beginning))
        return named if len(named) == 1 else ()

    def _go(self, to: Line) -> None:
        self._again = self._revisited = None
        self._entry.keep(self._sheet.go_to(to))
        if self._sheet.is_read(to):
            first = self._sheet.densities()
            old = line_text([first[c].get(to.step) for c in to.channels], self._scale)
            ways = f"a new line replaces it, Enter keeps it, r {to.step} adds a repeat"
            self._say(sentence(f"Step {to.step} has {old}: {ways}."))

    def _repeat(self, step: int | None, channels: tuple[Channel, ...]) -> None:
        last = self._sheet.last
        if last is None:
            self._say("  Not taken: no step is read yet.")
            return
        line = last if step is None else Line(step, channels or last.channels)
        if self._sheet.is_read(line):
            self._again, self._revisited = line, None
        else:
            self._say(f"  Not taken: step {line.step} is not read yet; g {line.step} goes there.")

    def _take_back(self) -> None:
        if not self._sheet.changes:
            self._say("  There is nothing to take back.")
            return
        what = self._sheet.changes[-1].what
        self._entry.keep(self._sheet.take_back())
        self._say(f"  Taken back: {what}.")

    def _guarded(self, take: Callable[[], None]) -> None:
        """Take a line; say so if the disk does not, so that the same line is asked for again."""
        try:
            take()
        except OutputError as error:
            for part in ("Not taken: " + str(error), "The lines before it are safe; type it again."):
                self._say("\n".join(sentence(line) for line in part.split("\n")))

    def _say(self, text: str) -> None:
        if self._terminal is None:
            print(visible(text), flush=True)
        else:
            self._terminal.say(text)
