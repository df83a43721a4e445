"""The page of strips, in the order in which a tester asks: what to set, does it clear, how sure is it, and proof."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from curves.sensitometry.analysis.index_words import stops_longer
from curves.sensitometry.core.choices import Choices
from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import LAYERS, STOP, two_digits
from curves.sensitometry.strip.exposure import NO_ORIGIN, Camera, Contact
from curves.sensitometry.strip.strip import Strip
from curves.sensitometry.uncertainty.results import Analysis, BaseState, LayerSpread, WorkingEI
from curves.views.page import tables
from curves.views.page.axes import scene
from curves.views.page.figures import curve_figure, figures
from curves.views.page.frame import assemble_page
from curves.views.page.ruler import ei_scale
from curves.views.page.svg import drawing_of
from curves.views.page.tables import Reasons, budget_bars, esc, minus, minus_in
from curves.views.pages import method
from curves.views.placing.controls import SCRIPTS, placing_controls
from curves.views.words import digits
from curves.views.words.answers import budget_sentence, cast_words, doubts, judged_words
from curves.views.words.meters import match_words, meter_words


def strip_sections(analysis: Analysis, choices: Choices, anchor: str, *, level: int = 1, record: str = "") -> str:
    """Return one strip's part of the page as HTML.

    Args:
        analysis: results of the strip.
        choices: the choices that the results rest on.
        anchor: id of the part; the ids within it begin with ``anchor``.
        level: level of the part's heading; the headings of its sections are one deeper.
        record: name of the file that the strip was read from; empty if there is none.
    """
    reasons = Reasons(f"{anchor}-why")
    base = analysis.working_ei.base
    contents = {
        "answer": ("What to set the meter to", _answer(analysis)),
        "curves": ("The curves", _key(analysis, anchor) + _curve(analysis, choices, anchor)),
        "clearing": ("Does the film clear?", "" if base is None else _clearing(base)),
        "sure": ("How sure is this?", _sureness(analysis, reasons)),
        "behind": ("Behind the curves", _details(analysis, anchor)),
        "numbers": ("The numbers", _numbers(analysis, reasons)),
        "missing": ("Why some numbers are missing", reasons.listed()),
        "method": ("How it was found", method.method(analysis, choices)),
        "about": ("What this rests on", tables.facts_list(analysis, _exposed(analysis.strip), record)),
        "notes": ("Notes", f"<p>{esc(analysis.strip.notes)}</p>" if analysis.strip.notes else ""),
    }
    sections = {
        name: _section(level + 1, title, content, name, anchor) if content else ""
        for name, (title, content) in contents.items()
    }
    links = "".join(
        f'<a href="#{anchor}-{name}">{esc(title)}</a>' for name, (title, content) in contents.items() if content
    )
    nav = f'<nav class="parts" aria-label="Parts of the report">{links}</nav>'
    first = "".join(sections.pop(name) for name in ("answer", "curves"))
    pair = f'<div class="pair">{sections.pop("clearing")}{sections.pop("sure")}</div>'
    steps = f'<details class="steps"><summary>Every step</summary>{tables.steps_table(analysis)}</details>'
    return (
        f'<article id="{anchor}"><div class="sheet">{_header(analysis, level)}{first}{nav}{pair}</div>'
        f'<div class="sheet">{"".join(sections.values())}</div>{steps}</article>'
    )


def _numbers(analysis: Analysis, reasons: Reasons) -> str:
    """Return the tables of all numbers, as HTML."""
    return "".join(
        [
            tables.criteria_table(analysis, reasons),
            tables.speeds_table(analysis, reasons) if analysis.speeds else "",
            tables.measures_table(analysis, reasons),
            tables.points_table(analysis, reasons),
            tables.meanings(analysis),
        ]
    )


def _section(level: int, title: str, content: str, name: str, anchor: str) -> str:
    return f'<section class="{name}" id="{anchor}-{name}"><h{level}>{esc(title)}</h{level}>{content}</section>\n'


def _header(analysis: Analysis, level: int) -> str:
    strip = analysis.strip
    facts = [
        strip.film if strip.film and strip.film not in strip.title else "",
        strip.process if strip.process and strip.process not in strip.title else "",
        strip.date.isoformat() if strip.date else "",
        f"{strip.kind}, {strip.density}{'' if strip.density == 'visual' else ' densities'}{match_words(strip)}",
        f"{max(len(f.steps) for f in analysis.channels.values())} steps, {_exposed(strip)}",
    ]
    words = " · ".join(esc(fact) for fact in facts if fact)
    return f'<header><h{level}>{esc(strip.title)}</h{level}><p class="facts">{words}</p></header>\n'


def _exposed(strip: Strip) -> str:
    exposure = strip.exposure
    if isinstance(exposure, Contact):
        if exposure.lux is not None and exposure.seconds is not None:
            return f"in contact under {exposure.lux:g} lux for {exposure.seconds:g} s"
        frame = exposure.grey_frame
        known = "" if frame is None else f", placed by one grey frame metered at EI {frame.ei:g}"
        return f"in contact under a light that was not measured{known}"
    if isinstance(exposure, Camera):
        return f"photographed at EI {exposure.ei:g}, metered on step {exposure.metered_step}"
    if exposure.ei is not None:
        return f"exposed with the meter at EI {exposure.ei:g}"
    return f"exposures given {'in lux-seconds' if exposure.unit == 'lux-seconds' else 'as relative log H'}"


def _answer(analysis: Analysis) -> str:
    ei = analysis.working_ei
    meter = ""
    if ei.nominal is not None:
        meter = f'<p class="before">{esc(meter_words(analysis))}</p>' if analysis.strip.filters else ""
        number = f'<p class="index"><span>EI</span> <strong>{ei.nominal:g}</strong></p>'
        before = f"Before rounding {minus(digits.show(ei.recommended))}."
    else:
        number = f'<p class="index none"><span>EI</span> <strong>{esc(digits.value(ei.recommended))}</strong></p>'
        relative = analysis.strip.log_h_unit == "relative"
        missing = "Log H is relative: no index" if relative else "This strip does not show the index"
        before = f"{missing}: see what to do next." if ei.advice else f"{missing}."
    advice = "".join(f"<li>{esc(sentence)}</li>" for sentence in ei.advice)
    return (
        f'<div class="number">{number}<p class="before">{esc(before)}</p>{meter}</div>'
        f'<div class="words">{_doubts(analysis)}{_cast(ei)}<p class="range">{_range(ei)}</p><p>{esc(ei.reason)}</p>'
        f"{_placements(ei)}"
        + (f'<p class="next">Next:</p><ul>{advice}</ul>' if advice else "")
        + f"</div>{ei_scale(ei)}"
    )


def _doubts(analysis: Analysis) -> str:
    """Return the doubts about every number as HTML; they come before all else."""
    return "".join(f'<p class="cast"><b>{esc(minus_in(d.message))}</b></p>' for d in doubts(analysis.warnings))


def _cast(ei: WorkingEI) -> str:
    """Return the colour of white as HTML, where the layers lie so far apart that it comes before all else."""
    cast = cast_words(ei)
    return "" if cast is None else f'<p class="cast"><b>{esc(cast)}</b> Find filters first: curves filters.</p>'


def _range(ei: WorkingEI) -> str:
    """Return the usable range of indexes and the reason for each end, as HTML."""
    if ei.shortfall is not None:
        hardly = "Hardly any index keeps" if ei.hardly_a_range else "No index keeps"
        return (
            f"<b>{hardly} both ends of the scene</b>: the scene is {stops_longer(ei.shortfall)} longer than the"
            " film holds."
        )
    low, high = (None if end.value is None else two_digits(end.value) for end in ei.range)
    if low is None and high is None:
        why = ei.recommended.why if ei.recommended.why == NO_ORIGIN else "this strip reaches neither of its ends"
        return f"<b>The usable range is not known</b>: {why}."
    if low is None:
        words = f"Usable up to {high}; the lowest usable index is not known."
    elif high is None:
        words = f"Usable from {low} up; the highest usable index is not known."
    elif ei.basis == "speed point":
        # A negative's index is the low end itself, before it is rounded.
        words = f"Usable up to {high}."
    else:
        words = f"Usable from {low} to {high}{', hardly a range' if ei.hardly_a_range else ''}."
    ends = " ".join(
        f"{_sentence(why)}." for end, why in zip(ei.range, ei.range_why, strict=True) if end.value is not None
    )
    return f"<b>{words}</b> {esc(ends)}"


def _placements(ei: WorkingEI) -> str:
    """Return the placements of white, grey and shadow at the index to set, as HTML; nothing without an index."""
    if not ei.placements or ei.nominal is None:
        return ""
    rows = "".join(
        f"<dt>{name}</dt><dd><b>{tone.state}</b>, density {esc(minus(digits.value(tone.density, 2)))}"
        f"{_interval(tone.density)}</dd>"
        for name, tone in ei.placements.items()
    )
    return f'<div class="placements"><p>At EI {ei.nominal:g} the scene lands on:</p><dl>{rows}</dl></div>'


def _clearing(base: BaseState) -> str:
    answer = {True: "Yes.", False: "No.", None: "This strip does not show it."}[base.clears]
    parts = [f"<b>{answer}</b>"]
    if base.white_percent is not None:
        parts.append(f"The clearest part passes {base.white_percent:.0f} % of the light of an open gate.")
    rows = "".join(
        f"<dt>{name}</dt><dd>{esc(minus(digits.value(q, 2)))}{_interval(q)}</dd>"
        for name, q in (("Dmin", base.dmin), ("base", base.base), ("veil", base.veil))
    )
    if base.veil_stops is not None and base.veil_stops >= STOP * 0.1:
        parts.append(f"The veil alone takes {base.veil_stops:.1f} stops of light from the screen.")
    white = "".join(
        f"<dt>{channel}</dt><dd>{esc(digits.value(q, 1))} %{_interval(q, 1)}</dd>"
        for channel, q in base.white_point.items()
    )
    return (
        f"<p>{' '.join(parts)}</p><dl>{rows}</dl>"
        f'<p class="white-point">White point for a scan, as a share of the open gate:</p><dl>{white}</dl>'
    )


def _interval(q: Quantity, most: int = 2) -> str:
    ends = minus(digits.interval(q, most))
    return f' <span class="interval">{esc(ends)}</span>' if ends else ""


def _sureness(analysis: Analysis, reasons: Reasons) -> str:
    ei = analysis.working_ei
    parts = []
    if (stops := digits.half_width_stops(ei.recommended)) is not None:
        parts.append(f"<p>The index is known to <b>{stops}</b> (95 %).</p>")
    if (judged := judged_words(ei)) is not None:
        parts.append(f"<p>Judged: {esc(minus_in(judged))}</p>")
    if ei.budget is not None:
        parts.append(f"<p>{esc(budget_sentence(ei.budget))}</p>")
        parts.append(
            f'<details class="bars"><summary>Every source of error</summary>{budget_bars(ei.budget)}</details>'
        )
    if ei.layers is not None:
        parts.append(_layers(ei.layers, reasons))
    if analysis.warnings:
        items = "".join(f"<li>{esc(minus_in(notice.message))}</li>" for notice in analysis.warnings)
        parts.append(f'<ul class="warnings">{items}</ul>')
    return "".join(parts)


def _layers(layers: LayerSpread, reasons: Reasons) -> str:
    last = f" The {layers.last_to_clear} layer clears last." if layers.last_to_clear else ""
    t, s = (tables.quantity(q, 1, reasons) for q in (layers.t_stops, layers.s_stops))
    return f"<p>Stops between the layers: in the highlights (T) {t}, in the shadows (S) {s}.{last}</p>"


def _key(analysis: Analysis, anchor: str) -> str:
    """Return the key of the channels; each entry is a button that hides its channel in all figures."""
    buttons = "".join(
        f'<button type="button" aria-pressed="true" data-strip="{anchor}" data-channel="{channel}">'
        f"{tables.swatch(channel)} {esc(tables.channel_name(found))}</button>"
        for channel, found in analysis.channels.items()
    )
    return f'<div class="key" role="group" aria-label="Channels shown">{buttons}</div>'


def _curve(analysis: Analysis, choices: Choices, anchor: str) -> str:
    judged = analysis.channels[analysis.working_ei.channel]
    here = scene(analysis, choices)
    aside = any(step.flag for found in analysis.channels.values() for step in found.steps)
    caption = (
        f"Marks are readings{', large open marks readings set aside' if aside else ''}; shading is the 95 % interval of"
        " the curve; the thick part of a curve is its straight-line part."
    )
    if points := [esc(name) for name, p in judged.points.items() if p.log_h.value is not None]:
        caption += f" Rings: {', '.join(points)} with their intervals, lettered for {judged.channel}."
    if levels := [name for name in ("Dmin", "base") if judged.measures[name.lower()].value is not None]:
        caption += f" Level lines: {' and '.join(levels)}, {judged.channel}."
    if here.tones:
        caption += " Dotted: shadow, grey and white of the scene at the index to set."
    if here.zero is None:
        caption += " Without an index mid-grey has no place on log H, so there is no scale of stops."
    text = f"Density against log H. {_in_words(analysis)}"
    caption += '<span class="scale-stated"></span>'
    still = f'<div class="still">{drawing_of(curve_figure(analysis, here), text)}</div>'
    figure = _figure(f"{anchor}-curve", "curve", text, caption).replace("<figure>", f"<figure>{still}", 1)
    return f'<div class="bench">{figure}{placing_controls(analysis, anchor)}</div>'


def _in_words(analysis: Analysis) -> str:
    """Return the curves in words, for readers who cannot see the figure."""
    found = []
    for channel, finding in analysis.channels.items():
        curve = finding.curve
        gamma = digits.value(finding.measures["gamma"], 2)
        found.append(
            f"{channel}: from {curve.grid_density[0]:.2f} at log H {curve.grid[0]:.2f} to"
            f" {curve.grid_density[-1]:.2f} at {curve.grid[-1]:.2f}, gamma {gamma}"
        )
    return "; ".join(found) + "."


def _details(analysis: Analysis, anchor: str) -> str:
    drawn = [
        _figure(
            f"{anchor}-gradient",
            "small",
            "Local gradient of each curve against log H, counted positive.",
            "Local gradient, counted positive. Where the gradient nears zero, tones merge.",
        ),
        _figure(
            f"{anchor}-residual",
            "small",
            "Reading less curve for every step against log H.",
            "Reading less curve; a step beyond the scale is drawn at its edge. A pattern in place of scatter would mean"
            " that the curve is wrong.",
        ),
    ]
    if all(layer in analysis.channels for layer in LAYERS):
        if analysis.strip.kind == "reversal":
            cast = "More red density looks cyan, more green magenta, more blue yellow"
        else:
            cast = "Densities above each layer's own lowest"
        drawn.append(
            _figure(
                f"{anchor}-layers",
                "small",
                "Each layer's density less the mean of the three, against log H.",
                f"Each layer less the mean of the three. {cast}; one filter moves each line as a whole: what it"
                " cannot mend is lines that are not parallel.",
            )
        )
    return f'<div class="figures">{"".join(drawn)}</div>'


def _figure(name: str, size: str, text: str, caption: str) -> str:
    return (
        f'<figure><div class="plot {size}" id="{name}" role="group" aria-label="{esc(minus_in(text))}"></div>'
        f"<figcaption>{caption}</figcaption></figure>"
    )


def _sentence(clause: str) -> str:
    return clause[:1].upper() + clause[1:]


def report_page(
    analyses: Sequence[Analysis],
    *,
    choices: Choices | None = None,
    plotly: Literal["inline", "beside"] = "inline",
    records: Sequence[str] = (),
) -> str:
    """Return the page of one or more strips; the same results give the same page, to the letter.

    Args:
        analyses: results, one for each strip, at least one.
        choices: the choices that the analyses rest on; the defaults if None.
        plotly: "inline" puts the plotting library (about 5 MB) into the page; "beside" expects it next to the page in
            a file named `PLOTLY_BESIDE`.
        records: names of the files that the strips were read from, one for each; empty if there are none.
    """
    several = len(analyses) > 1
    drawings: list[dict[str, object]] = []
    articles = []
    for number, analysis in enumerate(analyses, start=1):
        anchor = f"strip-{number}"
        rests_on = choices or Choices()
        drawn = figures(analysis, rests_on)
        drawings += [{"id": f"{anchor}-{name}", "strip": anchor, **figure} for name, figure in drawn.items()]
        record = records[number - 1] if records else ""
        articles.append(strip_sections(analysis, rests_on, anchor, level=2 if several else 1, record=record))
    title = f"{len(analyses)} strips" if several else analyses[0].strip.title
    body = (_contents(analyses) if several else "") + "\n".join(articles)
    return assemble_page(title, body, drawings, plotly=plotly, scripts=SCRIPTS)


def _contents(analyses: Sequence[Analysis]) -> str:
    """Return the heading and the answers of several strips, each with a link to the strip's part of the page."""
    items = []
    for number, analysis in enumerate(analyses, start=1):
        nominal = analysis.working_ei.nominal
        answer = "no index yet" if nominal is None else f"EI {nominal:g}"
        items.append(f'<li><a href="#strip-{number}">{esc(analysis.strip.title)}</a>: <b>{answer}</b></li>')
    return f'<header class="contents"><h1>{len(analyses)} strips</h1><ol>{"".join(items)}</ol></header>'
