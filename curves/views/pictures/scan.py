"""The page of a scan: the picture with every measured patch on it, and each patch's density and remarks."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from curves.app.pictures.scan_match import ScanMatch
from curves.sensitometry.core.units import LAYERS, Channel, FloatArray, density
from curves.sensitometry.scan.patch_light import FilmPiece, remarks_on
from curves.sensitometry.strip.origin import Flag
from curves.views.page.axes import STYLES
from curves.views.page.frame import assemble_page, png_uri
from curves.views.page.svg import Axis, Figure, spread_axis
from curves.views.page.tables import esc, minus, swatch
from curves.views.words.digits import signed

_DARKEST_SHOWN = 3.2
"""Density that the picture shows as black: our own choice [density]."""

_LONGEST_SHOWN = 1000
"""Pixels along the longer side of the picture in the page: our own choice [unitless]."""

_PALE = 1.1
"""Density below which a patch carries dark letters: a third of the way to `_DARKEST_SHOWN`: our own choice
[density]."""

_MOST_NAMED = 12
"""Most patches that the figure of densities names."""

_WEDGE_LEGEND = "<p>Each frame is a measured area, with the density of the step by the wedge's table.</p>"


@dataclass(frozen=True, eq=False)
class WedgePicture:
    """A calibration wedge in its picture.

    Attributes:
        known: known density of each step, (n,) [density].
        corners: corners of each step's measured area, (n, 4, 2) [pixels].
        image: name of the picture.
        picture: the picture, as `PatchPicture.picture`; None if it is the strip's own.
        size: width and height of the picture [pixels].
    """

    known: FloatArray
    corners: FloatArray
    image: str
    picture: FloatArray | None
    size: tuple[int, int]


@dataclass(frozen=True, eq=False)
class PatchPicture:
    """A scan with its measured patches, or with the place where the search for patches ended.

    Attributes:
        title: title of the strip.
        image: name of the scan.
        picture: transmittance of the whole scan, reduced, (rows, columns, samples) [unitless].
        size: width and height of the scan [pixels].
        channels: the channel of each sample.
        labels: label of each patch.
        corners: corners of each patch, (n, 4, 2) [pixels of the scan].
        densities, errors: (n, samples) [density]; empty where nothing was measured.
        flags: remarks on single patches.
        doubt: why nothing was measured; empty if patches were measured.
        notes: remarks on the scan as a whole, each a sentence.
        match: the matching to a densitometer; None if nothing was matched.
        kept: name of the table of densities; empty if no table was written.
        looked: corners of the place where the search ended, (4, 2) [pixels of the scan]; None if patches are certain.
        wedge: the calibration wedge; None if no wedge was scanned with the strip.
        pieces: single pieces of film.
        light: corners of the areas of clear and dark, by name, each (4, 2) [pixels].
    """

    title: str
    image: str
    picture: FloatArray
    size: tuple[int, int]
    channels: tuple[Channel, ...]
    labels: tuple[str, ...]
    corners: FloatArray
    densities: FloatArray
    errors: FloatArray
    flags: tuple[Flag, ...]
    doubt: str = ""
    notes: tuple[str, ...] = ()
    match: ScanMatch | None = None
    kept: str = ""
    looked: FloatArray | None = None
    wedge: WedgePicture | None = None
    pieces: tuple[FilmPiece, ...] = ()
    light: Mapping[str, FloatArray] = field(default_factory=dict)


def patches_page(shown: PatchPicture) -> str:
    """Return the page of a scan; the same results give the same page, to the letter."""
    title = f"{shown.title}: where the scan was measured"
    flagged = len({flag.patch for flag in shown.flags})
    count = len(shown.labels)
    facts = f"{shown.image} · {shown.size[0]} × {shown.size[1]} pixels"
    if not shown.doubt:
        facts += f" · {count} patches, {flagged or 'none'} with a remark"
    sections = [_section("Not measured", f"<p>{esc(shown.doubt)}</p>")] if shown.doubt else []
    if shown.notes:
        sections.append(_section("Remarks", "<ul>" + "".join(f"<li>{esc(n)}</li>" for n in shown.notes) + "</ul>"))
    sections.append(_section("Every patch on the picture", _legend(shown) + _overlay(shown)))
    if shown.wedge is not None and shown.wedge.picture is not None:
        drawing = _drawing(shown.wedge.picture, shown.wedge.size, _wedge_frames(shown.wedge), "The calibration wedge")
        sections.append(_section(f"The calibration wedge, {shown.wedge.image}", _WEDGE_LEGEND + drawing))
    if not shown.doubt:
        sections.append(_section("Densities", _table(shown)))
        sections.append(_section("Density from step to step", _by_step(shown)))
    if shown.match is not None:
        sections.append(_section(f"Matched to {shown.match.status}", _matched(shown.match)))
    body = (
        f'<article id="patches"><header><h1>{esc(title)}</h1><p class="facts">{esc(facts)}</p></header>'
        f"{''.join(sections)}</article>"
    )
    return assemble_page(title, body, [], scripts=["pictures/patches.js"], styles=["pictures/pictures.css"])


def _section(title: str, content: str) -> str:
    return f"<section><h2>{esc(title)}</h2>{content}</section>\n"


def _legend(shown: PatchPicture) -> str:
    if shown.doubt:
        return (
            "<p>The frame shows where the search ended. Nothing was written but this page.</p>"
            if shown.looked is not None
            else "<p>Nothing was found. Nothing was written but this page.</p>"
        )
    blue = [what for what, there in (("the calibration wedge, with its known densities", _same_picture(shown)),
                                     ("the areas of clear and dark", bool(shown.light))) if there]  # fmt: skip
    known = f" Blue frames are {', and '.join(blue)}." if blue else ""
    kept = f" Densities are in {esc(shown.kept)}." if shown.kept else ""
    return (
        "<p>Each frame is a measured area, the middle of its patch. Check that every frame lies inside its patch, and"
        " that step 1 is where you know it to be. Dashed red frames have a remark in the table."
        f"{known}{kept}</p>"
    )


def _same_picture(shown: PatchPicture) -> bool:
    return shown.wedge is not None and shown.wedge.picture is None


def _overlay(shown: PatchPicture) -> str:
    """Return the picture with frames over its patches, one drawing that scales with the page."""
    flagged = {flag.patch for flag in shown.flags}
    parts = []
    if shown.looked is not None:
        parts.append(f'<polygon class="doubtful" points="{_points(shown.looked)}"/>')
    if shown.wedge is not None and _same_picture(shown):
        parts.append(_wedge_frames(shown.wedge))
    for number, (label, corners) in enumerate(zip(shown.labels, shown.corners, strict=True), start=1):
        name = "flagged" if number in flagged else "measured"
        densities = [_density(shown.densities[number - 1, i]) for i in range(len(shown.channels))]
        told = ", ".join(f"{c} {d}" for c, d in zip(shown.channels, densities, strict=True))
        pale = _pale(shown.densities[number - 1])
        frame = _frame(name, corners, label.removeprefix("step "), densities, f"{label}: {told}", pale)
        parts.append(frame.replace("<g", f'<g data-patch="{number}"', 1))
    for piece in shown.pieces:
        values = np.array(list(piece.densities.values()))
        told = ", ".join(f"{c} {d:.3f}" for c, d in piece.densities.items())
        lines = [f"{d:.2f}" for d in values]
        parts.append(_frame("measured", piece.corners, piece.label, lines, f"{piece.label}: {told}", _pale(values)))
    for name, corners in shown.light.items():
        parts.append(_frame("known", corners, name, [], f"{name}: measured here", pale=name == "clear"))
    return _drawing(shown.picture, shown.size, "".join(parts), "The scan with its patches")


def _wedge_frames(wedge: WedgePicture) -> str:
    """Return the frames of a calibration wedge's steps, each with its known density."""
    return "".join(
        _frame(
            "known",
            corners,
            str(number),
            [f"{known:.2f}"],
            f"calibration wedge, step {number}: {known:.3f}",
            _pale(np.array([known])),
        )
        for number, (known, corners) in enumerate(zip(wedge.known, wedge.corners, strict=True), start=1)
    )


