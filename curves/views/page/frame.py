"""The page of a report: one HTML file that holds everything it needs and asks no network for anything."""

from __future__ import annotations

import datetime
import json
from collections.abc import Sequence
from importlib.resources import files
from string import Template
from typing import Literal

from curves.views.page.tables import esc

MARKER = "<!-- made by stepwedge-curves -->"
"""Stands near the top of every page, so that the tool knows its own."""

PLOTLY_BESIDE = "plotly.min.js"
"""Name of the plotting library's file where it lies beside the pages; `plotly_library` is what it holds."""

_POLICY = (
    "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline';"
    " script-src 'unsafe-inline'; img-src data: blob:\">"
)


_NOSCRIPT = "<noscript><p>The figures need JavaScript; every number is in the tables.</p></noscript>"


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


def _part(name: str) -> str:
    """Return one of the files that the page is put together from."""
    return files("curves.views.page").joinpath(name).read_text(encoding="utf-8")


def _script_safe(text: str) -> str:
    """Return JSON that cannot end the script element it stands in."""
    return text.replace("<", "\\u003c").replace("\u2028", "\\u2028").replace("\u2029", "\\u2029")
