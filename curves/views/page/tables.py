"""The tables of a strip's page, as HTML. A missing number shows its bound and a letter; each reason is listed once."""

from __future__ import annotations

import html
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import curves
from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.reader_units import READER_WORDS
from curves.sensitometry.core.units import Channel
from curves.sensitometry.measures.table import measures_of
from curves.sensitometry.uncertainty.budget import Budget, BudgetLine
from curves.sensitometry.uncertainty.results import Analysis, ChannelFinding, Point, Speed, StepFinding
from curves.views.page.axes import STYLES, Style
from curves.views.words import digits
from curves.views.words.answers import budget_lines
from curves.views.words.meters import basis_name, match_words

_MARKS = {"square": "M9 2h8v8H9z", "triangle-up": "M13 1l5 9H8z", "diamond": "M13 1l5 5-5 5-5-5z",
          "circle": "M9 6a4 4 0 1 0 8 0a4 4 0 1 0-8 0z"}  # fmt: skip


def esc(text: str) -> str:
    """Return text escaped for HTML content and attributes."""
    return html.escape(text, quote=True)


def minus(text: str) -> str:
    """Return digits with a minus sign in place of each hyphen."""
    return text.replace("-", "−")


def minus_in(sentence: str) -> str:
    """Return a sentence with minus signs before digits in place of hyphens; hyphens of words and dates stay."""
    return re.sub(r"(?<![\w.])-(?=\d)", "−", sentence)


@dataclass
class Reasons:
    """The reasons for missing numbers: each reason once, by letter, in the order in which `mark` meets them.

    Attributes:
        anchor: beginning of the ids of the reasons on the page.
    """

    anchor: str
    _found: dict[str, str] = field(default_factory=dict, init=False)

    def mark(self, why: str) -> str:
        """Return the raised letter that leads to a reason."""
        letter = self._found.setdefault(why, _letter(len(self._found)))
        return f'<sup><a href="#{self.anchor}-{letter}">{letter}</a></sup>'

    def listed(self) -> str:
        """Return the reasons as a list, HTML; an empty text if there are none."""
        items = "".join(
            f'<li id="{self.anchor}-{letter}"><b>{letter}</b> {esc(why)}.</li>' for why, letter in self._found.items()
        )
        return f'<ul class="reasons">{items}</ul>' if items else ""


def quantity(q: Quantity, most_digits: int | None, reasons: Reasons) -> str:
    """Return a quantity as HTML: the number, and its interval or the letter of the reason for its absence."""
    text = f"<b>{esc(minus(digits.value(q, most_digits)))}</b>"
    if q.value is None:
        return text + (reasons.mark(q.why) if q.why else "")
    ends = minus(digits.interval(q, most_digits))
    return f'{text} <span class="interval">{esc(ends)}</span>' if ends else text


def swatch(channel: Channel) -> str:
    """Return a sample of a channel's line and marker for a key, as SVG."""
    return style_swatch(STYLES[channel])


def style_swatch(style: Style) -> str:
    """Return a sample of a line and its marker for a key, as SVG."""
    dash = f' stroke-dasharray="{style.dash.replace("px", "")}"' if style.dash else ""
    return (
        f'<svg class="swatch" aria-hidden="true">'
        f'<path d="M0 6H26" stroke="{style.colour}"{dash}/>'
        f'<path d="{_MARKS[style.marker]}" fill="{style.colour}"/></svg>'
    )


def measures_table(analysis: Analysis, reasons: Reasons) -> str:
    """Return the measures of every channel, one row for each measure."""
    rows = []
    for measure in measures_of(analysis.strip.kind):
        found = [f.measures[measure.key] for f in analysis.channels.values()]
        shared, own = _notes([q.note for q in found])
        name = esc(measure.label) + (f' <span class="unit">[{esc(measure.unit)}]</span>' if measure.unit else "")
        cells = [quantity(q, measure.digits, reasons) + note for q, note in zip(found, own, strict=True)]
        rows.append((f"{name}{shared}", cells))
    return _table("Measures of each channel", ["Measure", *_heads(analysis)], rows)


def meanings(analysis: Analysis) -> str:
    """Return the definition of each measure, folded away."""
    items = "".join(
        f"<dt>{esc(measure.label)}</dt><dd>{esc(measure.what)}</dd>" for measure in measures_of(analysis.strip.kind)
    )
    return f'<details class="meanings"><summary>What the measures are</summary><dl>{items}</dl></details>'


