"""The frame of a page: one HTML file that holds styles, scripts and pictures and asks no network for anything."""

from __future__ import annotations

import base64
import json
import re
import struct
import zlib
from collections.abc import Sequence
from importlib.resources import files
from string import Template
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from curves.views.page.tables import esc

MARKER = "<!-- made by stepwedge-curves -->"
"""A comment near the top of every page, by which the tool recognises its own pages."""

PLOTLY_BESIDE = "plotly.min.js"
"""Name of the plotting library's file where it lies beside the pages; `plotly_library` returns its contents."""

_POLICY = (
    "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline';"
    " script-src 'unsafe-inline'{beside}; img-src data: blob:\">"
)
"""What a page may load: itself, and of files beside it only the plotting library's, where the page asks for it."""

_NOSCRIPT = "<noscript><p>The figures need JavaScript; every number is in the tables.</p></noscript>"

_MISSING_LIBRARY = (
    f'<p class="without-library">The figures that move need the file {PLOTLY_BESIDE}, which is not beside this page:'
    " put it there, or write the page again. Every number is in the tables.</p>"
)
"""A sentence that the page's style shows where the plotting library did not load."""

_SIGNATURE = b"\x89PNG\r\n\x1a\n"
_GREY, _COLOUR = 0, 2


def assemble_page(
    title: str,
    body: str,
    drawings: Sequence[dict[str, object]],
    *,
    plotly: Literal["inline", "beside"] = "inline",
    scripts: Sequence[str] = (),
    styles: Sequence[str] = (),
) -> str:
    """Return a whole page around a body of HTML.

    Args:
        title: title of the page.
        body: content of the page, HTML.
        drawings: the figures, each with the ``id`` of its place in the body, the ``strip`` that it belongs to, ``data``
            and ``layout``; a page without figures carries no plotting library and no script.
        plotly: as for `report_page`.
        scripts, styles: further scripts and styles, paths in the folder above this one.
    """
    return Template(_part("page/page.html")).substitute(
        marker=MARKER,
        policy=_POLICY.format(beside=" 'self' file:" if drawings and plotly == "beside" else ""),
        title=esc(title),
        style="".join(map(_part, ["page/page.css", *styles])),
        print_style=_part("page/print.css"),
        noscript=(_NOSCRIPT + (_MISSING_LIBRARY if plotly == "beside" else "")) if drawings else "",
        body=body,
        footer="Made by stepwedge-curves.",
        figures=script_json(drawings),
        plotly=_plotly(plotly) if drawings else "",
        script="".join(map(_part, ["page/frame.js", *(["page/page.js"] if drawings else []), *scripts])),
    )


def plotly_library() -> str:
    """Return the text of the plotting library, to be written as `PLOTLY_BESIDE` beside the pages."""
    from plotly.offline import get_plotlyjs

    return str(get_plotlyjs())


def _plotly(where: Literal["inline", "beside"]) -> str:
    if where == "beside":
        return f'<script src="{PLOTLY_BESIDE}" charset="utf-8"></script>'
    return f'<script charset="utf-8">{plotly_library()}</script>'


def _part(name: str) -> str:
    """Return the text of a part of the page without its comments and indents, by its path in the folder above."""
    text = files("curves.views").joinpath(name).read_text(encoding="utf-8")
    if name.endswith(".css"):
        return re.sub(r"\s*([{};,])\s*", r"\1", re.sub(r"/\*.*?\*/", "", text, flags=re.DOTALL)).strip()
    lines = (line.strip() for line in text.splitlines())
    return "".join(f"{line}\n" for line in lines if line and not line.startswith("//"))


def script_json(content: object) -> str:
    """Return JSON for a script element, whose text cannot end the element around it."""
    text = json.dumps(content, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    return text.replace("<", "\\u003c").replace("\u2028", "\\u2028").replace("\u2029", "\\u2029")


def png_uri(pixels: NDArray[np.uint8]) -> str:
    """Return a picture as a PNG data URI, which a page shows without asking for a file.

    No pixel is resampled; the page's style must tell the browser not to smooth the picture.

    Args:
        pixels: (rows, columns) grey, or (rows, columns, 3) red, green, blue; 0 black to 255 full [unitless].
    """
    return "data:image/png;base64," + base64.b64encode(png(pixels)).decode("ascii")


def png(pixels: NDArray[np.uint8]) -> bytes:
    """Return a picture as PNG with 8 bits a sample, written with the standard library alone (ISO/IEC 15948).

    Args:
        pixels: as for `png_uri`.

    Raises:
        ValueError: the array is not a picture.
    """
    if pixels.dtype != np.uint8 or not (pixels.ndim == 2 or (pixels.ndim == 3 and pixels.shape[2] == 3)):
        raise ValueError(f"not a picture of 8 bits: {pixels.dtype} {pixels.shape}")
    if pixels.size == 0:
        raise ValueError("a picture without pixels")
    rows, columns = pixels.shape[:2]
    header = struct.pack(">IIBBBBB", columns, rows, 8, _GREY if pixels.ndim == 2 else _COLOUR, 0, 0, 0)
    # Each row begins with the number of its filter; 0 is none.
    lines = np.zeros((rows, 1 + pixels.size // rows), dtype=np.uint8)
    lines[:, 1:] = pixels.reshape(rows, -1)
    body = zlib.compress(lines.tobytes(), 6)
    return _SIGNATURE + _chunk(b"IHDR", header) + _chunk(b"IDAT", body) + _chunk(b"IEND", b"")


def _chunk(kind: bytes, content: bytes) -> bytes:
    return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))
