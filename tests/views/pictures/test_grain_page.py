"""Grain as a person sees it: the terminal, the pieces at one scale, the page and its figures."""

from __future__ import annotations

import base64
import re
from functools import cache

import numpy as np
import pytest
from skimage.io import imread

from curves.sensitometry.grain.comparison import Comparison, compare_films
from curves.sensitometry.grain.film_grain import Film
from curves.views.pictures.grain import crops_html, crops_of, grain_figure, grain_page, grey, span_of
from curves.views.text.grain import grain_text, share_words
from tests.grain_demo import film


@cache
def shown() -> tuple[tuple[Film, ...], Comparison]:
    """Return a colour film, a grey film of half the resolution without a clear frame, and one that noise buries."""
    films = (
        film("Heron <80>", 10.0, seed=1, samples=3, side=150),
        film("Stork", 14.0, seed=2, side=110, dpi=2400.0, frames=False),
        film("Crane 400, in a developer of its own", 1.5, seed=3, side=150, densities=(1.0, 2.4)),
    )
    return films, compare_films(films)


@cache
def page() -> str:
    films, found = shown()
    return grain_page(films, found)


def plain(text: str) -> str:
    return " ".join(text.split())


def test_the_terminal_names_aperture_and_density_first_then_each_film_then_the_verdicts() -> None:
    text = grain_text(shown()[1])
    assert text.splitlines()[0] == "Rms granularity through 48 um at visual density 1.00"
    assert re.search(r"^  Heron <80>   \d\.\d+ \(\d\.\d+ to \d\.\d+\), between step 2 at 0\.80 and step 3", text, re.M)
    order = [
        text.index(w) for w in ("Heron <80>   ", "cannot be told apart", "Heron <80>: 4800 dpi", "Remarks:", "rest on:")
    ]
    assert order == sorted(order)
    assert "the scanner's noise was taken off by a clear and a dark frame; visual is estimated" in plain(text)
    assert "the scanner's noise was not taken off: no clear frame" in plain(text)


def test_the_terminal_shows_each_patch_of_each_channel_with_what_the_scanner_adds() -> None:
    lines = grain_text(shown()[1]).splitlines()
    patches = [line for line in lines if re.match(r"  (red|green|blue|visual|) +\d\.\d\d  ", line)]
    assert len(patches) == 4 * 4 + 4 + 2
    assert [line.split()[0] for line in patches if not line.startswith("    ")] == [
        "red", "green", "blue", "visual", "visual", "visual",
    ]  # fmt: skip
    assert sum("not known" in line for line in patches) == 4
    assert re.match(r" +2\.4\d  below \d", patches[-1])


def test_lines_fit_a_terminal_of_eighty_columns() -> None:
    assert max(len(line) for line in grain_text(shown()[1]).splitlines()) < 80


@pytest.mark.parametrize(("share", "words"), [(0.0, "0 %"), (0.0004, "under 0.1 %"), (0.0234, "2.3 %")])
def test_shares_are_written_as_a_person_writes_them(share: float, words: str) -> None:
    assert share_words(share) == words


def test_the_page_says_the_same_as_the_terminal() -> None:
    films, found = shown()
    html = page()
    assert html.startswith("<!DOCTYPE html>")
    assert html.count("<h1>") == 1
    for verdict in found.verdicts:
        escaped = verdict.sentence.replace("'", "&#x27;").replace("<", "&lt;").replace(">", "&gt;")
        assert escaped in html
    body = html.split("<body>")[1].split("<script")[0]
    assert re.search(r"NaN|Infinity|None|\$\{?[a-z]+", re.sub(r"base64,[^\"]+", "", body)) is None
    assert "Heron <80>" not in body
    assert len(films) == body.count('class="crop"')


def test_the_same_films_give_the_same_page() -> None:
    films, found = shown()
    assert grain_page(films, found) == page()


def test_pieces_of_all_films_are_one_size_on_film_and_on_the_page() -> None:
    films, found = shown()
    crops = crops_of(films, found)
    sizes = [crop.side for crop in crops]
    # The smallest patch is 150 pixels of 5.3 um: 0.79 mm.
    assert sizes == pytest.approx([793.75] * 3, abs=25400 / 2400 / 2)
    assert crops[0].deviation.shape == (150, 150)
    assert crops[1].deviation.shape == (75, 75)
    widths = [float(w) for w in re.findall(r'style="width:([\d.]+)%"', crops_html(crops, 48.0))]
    assert [w / s for w, s in zip(widths, sizes, strict=True)] == pytest.approx([100.0 / max(sizes)] * 3, rel=1e-3)


def test_pieces_come_from_patches_of_like_density() -> None:
    films, found = shown()
    crops = crops_of(films, found)
    assert {round(c.density, 1) for c in crops[:2]} in ({0.8}, {1.2})
    assert crops[2].density == pytest.approx(1.0, abs=0.01)


def test_greys_stand_for_the_same_densities_in_all_pieces() -> None:
    # Middle grey is the patch's own density, denser is darker, and what lies beyond the span is cut off.
    assert grey(np.array([0.0, 0.2, -0.2, 0.1, 0.5, -0.5]), 0.2).tolist() == [128, 0, 255, 64, 0, 255]
    films, found = shown()
    crops = crops_of(films, found)
    span = span_of(crops)
    assert span >= 3.0 * max(float(c.deviation.std()) for c in crops)
    html = crops_html(crops, 48.0)
    assert f"black and white lie {span:.2f} above and below it" in html
    assert "drawn as a square, neither smoothed nor sharpened" in html