def points_table(analysis: Analysis, reasons: Reasons) -> str:
    """Return the points of every channel: log H and density of each point."""
    rows = []
    for name in dict.fromkeys(name for f in analysis.channels.values() for name in f.points):
        points = [f.points.get(name) for f in analysis.channels.values()]
        shared, own = _notes([None if p is None else p.meaning for p in points])
        cells = ["" if p is None else _point(p, reasons) + note for p, note in zip(points, own, strict=True)]
        rows.append((f"<b>{esc(name)}</b>{shared}", cells))
    return _table("Points: log H and density", ["Point", *_heads(analysis)], rows)


def criteria_table(analysis: Analysis, reasons: Reasons) -> str:
    """Return the exposure index that each scene tone asks for."""
    ei = analysis.working_ei
    rows = [
        (
            f"<b>{esc(name)}</b>{' <span class=chosen>decides</span>' if name == ei.basis else ''}"
            f'<small class="note">{esc(criterion.meaning)}</small>',
            [quantity(criterion.ei, None, reasons), quantity(criterion.log_h, 2, reasons)],
        )
        for name, criterion in ei.criteria.items()
    ]
    return _table(
        f"What each scene tone asks for; decided by {basis_name(ei.basis)}", ["Criterion", "EI", "at log H"], rows
    )


def speeds_table(analysis: Analysis, reasons: Reasons) -> str:
    """Return the speeds by the standards' rules, with every reason why a speed may not bear the standard's name."""
    rows = []
    for name, speed in analysis.speeds.items():
        rounded = "" if speed.nominal is None else f"{speed.nominal:g}/{speed.degrees}°"
        rows.append(
            (
                f"<b>{esc(digits.speed_name(name))}</b>"
                f'<small class="note">{esc(speed.channel)}; {esc(speed.branch)}</small>',
                [rounded, quantity(speed.value, None, reasons), _conforms(speed)],
            )
        )
    heads = ["Rule", "Rounded", "Speed", "Held to the standard"]
    return _table("Speeds by the rules of standards", heads, rows, last_is_text=True)


def steps_table(analysis: Analysis) -> str:
    """Return every step of every channel: density, residual, the flag of a step set aside, and the remark."""
    by_step: dict[int, dict[Channel, StepFinding]] = {}
    for channel, found in analysis.channels.items():
        for step in found.steps:
            by_step.setdefault(step.step, {})[channel] = step
    rows = []
    for number, steps in sorted(by_step.items()):
        first = next(iter(steps.values()))
        label = f'{number} <small class="note">{esc(first.label)}</small>' if str(number) not in first.label else number
        shown = {c: _shown(analysis, c, steps.get(c)) for c in analysis.channels}
        cells = [minus(f"{first.log_h:.2f}"), *(_step(steps.get(c)) + shown[c] for c in analysis.channels)]
        rows.append((f"{label}", cells))
    unit = analysis.strip.read_as.unit
    came = "" if unit == "density" else f"; below it, as read: {READER_WORDS[unit]}"
    return _table(f"Every step: density, and reading less curve{came}", ["Step", "log H", *_heads(analysis)], rows)


def _shown(analysis: Analysis, channel: Channel, step: StepFinding | None) -> str:
    """Return the reading of a meter at a step as HTML; empty for a densitometer and for an estimated channel."""
    strip = analysis.strip
    if step is None or not strip.read_as.by_meter or analysis.channels[channel].estimated:
        return ""
    return f'<small class="note">{strip.read_as.reading_text(step.density * (strip.callier or 1.0))}</small>'


def channel_name(found: ChannelFinding) -> str:
    """Return a channel's name, marked where it was computed from the layers."""
    return f"{found.channel} (estimated)" if found.estimated else found.channel


def _table(
    caption: str, heads: Sequence[str], rows: Iterable[tuple[str, Sequence[str]]], *, last_is_text: bool = False
) -> str:
    """Return a table that scrolls where it is too wide; ``heads``, row names and cells are HTML already."""
    head = "".join(f'<th scope="col">{h}</th>' for h in heads)
    body = []
    for name, cells in rows:
        last = len(cells) - 1
        tds = "".join(
            f'<td class="words">{c}</td>' if last_is_text and i == last else f"<td>{c}</td>"
            for i, c in enumerate(cells)
        )
        body.append(f'<tr><th scope="row">{name}</th>{tds}</tr>')
    return (
        f'<div class="wide" role="region" tabindex="0" aria-label="{esc(caption)}"><table><caption>{esc(caption)}'
        f"</caption><thead><tr>{head}</tr></thead><tbody>{''.join(body)}</tbody></table></div>"
    )


