"""The card to put into the camera bag: what to set, for which meter, with which filters, and the bracket to shoot."""

from __future__ import annotations

from collections.abc import Mapping

from curves.sensitometry.analysis.slide import trial
from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import degrees, exact_ei, nominal_speed
from curves.sensitometry.measures import points
from curves.sensitometry.measures.table import ChannelCurves
from curves.sensitometry.uncertainty.results import Analysis
from curves.views.page.frame import MARKER
from curves.views.page.tables import esc, minus
from curves.views.words import digits
from curves.views.words.answers import range_words, side_words
from curves.views.words.meters import meters_of

CARD_STYLE = """
@page { size: 105mm 148mm; margin: 6mm; }
* { box-sizing: border-box; }
html { font: 9pt/1.3 system-ui, sans-serif; color: #111; background: #fff; overflow-wrap: anywhere; }
body { margin: 0; }
h1 { font-size: 11pt; margin: 0 0 1mm; }
.index { font: 600 30pt/1.1 Georgia, serif; margin: 0; border-top: .5mm solid #111; padding-top: 1mm; }
.index small { font-size: 10pt; font-weight: normal; }
dl { margin: 2mm 0 0; }
div { display: grid; grid-template-columns: 19mm 1fr; gap: 2mm; border-top: .2mm solid #999; padding: .7mm 0; }
dt { color: #444; }
dd { margin: 0; }
table { border-collapse: collapse; margin-top: .5mm; }
th, td { border: .2mm solid #777; padding: .5mm 2.5mm; text-align: center; font-weight: normal; }
footer { font-size: 7.5pt; color: #444; margin-top: 1.5mm; }
@media (forced-colors: active) { html, dt, footer { color: CanvasText; } }
@media screen { body { width: 105mm; max-width: 100%; min-height: 148mm; } }
@media screen { body { padding: 6mm; margin: 6mm auto; border: 1px solid #999; } }
"""

_LONGEST = 80
"""Characters of a text that a card holds; a longer one ends in dots."""


def card(analysis: Analysis, record: str) -> str:
    """Return the card of one strip as a page of A6.

    Args:
        analysis: results of the strip.
        record: name of the record that the strip was read from.
    """
    strip, ei = analysis.strip, analysis.working_ei
    index = f"EI {ei.nominal:g}" if ei.nominal is not None else f"EI {side_words(ei)}"
    before = f" <small>{esc(minus(digits.show(ei.recommended)))} before rounding</small>" if ei.nominal else ""
    facts = {
        "film": _short(strip.film) or "not given",
        "process": _short(strip.process) or "not given",
        "meter": meters_of(analysis),
        "filters": _short(" + ".join(used.name for used in strip.filters)) or "none",
        "usable": range_words(ei),
        "goes first": first_lost(analysis),
        "tested": "date not given" if strip.date is None else strip.date.isoformat(),
    }
    rows = "".join(f"<div><dt>{name}</dt><dd>{esc(fact)}</dd></div>" for name, fact in facts.items())
    return (
        f'<!DOCTYPE html>\n{MARKER}\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">\n"
        f"<title>{esc(strip.title)}: card</title>\n<style>{CARD_STYLE}</style>\n</head>\n<body>\n"
        f'<main><h1>{esc(_short(strip.title))}</h1><p class="index">{esc(index)}{before}</p>'
        f"<dl>{rows}<div><dt>bracket</dt><dd>{_bracket_table(analysis)}</dd></div></dl>"
        f"<footer>Intervals are 95 %. From {esc(_short(record))}.</footer></main>\n</body>\n</html>\n"
    )


def bracket(recommended: Quantity, nominal: float) -> list[tuple[float, int]]:
    """Return the indexes to shoot, rising: the one to set, and the ends of its interval on the dial.

    Args:
        recommended: the index before rounding, with its interval [unitless].
        nominal: the index to set.

    Returns:
        Each index with the exposure that it gives beyond the index to set [thirds of a stop].
    """
    ends = [nominal_speed(x) for x in (recommended.low, recommended.high) if x is not None]
    at_set = degrees(float(exact_ei(nominal)))
    return [(ei, at_set - degrees(float(exact_ei(ei)))) for ei in sorted({nominal, *ends})]


def first_lost(analysis: Analysis) -> str:
    """Return in words the tone that goes first at the index to set, and the stops that it has to spare there."""
    ei, metering, choices = analysis.working_ei, analysis.strip.metering, analysis.choices
    if ei.nominal is None:
        return "not known without an index"
    ensemble = analysis.channels[ei.channel].ensemble
    judged = ChannelCurves(ensemble, points.dmin(ensemble), points.dmax(ensemble), choices)
    lost = trial(judged, ei.criteria, float(exact_ei(ei.nominal)), metering, choices).lost
    known = {tone: stops for tone, stops in lost.items() if stops.value is not None}
    if not known:
        return "not shown by this strip"
    tone = max(known, key=lambda name: known[name].value or 0.0)
    spare = -known[tone]
    assert spare.value is not None
    away = "stops to spare" if spare.value >= 0.0 else "stops: it is lost already"
    unknown = [name for name in ("white", "shadow") if name not in known]
    others = unknown if analysis.strip.kind == "reversal" else []
    return (
        f"{tone}, with {minus(digits.value_and_interval(spare, 1))} {away}{''.join(_hidden(n, lost) for n in others)}"
    )


def _hidden(tone: str, lost: Mapping[str, Quantity]) -> str:
    """Return in words the stops of a tone whose end the strip does not reach."""
    bound = lost[tone].bound if tone in lost else None
    if bound is not None and bound[0] == "<" and bound[1] <= 0.0:
        return f"; {tone} has {-bound[1]:.1f} stops or more"
    return f"; of {tone} the strip does not show it"


def _bracket_table(analysis: Analysis) -> str:
    ei = analysis.working_ei
    if ei.nominal is None:
        return "no index to bracket"
    frames = bracket(ei.recommended, ei.nominal)
    heads = "".join(f"<th>{f'<b>{index:g}</b>' if not thirds else f'{index:g}'}</th>" for index, thirds in frames)
    cells = "".join(f"<td>{thirds_of(thirds)}</td>" for _, thirds in frames)
    return f"<table><tr><th>EI</th>{heads}</tr><tr><th>stops</th>{cells}</tr></table>"


def thirds_of(count: int) -> str:
    """Return thirds of a stop as a camera shows them: "+1 1/3", "−2/3", "0"."""
    whole, rest = divmod(abs(count), 3)
    parts = [str(whole)] if whole or not rest else []
    return ("" if not count else "+" if count > 0 else "−") + " ".join([*parts, *([f"{rest}/3"] if rest else [])])


def _short(text: str) -> str:
    return text if len(text) <= _LONGEST else f"{text[: _LONGEST - 3]}..."
