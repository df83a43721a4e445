"""The page of a report: one HTML file that holds everything it needs and asks no network for anything."""

from __future__ import annotations

import datetime
import json
from collections.abc import Sequence
from importlib.resources import files
from string import Template
from typing import Literal

from curves.sensitometry.core.choices import Choices
from curves.sensitometry.uncertainty.results import Analysis
from curves.views.page.figures import figures
from curves.views.page.tables import esc
from curves.views.pages.report import strip_sections

MARKER = "<!-- made by stepwedge-curves -->"
"""Stands near the top of every page, so that the tool knows its own."""

PLOTLY_BESIDE = "plotly.min.js"
"""Name of the plotting library's file where it lies beside the pages; `plotly_library` is what it holds."""

_POLICY = (
    "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline';"
    " script-src 'unsafe-inline'; img-src data: blob:\">"
)


_NOSCRIPT = "<noscript><p>The figures need JavaScript; every number is in the tables.</p></noscript>"


def render_page(
    analyses: Sequence[Analysis],
    *,
    choices: Choices | None = None,
    plotly: Literal["inline", "beside"] = "inline",
    generated: datetime.date | None = None,
) -> str:
    """Return the page of one or more strips; the same findings give the same page, to the letter.

    Args:
        analyses: what was found, one for each strip, at least one.
        choices: the choices that the analyses rest on; the defaults if None.
        plotly: "inline" puts the plotting library (about 5 MB) into the page; "beside" expects it next to the page in
            a file named `PLOTLY_BESIDE`.
        generated: date to state at the foot of the page; none if None.
    """
    several = len(analyses) > 1
    drawings: list[dict[str, object]] = []
    articles = []
    for number, analysis in enumerate(analyses, start=1):
        anchor = f"strip-{number}"
        rests_on = choices or Choices(metered_exposure=analysis.metered_exposure)
        drawn = figures(analysis, rests_on)
        drawings += [{"id": f"{anchor}-{name}", "strip": anchor, **figure} for name, figure in drawn.items()]
        articles.append(strip_sections(analysis, rests_on, anchor, level=2 if several else 1))
    title = f"{len(analyses)} strips" if several else analyses[0].strip.title
    body = (_contents(analyses) if several else "") + "\n".join(articles)
    return assemble(title, body, drawings, plotly=plotly, generated=generated)


def assemble(
    title: str,
    body: str,
    drawings: Sequence[dict[str, object]],
    *,
    plotly: Literal["inline", "beside"] = "inline",
    generated: datetime.date | None = None,
    more_script: str = "",
) -> str:
    """Return a whole page around a body of HTML.

    Args:
        title: what to call it.
        body: its content.
        drawings: the figures, each with the ``id`` of its place in the body, the ``strip`` it belongs to, ``data`` and
            ``layout``; a page without any carries no plotting library and no script.
        plotly, generated: as for `render_page`.
        more_script: name of a further script among the parts of pages.
    """
    return Template(_part("page.html")).substitute(
        marker=MARKER,
        policy=_POLICY if plotly == "inline" else "",
        title=esc(title),
        style=_part("page.css"),
        print_style=_part("print.css"),
        noscript=_NOSCRIPT if drawings else "",
        body=body,
        footer="Made by stepwedge-curves" + (f" on {generated.isoformat()}" if generated else "") + ".",
        figures=_script_safe(json.dumps(drawings, ensure_ascii=False, allow_nan=False, separators=(",", ":"))),
        plotly=_plotly(plotly) if drawings else "",
        script=(_part("page.js") if drawings else "") + (_part(more_script) if more_script else ""),
    )


def plotly_library() -> str:
    """Return the plotting library's own text, for a file named `PLOTLY_BESIDE` next to pages that want it there."""
    from plotly.offline import get_plotlyjs

    return str(get_plotlyjs())


def _plotly(where: Literal["inline", "beside"]) -> str:
    if where == "beside":
        return f'<script src="{PLOTLY_BESIDE}" charset="utf-8"></script>'
    return f'<script charset="utf-8">{plotly_library()}</script>'


def _contents(analyses: Sequence[Analysis]) -> str:
    """Return the heading and the answers of several strips, each a link to its own."""
    items = []
    for number, analysis in enumerate(analyses, start=1):
        nominal = analysis.working_ei.nominal
        answer = "no index yet" if nominal is None else f"EI {nominal:g}"
        items.append(f'<li><a href="#strip-{number}">{esc(analysis.strip.title)}</a>: <b>{answer}</b></li>')
    return f'<header class="contents"><h1>{len(analyses)} strips</h1><ol>{"".join(items)}</ol></header>'


def _part(name: str) -> str:
    """Return one of the files that the page is put together from."""
    return files("curves.views.page").joinpath(name).read_text(encoding="utf-8")


def _script_safe(text: str) -> str:
    """Return JSON that cannot end the script element it stands in."""
    return text.replace("<", "\\u003c").replace("\u2028", "\\u2028").replace("\u2029", "\\u2029")
