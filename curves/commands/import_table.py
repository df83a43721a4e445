"""``curves import``: a table from elsewhere becomes a strip record."""

from __future__ import annotations

import shlex
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from curves.commands.options import LOG_H, OPEN_GATE, UNIT, RecordOptions, Units, with_options
from curves.files.imports.readers import formats

if TYPE_CHECKING:
    from curves.commands.terminal import Terminal
    from curves.files.base.strip_table import StripTable

_DELIMITERS = Literal["tab", "semicolon", "comma", "bar", "spaces", "none"]
_TABLE = f"A file of one of these formats: {formats()}."


@with_options(RecordOptions)
def import_table(
    wanted: RecordOptions,
    table: Annotated[Path, typer.Argument(metavar="TABLE", help=_TABLE)],
    into: Annotated[
        Path | None,
        typer.Option(metavar="NAME", help="The record to write, with or without .toml; else by TABLE's name."),
    ] = None,
    yes: Annotated[bool, typer.Option("--yes", help="Write without asking.")] = False,
    density: Annotated[
        Literal["status A", "status M", "visual", "scan"] | None,
        typer.Option(help="Kind of density, if the table does not say."),
    ] = None,
    unit: Annotated[Units, typer.Option(help=UNIT[:1].upper() + UNIT[1:])] = None,
    open_gate: Annotated[
        str | None, typer.Option(metavar="READING", help=OPEN_GATE[:1].upper() + OPEN_GATE[1:])
    ] = None,
    log_h: Annotated[
        Literal["lux-seconds", "metered grey", "relative"] | None, typer.Option(help=LOG_H[:1].upper() + LOG_H[1:])
    ] = None,
    samples: Annotated[
        str | None, typer.Option(metavar="FIRST:LAST", help="Samples that are the steps, such as GS0:GS23.")
    ] = None,
    column: Annotated[
        list[str] | None,
        typer.Option(metavar="WHAT=NAME", help="Which column is what, by name or number: --column visual=D_VIS."),
    ] = None,
    transmittance: Annotated[
        str | None,
        typer.Option(metavar="NAME", help="Column of visual transmittance in per cent, such as XYZ_Y of a target."),
    ] = None,
    delimiter: Annotated[_DELIMITERS | None, typer.Option(help="What separates the cells.")] = None,
    decimal: Annotated[Literal["point", "comma"] | None, typer.Option(help="The sign before the decimals.")] = None,
    steps: Annotated[Literal["down", "across"] | None, typer.Option(help="How steps run in the table.")] = None,
    point: Annotated[
        bool | None, typer.Option("--point/--no-point", help="Whole numbers are densities, or hundredths of density.")
    ] = None,
    first_end: Annotated[
        Literal["clear", "dark"],
        typer.Option("--from", help="End of the wedge that rows without step numbers begin at."),
    ] = "clear",
    sheet: Annotated[str | None, typer.Option(help="Which sheet of a workbook.")] = None,
    number: Annotated[
        str | None, typer.Option("--table", help="Which table of exchange text that holds several.")
    ] = None,
) -> None:
    """Make a strip record of a table from elsewhere.

    What was understood is shown before anything is written. A file that can be read in two ways is read in neither
    until an option decides.

    Example: curves import target.txt --samples GS0:GS23 --kind reversal --wedge 24x0.15 --lux 25 --seconds 1.6
    """
    from curves.commands.terminal import Interruption, standard_terminal
    from curves.errors import OutputError
    from curves.files.base.writing import refuse_other
    from curves.files.imports import readers
    from curves.files.strips.reader_section import scale_of

    record = _record(table, into)
    description = readers.TableDescription(
        columns=_columns(column or []),
        delimiter=delimiter,
        decimal=decimal,
        steps=steps,
        no_point=None if point is None else not point,
        transmittance=transmittance,
        samples=samples,
        first_end=first_end,
        sheet=sheet,
        table=number,
        density=density,
        scale=scale_of(unit, open_gate),
    )
    found = readers.import_table(table, description)
    readings = record.with_suffix(".csv")
    if record.exists():
        raise OutputError("there is already such a file", where=str(record), hint="name another with --into")
    refuse_other(readings, _readings_text(found), "name another with --into")
    print(_understood(table, found))
    given = wanted.answers() | {
        "density": density,
        "exposure.log_h": log_h,
        "exposure.method": _method(found, wanted.lux or wanted.seconds, log_h),
        "reader.unit": unit,
        "reader.open_gate": open_gate,
    }
    terminal = None if yes else standard_terminal()
    try:
        draft = _draft(record, found, given, terminal)
        if terminal is not None and terminal.ask(f"Write {record} and {readings}? Enter writes, n does not > ").strip():
            raise Interruption
    except (Interruption, KeyboardInterrupt):
        print("Nothing was written.")
        return
    _write(record, found, draft)


def _record(table: Path, into: Path | None) -> Path:
    from curves.files.base.record_edits import record_path

    if into is not None:
        return record_path(into)
    record = Path(table.stem + ".toml")
    # The readings go beside the record: they must not take the table's own name.
    taken = table.resolve() in (record.resolve(), record.with_suffix(".csv").resolve())
    return Path(table.stem + "-strip.toml") if taken else record