def _drawing(picture: FloatArray, size: tuple[int, int], inside: str, name: str) -> str:
    width, height = size
    pixels = png_uri(_shown_grey(picture))
    return (
        f'<figure><svg class="overlay" viewBox="0 0 {width} {height}" role="img" aria-label="{esc(name)}"'
        f' style="--line:{max(width, height) / 500.0:.2f}px">'
        f'<image href="{pixels}" width="{width}" height="{height}" preserveAspectRatio="none"/>{inside}</svg>'
        f"<figcaption>{'Each colour' if picture.shape[2] > 1 else 'Grey'} by density, from full at 0 to black at"
        f" {_DARKEST_SHOWN:g}.</figcaption></figure>"
    )


def _pale(densities: FloatArray) -> bool:
    """Return True if a patch is thin enough for dark letters on it."""
    known = densities[np.isfinite(densities)]
    return bool(known.size and known.mean() < _PALE)


def _frame(name: str, corners: FloatArray, number: str, densities: Sequence[str], title: str, pale: bool) -> str:
    """Return the frame of one patch with its number and densities inside."""
    x, y = corners.mean(axis=0)
    # Room for the number (two digits, or a word) and, under it, for a density of four characters a line.
    width, height = np.ptp(corners, axis=0)
    room = float(min(0.5 * width, 0.3 * height, 1.6 * width / max(len(number), 1)))
    small = 0.62 * room
    lines = [f'<text x="{x:.1f}" y="{y - 0.6 * room:.1f}" font-size="{room:.1f}">{esc(number)}</text>']
    for at, text in enumerate(densities):
        lines.append(
            f'<text class="small" x="{x:.1f}" y="{y + (0.3 + 0.72 * at) * room:.1f}" font-size="{small:.1f}">'
            f"{esc(text)}</text>"
        )
    # Dark, pale and coloured lines of falling width: on any grey one of them stands out.
    drawn = "".join(f'<polygon class="{line}" points="{_points(corners)}"/>' for line in ("case", "case pale", name))
    group = '<g class="pale">' if pale else "<g>"
    return f"{group}<title>{esc(title)}</title>{drawn}{''.join(lines)}</g>"