def test_a_piece_in_the_page_is_the_scan_itself_pixel_by_pixel(tmp_path_factory: pytest.TempPathFactory) -> None:
    films, found = shown()
    crops = crops_of(films, found)
    uris = re.findall(r'src="data:image/png;base64,([^"]+)"', page())
    path = tmp_path_factory.mktemp("crop") / "piece.png"
    path.write_bytes(base64.b64decode(uris[1]))
    assert (imread(path) == grey(crops[1].deviation, span_of(crops))).all()


def test_the_scale_bar_and_the_ring_are_to_scale() -> None:
    films, found = shown()
    crops = crops_of(films, found)
    html = crops_html(crops, 48.0)
    widest = max(c.side for c in crops)
    bar = float(re.findall(r'd="M0 35H([\d.]+)', html)[0])
    ring = float(re.findall(r' r="([\d.]+)"', html)[0])
    # Both are drawn in thousandths of the piece's width.
    assert bar == pytest.approx(200.0 * 1000.0 / widest, rel=1e-3)
    assert 2.0 * ring == pytest.approx(48.0 * 1000.0 / widest, rel=2e-3)
    assert "0.2 mm</text>" in html


def marks(drawing: str) -> list[tuple[float, float, str, str]]:
    """Return the marks of a figure: place, words and whether it is open."""
    found = re.findall(r'<circle cx="([\d.]+)" cy="([\d.]+)" r="[\d.]+" fill="(#\w+)"[^>]*><title>([^<]+)', drawing)
    return [(float(x), float(y), "open" if fill == "#ffffff" else "full", words) for x, y, fill, words in found]


def test_every_film_is_drawn_in_visual_density_and_colour_films_in_their_layers_too() -> None:
    found = shown()[1]
    names = ["Heron &lt;80&gt;", "Stork", "Crane 400, in a developer of its own"]
    drawn = marks(grain_figure(found, "visual"))
    assert list(dict.fromkeys(words.split(", step")[0] for *_, words in drawn)) == names
    assert len(drawn) == sum(len(film.channels["visual"].points) for film in found.films)
    assert {words.split(", step")[0] for *_, words in marks(grain_figure(found, "red"))} == {names[0]}
    assert page().count('<svg class="drawing"') == 4
    # A film that noise buries has bounds, drawn as rings.
    assert {kind for *_, kind, words in drawn if words.startswith("Crane")} >= {"open"}
    assert {kind for *_, kind, words in drawn if words.startswith("Stork")} == {"full"}


def test_bars_reach_to_the_ends_of_the_intervals() -> None:
    found = shown()[1]
    drawing = grain_figure(found, "visual")
    points = found.films[0].channels["visual"].points
    bars = re.findall(r'd="M([\d.]+),([\d.]+)V([\d.]+)M[\d.]+,[\d.]+h8', drawing)[: len(points)]
    ends = sorted((p.found.density, *p.found.rms.known_ends) for p in points)
    drawn = sorted((float(x), float(bottom), float(top)) for x, top, bottom in bars)
    # Pixels to numbers by the marks of the figure's own axis; their texts lie 4 px lower.
    axis = drawing.split('<g text-anchor="end"')[1].split("</g>")[0]
    ticks = [(float(y) - 4.0, float(text)) for y, text in re.findall(r'y="([\d.]+)">([\d.]+)', axis)]
    scale = np.polyfit([y for y, _ in ticks], [number for _, number in ticks], 1)
    for (_, bottom, top), (_, low, high) in zip(drawn, ends, strict=True):
        assert np.polyval(scale, [bottom, top]) == pytest.approx([low, high], abs=0.02)


def test_a_bound_far_above_all_numbers_does_not_press_them_flat() -> None:
    drawing = grain_figure(shown()[1], "visual")
    frame = re.search(r'<rect [^>]*height="([\d.]+)"', drawing)
    assert frame is not None
    height = float(frame[1])
    stork = [y for _, y, _, words in marks(drawing) if words.startswith("Stork")]
    top = min(y for _, y, *_ in marks(drawing))
    assert top >= 18.0
    assert height + 18.0 - min(stork) > height / 2.5


def test_the_page_has_no_plotting_library() -> None:
    assert "Plotly" not in page()
    assert len(page().encode()) < 1_500_000


def test_one_film_alone_has_a_page_without_verdicts() -> None:
    films = [film("Heron", 10.0, side=110, densities=(1.0,))]
    found = compare_films(films)
    html = grain_page(films, found)
    assert "How much grain?" in html
    assert "Grain: Heron" in html
    assert 'class="range"' not in html.split("<body>")[1]
    assert "together are right" not in grain_text(found)


def test_missing_numbers_have_their_reasons_listed_once() -> None:
    films = [film("Heron", 10.0, side=110, densities=(0.3, 0.6), samples=3)]
    html = grain_page(films, compare_films(films))
    assert "Why some numbers are missing" in html
    assert "1 lies above; measure a patch nearer to 1" in html