def _columns(given: list[str]) -> dict[str, str]:
    from curves.errors import RecordError, nearest
    from curves.sensitometry.core.units import CHANNELS
    from curves.sensitometry.strip.exposure import POSITIONS

    known = (*POSITIONS, *CHANNELS, "sample")
    found = {}
    for text in given:
        what, sign, name = (part.strip() for part in text.partition("="))
        if not sign or not name:
            raise RecordError(
                f"'{text}' does not name a column", where="--column", needed="what=name, such as visual=D_VIS"
            )
        if what not in known:
            raise RecordError(f"a column does not hold '{what}'", where="--column", hint=nearest(what, known))
        found[what] = name
    return found


def _method(found: StripTable, light: str | None, log_h: str | None) -> str | None:
    """Return the method of exposure that follows from the table and the options; None if it is to be asked."""
    if found.column in ("stops", "ei"):
        return "frames"
    by_wedge = found.column == "step" and log_h == "relative"
    return "contact" if light is not None or by_wedge else None


def _draft(
    record: Path,
    found: StripTable,
    given: dict[str, str | None],
    terminal: Terminal | None,
) -> Any:
    """Return the record: by the table and the options, and for the rest as a person answers."""
    from curves.commands.record_questions import completed
    from curves.errors import RecordError
    from curves.files.entry.questions import Draft

    draft: Draft = {"title": found.title or record.stem}
    given = given | {"date": found.date or None}
    by_light = any(given[f"exposure.{key}"] is not None for key in ("lux", "seconds", "ei"))
    if found.column == "step" and given["exposure.log_h"] == "relative" and not by_light:
        # A wedge under a light that nobody measured: the record says so by stating no light.
        given["exposure.log_h"] = None
    if found.column != "log_h" and given["exposure.log_h"] is not None:
        what = f"rows are listed by {found.column}, not by log H"
        raise RecordError(what, where="log_h", hint="leave the option out", settings=("log_h",))
    if found.column == "log_h":
        draft["exposure"] = {"method": "given"}
        given = given | {"exposure.method": None, "wedge": None}
        if terminal is None and given["exposure.log_h"] is None:
            given["exposure.log_h"] = "relative"
    elif given["exposure.method"] is None and given["exposure.ei"] is not None and found.column == "step":
        given["exposure.method"] = "camera"
    given["density"] = given["density"] or found.density or ("visual" if set(found.readings) == {"visual"} else None)
    _check_density(given["density"], found)
    made = completed("import", record, draft, given, terminal, lambda offered: _fits(offered, found))
    while terminal is not None and made["density"] == "visual" and set(found.readings) != {"visual"}:
        try:
            _check_density("visual", found)
        except RecordError as error:
            terminal.say(f"  {error}")
        draft = {key: value for key, value in made.items() if key != "density"}
        made = completed("import", record, draft, {}, terminal, lambda _: False)
    return made


def _fits(offered: dict[str, Any], found: StripTable) -> bool:
    """Return True if what another strip's record states can hold for a table: its density, exposure and wedge."""
    methods = {"step": ("contact", "camera"), "log_h": ("given",)}.get(found.column, ("frames",))
    steps = offered.get("wedge", {}).get("steps")
    return (
        offered["exposure"]["method"] in methods
        and (offered["density"] != "visual" or set(found.readings) == {"visual"})
        and (found.column != "step" or steps is None or steps >= max(found.positions))
    )


def _check_density(density: str | None, found: StripTable) -> None:
    """Refuse to take the densities of layers as visual density."""
    from curves.errors import RecordError

    layers = [c for c in found.readings if c != "visual"]
    if density == "visual" and layers:
        raise RecordError(
            f"the column{'s' if len(layers) > 1 else ''} {', '.join(layers)} cannot hold visual density",
            where="density",
            needed="status A for film to be looked at, status M for film to be printed, or scan",
            settings=("density",),
        )


def _understood(table: Path, found: StripTable) -> str:
    import textwrap

    lines = [f"{table}, as it is understood:"]
    lines += [textwrap.fill(f"- {s}", 79, initial_indent="  ", subsequent_indent="    ") for s in found.understood]
    for channel, values in found.readings.items():
        read = [v for v in values if v == v]
        lines.append(
            f"    {channel:<8} {len(read)} readings, {min(read):.2f} ... {max(read):.2f}" if read else f"    {channel}"
        )
    places = f"{found.column} {min(found.positions):g} ... {max(found.positions):g}"
    lines.append(f"    {len(found.positions)} rows, {places}")
    lines += [textwrap.fill(f"Remark: {s}", 79, initial_indent="  ", subsequent_indent="    ") for s in found.doubtful]
    return "\n".join(lines)


def _readings_text(found: StripTable) -> str:
    from curves.files.strips.readings import csv_text

    return csv_text(found.column, found.rows(), list(found.readings))


def _write(record: Path, found: StripTable, draft: dict[str, Any]) -> None:
    """Write record and readings, and take them back if they would not load."""
    from curves.app.file_check import doubts_of
    from curves.files.base.record_edits import write_record
    from curves.files.base.writing import all_or_none, write_new
    from curves.files.strips.readings import check_readings
    from curves.views.text.strip import checked_text

    readings = record.with_suffix(".csv")
    with all_or_none(readings, record):
        write_new(readings, _readings_text(found), partial(check_readings, found.rows()))
        write_record(record, {**draft, "readings": readings.name})
        doubts = doubts_of(record)
    print(f"Written: {record} and {readings}")
    print(checked_text(str(record), None, doubts))
    print(f"Now: curves report {shlex.quote(str(record))}")