def _heads(analysis: Analysis) -> list[str]:
    return [f"{swatch(c)} {esc(channel_name(f))}" for c, f in analysis.channels.items()]


def _notes(notes: Sequence[str | None]) -> tuple[str, list[str]]:
    """Return the note that all cells share, for the row's name, and each cell's own note where they differ."""
    different = set(notes)
    if len(different) == 1:
        return _note(notes[0]), [""] * len(notes)
    return "", [_note(note) for note in notes]


def _note(note: str | None) -> str:
    return f'<small class="note">{esc(minus(note) if "log H" in note else note)}</small>' if note else ""


def _point(point: Point, reasons: Reasons) -> str:
    density = "" if point.density is None else f'<small class="note">density {point.density:.2f}</small>'
    return quantity(point.log_h, 2, reasons) + density


def _conforms(speed: Speed) -> str:
    if speed.conforms is None:
        return "no standard defines this speed"
    if speed.conforms:
        return "the readings meet the standard; only you know whether light and processing met it too"
    return "no: " + esc("; ".join(speed.why_not)) if speed.why_not else "no"


def _step(step: StepFinding | None) -> str:
    if step is None:
        return '<span class="interval">not read</span>'
    times = f" × {step.repeats}" if step.repeats > 1 else ""
    flag = f'<small class="note aside">{esc(step.flag)}</small>' if step.flag else ""
    note = f'<small class="note">{esc(step.remark)}</small>' if step.remark else ""
    return (
        f"<b>{minus(f'{step.density:.2f}')}</b>{times}"
        f' <span class="interval">{minus(digits.signed(step.residual, 3))}</span>{flag}{note}'
    )


def _letter(index: int) -> str:
    """Return the letter of a number from 0: a, b, ... z, aa, ab, ..."""
    head, tail = divmod(index, 26)
    return (_letter(head - 1) if head else "") + chr(ord("a") + tail)


def budget_bars(budget: Budget) -> str:
    """Return a budget as a table with a bar for each source, as HTML."""
    greatest = max(line.u for line in budget.lines)
    rows = "".join(
        f'<tr><th scope="row">{esc(line.name)}{_assumed_mark(line)}</th>'
        f'<td class="bar"><i style="width:{100 * line.u / greatest:.1f}%"></i></td>'
        f"<td>{line.u:.2f}</td><td>{100 * line.share:.0f} %</td></tr>"
        for line in budget_lines(budget)
    )
    unit = f" [{esc(budget.unit)}]" if budget.unit else ""
    return (
        f'<table class="budget"><caption>Standard uncertainty by source{unit}, and its share of the variance</caption>'
        f"<tbody>{rows}</tbody></table>"
    )


def _assumed_mark(line: BudgetLine) -> str:
    return ' <small class="note">assumed</small>' if line.assumed else ""


def facts_list(analysis: Analysis, light: str, record: str) -> str:
    """Return the facts that the results rest on as a list, HTML.

    Args:
        analysis: results of the strip.
        light: how the strip was exposed, in words.
        record: name of the file that the strip was read from; empty if there is none.
    """
    strip, wedge = analysis.strip, analysis.strip.wedge
    readings = sum(step.repeats for found in analysis.channels.values() if not found.estimated for step in found.steps)
    scatter = "" if strip.repeatability is None else f", repeatable to {strip.repeatability:g}"
    filters = ", ".join(f"{used.name} (metered {used.metered} it)" for used in strip.filters)
    facts = {
        "record": record,
        "date": "not given" if strip.date is None else strip.date.isoformat(),
        "readings": f"{readings} of {strip.density} density{match_words(strip)}{scatter}",
        "reader": strip.reader or "not given",
        "wedge": ""
        if wedge is None
        else f"{wedge.density.size} steps from {wedge.density[0]:.2f} to {wedge.density[-1]:.2f}, "
        + ("measured step by step" if wedge.calibrated else "nominal"),
        "light": light,
        "filters": filters or "none",
        "intervals": f"95 %, from {analysis.draws} draws, seed {analysis.choices.seed}",
        "made by": f"stepwedge-curves {curves.__version__}",
    }
    rows = "".join(f"<dt>{name}</dt><dd>{esc(fact)}</dd>" for name, fact in facts.items() if fact)
    return f"<dl>{rows}</dl>"
