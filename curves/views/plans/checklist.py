"""The checklist of a roll, to print and to tick: A4, or A6 for the camera bag."""

from __future__ import annotations

from collections.abc import Mapping

from curves.sensitometry.brackets.roll import RollFrame
from curves.sensitometry.strip.exposure import JUDGEMENTS
from curves.views.page.frame import MARKER
from curves.views.page.tables import esc, minus
from curves.views.pages.card import CARD_STYLE, thirds_of
from curves.views.pages.reading_sheet import SHEET_STYLE
from curves.views.plans.roll import Roll, looks, missed_settings, setting, stack_name
from curves.views.words.cautions import SUN, cautions

_A4 = """
@page { margin-bottom: 12mm; @bottom-right { content: counter(page) " of " counter(pages); font: 8pt Georgia, serif; } }
.sheet { height: auto; min-height: 274mm; break-after: auto; break-inside: auto; }
tr, li { break-inside: avoid; }
th, td { overflow-wrap: normal; }
td.box, th.box { width: 17mm; text-align: center; } td.number, th.number { width: 14mm; }
td.stack, th.stack { width: 44mm; font-size: 8.5pt; line-height: 1.1; overflow-wrap: anywhere; }
td.set, th.set { width: 24mm; white-space: nowrap; }
table { table-layout: auto; } td { font-variant-numeric: tabular-nums; }
ol { margin: 3mm 0; padding-left: 5mm; font-size: 9.5pt; } li { margin-bottom: 1mm; }
tbody tr.group:not(:first-child) td { border-top: .7mm solid #111; } tr.name { display: none; }
.tick { display: inline-block; width: 4mm; height: 4mm; border: .3mm solid #111; vertical-align: middle; }
footer { height: auto; }
@media screen { .sheet { height: auto; min-height: 297mm; } }
@media screen and (max-width: 820px) { body { padding: 0; } .sheet { width: 100%; padding: 4mm; overflow-x: auto; }
  dl { grid-template-columns: 1fr; } td.notes, th.notes { display: none; }
  table { width: 100%; margin-left: 0; } td.stack, th.stack { display: none; } tr.name { display: table-row; }
  tbody tr.group td { border-top: .3mm solid #777; } tbody tr.name:not(:first-child) td { border-top: .7mm solid #111; }
  tr.name td { text-align: left; font-size: 9pt; overflow-wrap: anywhere; }
  td, th, td.number, th.number, td.box, th.box, td.set, th.set { width: auto; padding: 0 1mm; } }
"""

_A6 = """
html { overflow-wrap: normal; } h1, dd, footer { overflow-wrap: anywhere; }
table { width: 100%; margin-top: 1mm; }
th, td { padding: 0 .6mm; height: 4.6mm; font-size: 7.5pt; line-height: 1.05; }
td.number, td.set { white-space: nowrap; } td.stack, th.stack { font-size: 7pt; text-align: left; }
tr { break-inside: avoid; } tbody tr.group:not(:first-child) td { border-top: .6mm solid #111; }
ol { margin: 1.5mm 0 0; padding-left: 4mm; font-size: 7pt; line-height: 1.15; }
footer { font-size: 7pt; line-height: 1.1; margin-top: .8mm; }
tr.name { display: none; }
.tick { display: inline-block; width: 3mm; height: 3mm; border: .25mm solid #111; vertical-align: middle; }
"""

_ON_A6 = 2
"""Sentences on what to look for that an A6 holds beside twelve frames."""


def checklist(roll: Roll, facts: Mapping[str, str], name: str, *, small: bool) -> str:
    """Return the checklist of a roll as a page that loads nothing.

    Args:
        roll: the roll.
        facts: title, film and process, as the record has them.
        name: of the roll's files, without an ending.
        small: True for A6.
    """
    title = esc(facts["title"])
    shown = {
        "film": facts["film"], "process": facts["process"], "date": "",
        "meter, and what it read": "", "light": "", "judged by, and how shown": "",
    }  # fmt: skip
    kept = ("film", "date") if small else tuple(shown)
    rows = "".join(f"<div><dt>{esc(fact)}</dt><dd>{esc(shown[fact])}</dd></div>" for fact in kept)
    heading = f"<header><h1>{title}</h1><p>{len(roll.frames)} frames</p></header>"
    sentences = list(looks(roll))[:_ON_A6] if small else [*missed_settings(roll), *looks(roll)]
    body = (
        f"{f'<h1>{title}</h1>' if small else heading}<dl>{rows}</dl>{_table(roll, small=small)}"
        f"<ol>{''.join(f'<li>{esc(text)}</li>' for text in sentences)}</ol>"
        f"<footer>One judgement to a frame, into the column judgement of {esc(name)}.csv: {', '.join(JUDGEMENTS)}."
        f" Leave a frame that was not judged empty. Then: curves ei {esc(name)}.toml<br>"
        f"{esc(SUN if small else ' '.join(cautions()))}</footer>"
    )
    body = body if small else f'<section class="sheet" tabindex="0">{body}</section>'
    style = CARD_STYLE + _A6 if small else SHEET_STYLE + _A4
    return (
        f'<!DOCTYPE html>\n{MARKER}\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">\n"
        f"<title>{title}: checklist</title>\n<style>{style}</style>\n</head>\n<body>\n"
        f"<main>{body}</main>\n</body>\n</html>\n"
    )


def _table(roll: Roll, *, small: bool) -> str:
    """Return the frames as a table with a box for each judgement; on A6 without stops and notes."""
    names = ["frame"]
    names += ["stack", "hand-held EI", "EI through"] if roll.filtered else ["EI"]
    names += [*([] if small else ["stops"]), *(["set"] if roll.camera is not None else []), *JUDGEMENTS]
    names += [] if small else ["notes"]
    head = "".join(f'<th class="{_kind(name)}">{esc(name)}</th>' for name in names)
    firsts = {bracket.frames[0].number for bracket in roll.brackets}
    names_of = {frame.number: stack_name(b) for b in roll.brackets for frame in b.frames}
    group = ' class="group"'
    rows = "".join(
        f"{_name_row(names_of[frame.number], len(names)) if roll.filtered and frame.number in firsts else ''}"
        f"<tr{group if frame.number in firsts else ''}>"
        f"{''.join(_cell(roll, frame, name, names_of[frame.number]) for name in names)}</tr>"
        for frame in roll.frames
    )
    return f"<table><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>"


def _name_row(stack: str, columns: int) -> str:
    """Return the row of a stack's name: a phone shows it in place of the column."""
    return f'<tr class="name"><td colspan="{columns}">{esc(stack)}</td></tr>'


def _kind(name: str) -> str:
    """Return the class of a column."""
    if name in JUDGEMENTS:
        return "box"
    return name if name in ("stack", "notes", "set") else "number"


def _cell(roll: Roll, frame: RollFrame, name: str, stack: str) -> str:
    """Return one cell of a frame's row."""
    if name in JUDGEMENTS:
        return '<td class="box"><span class="tick"></span></td>'
    content = {
        "frame": f"{frame.number}",
        "stack": stack,
        "EI": f"{frame.hand_held:g}",
        "hand-held EI": f"{frame.hand_held:g}",
        "EI through": f"{frame.through:g}",
        "stops": minus(thirds_of(frame.thirds)),
        "set": setting(roll, frame),
        "notes": "",
    }[name]
    return f'<td class="{_kind(name)}">{esc(content)}</td>'
