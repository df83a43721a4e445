"""The sheet to print and fill in by hand at the densitometer: facts, steps and patches, on as many A4 as it takes."""

from __future__ import annotations

import math
from collections.abc import Sequence

from curves.app.blank_sheet import BlankSheet, Fact
from curves.files.entry.sheet import PATCHES
from curves.sensitometry.core.reader_units import ReaderUnit
from curves.views.page.frame import MARKER
from curves.views.page.tables import esc, minus
from curves.views.text.entry import label

_ROWS_OF_FIRST, _ROWS_OF_OTHERS = 24, 30
"""Rows of 8 mm that an A4 holds below the facts, and without them [unitless]."""

_FEWEST_ROWS = 4
"""Steps that the last A4 holds at least, so that its patches do not stand alone: our own choice."""

_ROW = 8.0
"""Height of a row: room for a pencil [mm]."""

_CHARACTERS_OF_TITLE, _CHARACTERS_OF_FACT = 55, 40
"""Characters that surely fit on one line of a title, or of a fact [unitless]."""

_LONGEST = 240
"""Characters of a text that is printed whole; a longer one ends in dots."""

_READINGS: dict[ReaderUnit, str] = {
    "density": "Densities, two decimals", "stops": "Stops below the open gate, to the tenth",
    "ev": "Exposure values, to the tenth", "seconds": "Exposure times at one aperture, as marked",
    "percent": "Per cent of the open gate's light",
}  # fmt: skip
"""What the footer asks for, by the unit of the readings."""

SHEET_STYLE = """
@page { size: A4; margin: 10mm; }
* { box-sizing: border-box; }
html { font: 10pt/1.25 Georgia, "Times New Roman", serif; color: #111; background: #fff; }
body { margin: 0; }
.sheet { width: 190mm; height: 276mm; margin: 0 auto; display: flex; flex-direction: column; break-after: page;
  break-inside: avoid; }
.sheet:last-child { break-after: auto; }
header { display: flex; justify-content: space-between; align-items: baseline; gap: 6mm; min-height: 9mm;
  border-bottom: .5mm solid #111; }
h1 { font-size: 14pt; font-weight: normal; margin: 0; overflow-wrap: anywhere; }
h1 span { color: #666; }
header p { margin: 0; white-space: nowrap; }
dl { display: grid; grid-template-columns: 1fr 1fr; column-gap: 6mm; margin: 0; }
dl div { min-height: 8mm; display: flex; align-items: flex-end; gap: 2mm; border-bottom: .2mm solid #999;
  padding-bottom: .8mm; }
dt { color: #555; font-size: 8.5pt; white-space: nowrap; }
dd { margin: 0; overflow-wrap: anywhere; }
dd.choices { font-size: 9pt; word-spacing: 1mm; }
table { width: 189.4mm; border-collapse: collapse; table-layout: fixed; margin: 2mm .3mm 0; }
th, td { height: 8mm; padding: 0 1.5mm; border: .2mm solid #777; text-align: left; font-weight: normal; }
thead th { height: 7mm; border-bottom: .5mm solid #111; font-size: 9pt; }
tbody th { font-variant-numeric: tabular-nums; }
tbody tr.group th { border-top: .5mm solid #111; }
tbody tr.fifth th, tbody tr.fifth td { border-bottom: .4mm solid #333; }
.position { width: 22mm; } .wedge { width: 17mm; color: #555; } .remarks { width: 40mm; }
.patch { font-size: 9pt; line-height: 1.1; }
.notes { flex: 1; min-height: 6mm; margin: 1mm 0 0; color: #555; font-size: 8.5pt; overflow: hidden; }
footer { font-size: 8pt; color: #555; height: 5mm; }
@media (forced-colors: active) { html, h1 span, dt, .wedge, .notes, footer { color: CanvasText; } }
@media screen { body { background: #e9e7e2; padding: 6mm 0; }
  .sheet { background: #fff; padding: 10mm; width: 210mm; height: 297mm; margin-bottom: 6mm; } }
"""