def _points(corners: FloatArray) -> str:
    return " ".join(f"{x:.1f},{y:.1f}" for x, y in corners)


def _shown_grey(transmittance: FloatArray) -> np.ndarray[tuple[int, ...], np.dtype[np.uint8]]:
    """Return a reduced picture in which equal steps of density are equal steps of grey."""
    step = max(1, -(-max(transmittance.shape[:2]) // _LONGEST_SHOWN))
    small = np.maximum(transmittance[::step, ::step], 10.0**-_DARKEST_SHOWN)
    grey = np.clip(255.0 * (1.0 - density(small) / _DARKEST_SHOWN), 0.0, 255.0).astype(np.uint8)
    return grey[..., 0] if grey.shape[2] == 1 else grey


def _density(value: float) -> str:
    return f"{value:.2f}" if np.isfinite(value) else "none"


def _table(shown: PatchPicture) -> str:
    head = "".join(f'<th scope="col">{esc(c)}</th>' for c in ("patch", *shown.channels, "remarks"))
    rows = []
    flagged = {flag.patch for flag in shown.flags}
    # Patches with a remark come first.
    for row, label in sorted(enumerate(shown.labels), key=lambda patch: patch[0] + 1 not in flagged):
        cells = "".join(f"<td>{_cell(shown, row, i)}</td>" for i in range(len(shown.channels)))
        rows.append(
            f'<tr data-patch="{row + 1}"><th scope="row">{esc(label)}</th>{cells}'
            f'<td class="words">{_remarks(shown.flags, row + 1)}</td></tr>'
        )
    for piece in shown.pieces:
        cells = "".join(f"<td>{_piece_cell(piece, channel)}</td>" for channel in shown.channels)
        rows.append(f'<tr><th scope="row">{esc(piece.label)}</th>{cells}<td></td></tr>')
    return (
        '<div class="wide" tabindex="0"><table class="patches"><caption>Density, with its standard uncertainty from the'
        " scatter of the light and from the calibration</caption>"
        f"<thead><tr>{head}</tr></thead><tbody>{''.join(rows)}</tbody></table></div>"
    )


def _by_step(shown: PatchPicture) -> str:
    """Return the densities of the patches in their order as a figure: a swapped or a lost step breaks the line."""
    count = len(shown.labels)
    at = np.arange(1.0, count + 1.0)
    names = [label.removeprefix("step ") for label in shown.labels]
    every = max(1, round(count / _MOST_NAMED))
    labels = [(float(x), name) for x, name in zip(at, names, strict=True)][::every]
    drawn = Figure(
        Axis("patch", 0.0, count + 1.0, labels),
        spread_axis("density", shown.densities[np.isfinite(shown.densities)], 0.06, 0.2),
        560.0,
        240.0,
        f"Density of {count} patches in their order",
    )
    for i, channel in enumerate(shown.channels):
        style, values, errors = STYLES[channel], shown.densities[:, i], shown.errors[:, i]
        drawn.line(at, values, style.colour, width=1.2, dash=style.dash)
        known = np.isfinite(values)
        drawn.dots(at[known], values[known], style.colour)
        for x, value, error in zip(at[known], values[known], errors[known], strict=True):
            if np.isfinite(error):
                drawn.bar(float(x), float(value - 2.0 * error), float(value + 2.0 * error), style.colour)
    beyond = np.nanmax(shown.densities + 2.0 * shown.errors, initial=0.0) > drawn.y.high
    on = ", on beyond the figure where they have no cap" if beyond else ""
    key = " ".join(f"{swatch(channel)} {channel}" for channel in shown.channels)
    return (
        f'<p class="facts">{key}</p><figure tabindex="0">{drawn.drawing()}<figcaption>Bars: two standard uncertainties'
        f" either way{on}. A missed step, or frames that lie off their patches, break the line.</figcaption></figure>"
    )


def _cell(shown: PatchPicture, row: int, sample: int) -> str:
    value, error = shown.densities[row, sample], shown.errors[row, sample]
    if not np.isfinite(value):
        return '<span class="interval">not read</span>'
    u = f' <span class="interval">±{error:.3f}</span>' if np.isfinite(error) else ""
    return f"<b>{minus(f'{value:.3f}')}</b>{u}"


def _piece_cell(piece: FilmPiece, channel: Channel) -> str:
    value = piece.densities.get(channel)
    return '<span class="interval">not read</span>' if value is None else f"<b>{minus(f'{value:.3f}')}</b>"


def _remarks(flags: Sequence[Flag], patch: int) -> str:
    """Return the remarks on a patch; a remark on several channels appears once."""
    found = remarks_on(patch, flags)
    return "; ".join(f"{', '.join(of)}: {esc(message)}" if of else esc(message) for message, of in found.items())


def _matched(match: ScanMatch) -> str:
    """Return the matching to a densitometer: its patches, by how much they are missed, and the matrix."""
    patches, missed = match.found.patches, match.found.missed
    groups = "".join(f'<th scope="colgroup" colspan="3">{swatch(c)} {c}</th>' for c in LAYERS)
    columns = '<th scope="col">scan</th><th scope="col">known</th><th scope="col">missed</th>' * len(LAYERS)
    rows = []
    for row, name in enumerate(patches.names):
        cells = "".join(
            f"<td>{patches.scanned[row, at]:.2f}</td><td>{patches.known[row, at]:.2f}</td>"
            f"<td>{'not known' if missed is None else minus(signed(float(missed[row, at]), 2))}</td>"
            for at in range(len(LAYERS))
        )
        rows.append(f'<tr><th scope="row">{esc(name)}</th>{cells}</tr>')
    head = "".join(f'<th scope="col">scan {channel}</th>' for channel in LAYERS)
    matrix = []
    for at, channel in enumerate(LAYERS):
        cells = "".join(
            f'<td><b>{minus(f"{value:.2f}")}</b> <span class="interval">±{error:.2f}</span></td>'
            for value, error in zip(match.found.matrix[at], match.found.matrix_error[at], strict=True)
        )
        matrix.append(f'<tr><th scope="row">{channel}</th>{cells}</tr>')
    return (
        f"<p>{esc(match.sentence)} The densities above stay the scan's own; results go by the matched ones.</p>"
        '<div class="wide" tabindex="0"><table><caption>Patches that both have read: density in the scan, known from'
        " the densitometer, and by how much the other patches miss it</caption>"
        f"<thead><tr><td></td>{groups}</tr><tr><td></td>{columns}</tr></thead><tbody>{''.join(rows)}</tbody></table></div>"
        '<div class="wide" tabindex="0"><table><caption>The known density of each channel from the scan\'s, above the'
        " thinnest patch, with standard uncertainties</caption>"
        f"<thead><tr><td></td>{head}</tr></thead><tbody>{''.join(matrix)}</tbody></table></div>"
    )
