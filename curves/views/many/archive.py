"""The page of an archive: a table of all strips reported in a folder, each with its curves and a link to its page."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any
from urllib.parse import quote

from curves.views.page.axes import STYLES
from curves.views.page.frame import assemble_page
from curves.views.page.tables import esc, minus

_WIDTH, _HEIGHT = 84.0, 34.0
_SPAN_H, _SPAN_D = 3.6, 3.6
"""Log H and density that the width and the height of a small curve stand for: the same for every strip."""

_MEASURES = (("dmin", "Dmin", 2), ("dmax", "Dmax", 2), ("gamma", "gamma", 2), ("range_stops", "range [stops]", 1))


def archive_page(strips: Sequence[tuple[str, Mapping[str, Any]]]) -> str:
    """Return the page that lists strips; the same strips give the same page, to the letter.

    Args:
        strips: the address of each strip's own page, without an ending, and its results as JSON has them.
    """
    heads = ["strip", "curves", "EI to set", *(label for _, label, _ in _MEASURES), "remarks"]
    header = "".join(
        f'<th scope="col">{esc(head)}</th>'
        if head == "curves"
        else f'<th scope="col" aria-sort="none"><button type="button">{esc(head)}</button></th>'
        for head in heads
    )
    rows = "".join(_row(address, content) for address, content in strips)
    body = (
        f'<article id="archive"><div class="sheet"><header><h1>{len(strips)} strips</h1><p class="facts">'
        "Each small curve spans the same log H and the same density. A click on a heading sorts.</p></header>"
        f'<div class="wide"><table class="archive"><thead><tr>{header}</tr></thead><tbody>{rows}</tbody></table></div>'
        "</div></article>"
    )
    return assemble_page(f"{len(strips)} strips", body, [], scripts=["many/archive.js"], styles=["many/many.css"])


def _row(address: str, content: Mapping[str, Any]) -> str:
    """Return the row of one strip."""
    ei, channels = content["working_ei"], content["channels"]
    judged = channels.get(ei["channel"]) or next(iter(channels.values()))
    index = ei["nominal"]
    cells = [
        _cell(f'<a href="{quote(address)}.html">{esc(content["title"])}</a>', content["title"].casefold()),
        f"<td>{_small_curves(content)}</td>",
        _cell("none yet" if index is None else f"{index:g}", math.inf if index is None else index),
    ]
    cells += [_number(judged[key], decimals) for key, _, decimals in _MEASURES]
    remarks = len(content["warnings"])
    return f"<tr>{''.join(cells)}{_cell(str(remarks), remarks)}</tr>"


def _number(quantity: Mapping[str, Any], decimals: int) -> str:
    """Return the cell of a number: its value, its bound, or a dash; the interval is told when asked for."""
    if quantity["value"] is not None:
        low, high = quantity["low"], quantity["high"]
        title = "" if low is None else f' title="{low:.{decimals}f} to {high:.{decimals}f}"'
        return _cell(minus(f"{quantity['value']:.{decimals}f}"), quantity["value"], title)
    if quantity["bound"] is not None:
        side, end = quantity["bound"]
        return _cell(f"{esc(side)} {minus(f'{end:.{decimals}f}')}", end, f' title="{esc(quantity["why"])}"')
    return _cell("&ndash;", math.inf, f' title="{esc(quantity["why"])}"')


def _cell(shown: str, sorts_as: float | str, more: str = "") -> str:
    """Return a cell with what it shows and what it is sorted by."""
    key = "" if sorts_as == math.inf else esc(f"{sorts_as}")
    return f'<td data-key="{key}"{more}>{shown}</td>'


def _small_curves(content: Mapping[str, Any]) -> str:
    """Return the fitted curves of a strip, small, the middle of its log H in the middle."""
    channels = content["channels"]
    every = [s["log_h"] for found in channels.values() for s in found["steps"] if s["fitted"] is not None]
    if not every:
        return ""
    start = 0.5 * (min(every) + max(every) - _SPAN_H)
    paths = []
    for name, found in channels.items():
        if name == "visual" and found["estimated"]:
            continue
        steps = sorted((s["log_h"], s["fitted"]) for s in found["steps"] if s["fitted"] is not None)
        points = "L".join(f"{(x - start) / _SPAN_H * _WIDTH:.1f},{(1.0 - d / _SPAN_D) * _HEIGHT:.1f}" for x, d in steps)
        paths.append(f'<path d="M{points}" stroke="{STYLES[name].colour}" fill="none" stroke-width="1.4"/>')
    return (
        f'<svg class="small" viewBox="0 0 {_WIDTH:g} {_HEIGHT:g}" width="{_WIDTH:g}" height="{_HEIGHT:g}" role="img"'
        f' aria-label="curves of {esc(content["title"])}">{"".join(paths)}</svg>'
    )