def reading_sheet(blank: BlankSheet, record: str) -> str:
    """Return the sheet as a page, one section for each A4.

    Args:
        blank: the sheet.
        record: name of the strip, as a person gives it to the command that takes the readings.
    """
    counts = sheets_of(len(blank.plan.lines), _extra_rows(blank))
    title = _short(blank.title)
    parts, start = [], 0
    for number, count in enumerate(counts, start=1):
        lines = blank.plan.lines[start : start + count]
        start += count
        last = number == len(counts)
        rows = [*(_step(blank, line.step) for line in lines), *(_patches(blank) if last else [])]
        shown = f"<h1>{esc(title)}</h1>" if title else "<h1><span>Title</span></h1>"
        parts.append(
            f'<section class="sheet"><header>{shown}<p>sheet {number} of {len(counts)}</p></header>'
            f"{_facts(blank.facts) if number == 1 else ''}"
            f"<table>{_head(blank)}<tbody>{''.join(rows)}</tbody></table>"
            f'<p class="notes">Notes</p>'
            f"<footer>{_READINGS[blank.unit]}; leave a cell empty if it was not read. Then: curves enter"
            f" {esc(_short(record))}</footer></section>"
        )
    return (
        f'<!DOCTYPE html>\n{MARKER}\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">\n"
        f"<title>{esc(title or record)}: readings</title>\n<style>{SHEET_STYLE}</style>\n</head>\n<body>\n"
        + f"<main>{''.join(parts)}</main>"
        + "\n</body>\n</html>\n"
    )


def sheets_of(lines: int, taken: int = 0) -> list[int]:
    """Return the number of lines on each A4 of a sheet; the last one has room for the patches too.

    Args:
        lines: lines of readings.
        taken: rows that a long title or long facts take from the first A4.
    """
    counts: list[int] = []
    while True:
        room = max(_ROWS_OF_FIRST - taken, _FEWEST_ROWS + len(PATCHES)) if not counts else _ROWS_OF_OTHERS
        if lines + len(PATCHES) <= room:
            return [*counts, lines]
        counts.append(min(room, lines - _FEWEST_ROWS))
        lines -= counts[-1]


def _extra_rows(blank: BlankSheet) -> int:
    """Return the number of rows taken by texts that do not fit on one line each."""
    titles = math.ceil(len(_short(blank.title)) / _CHARACTERS_OF_TITLE) - 1
    facts = 0
    for left, right in zip(blank.facts[::2], [*blank.facts[1::2], blank.facts[-1]], strict=False):
        length = max(len(fact.name) + len(_short(fact.value)) for fact in (left, right))
        # Two lines of a fact fit into its row.
        facts += max(0, math.ceil((math.ceil(length / _CHARACTERS_OF_FACT) - 2) / 2))
    return max(0, titles) + facts


def _facts(facts: Sequence[Fact]) -> str:
    cells = []
    for fact in facts:
        name = f"{fact.name} [{fact.unit}]" if fact.unit else fact.name
        choose = bool(fact.choices) and not fact.value
        value = " / ".join(fact.choices) if choose else _short(fact.value)
        style = ' class="choices"' if choose else ""
        cells.append(f"<div><dt>{esc(name)}</dt><dd{style}>{esc(value)}</dd></div>")
    return f"<dl>{''.join(cells)}</dl>"


def _head(blank: BlankSheet) -> str:
    wedge = '<th class="wedge">wedge</th>' if blank.wedge else ""
    channels = "".join(f"<th>{esc(channel)}</th>" for channel in blank.plan.channels)
    return (
        f'<thead><tr><th class="position">{esc(blank.plan.column)}</th>{wedge}{channels}'
        '<th class="remarks">remarks, repeats</th></tr></thead>'
    )


def _step(blank: BlankSheet, step: int) -> str:
    known = blank.plan.positions[step - 1] == blank.plan.positions[step - 1]
    name = minus(label(blank.plan, step)) if known else ""
    wedge = f'<td class="wedge">{blank.wedge[step - 1]:.2f}</td>' if blank.wedge else ""
    mark = "" if step % 5 else ' class="fifth"'
    return f"<tr{mark}><th>{esc(name)}</th>{wedge}{_cells(blank)}</tr>"


def _patches(blank: BlankSheet) -> list[str]:
    span = ' colspan="2"' if blank.wedge else ""
    names = [esc(name.replace("_", " ")) for name in PATCHES]
    rows = [f'<th class="patch"{span}>{name}</th>{_cells(blank)}</tr>' for name in names]
    return [f'<tr class="group">{rows[0]}', *(f"<tr>{row}" for row in rows[1:])]


def _cells(blank: BlankSheet) -> str:
    return "<td></td>" * (len(blank.plan.channels) + 1)


def _short(text: str) -> str:
    return text if len(text) <= _LONGEST else f"{text[: _LONGEST - 3]}..."
