"""The page of a scan's patches: every frame on the picture, what it says, and the page of a refusal."""

from __future__ import annotations

import base64
import re
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest
from skimage.io import imread

from curves.sensitometry.core.units import LAYERS, FloatArray
from curves.sensitometry.scan.patch_light import FilmPiece
from curves.sensitometry.strip.origin import Flag
from curves.views.pictures.scan import PatchPicture, WedgePicture, patches_page

DUST = "12% of it is left out as dust or scratches"


def square(left: float, top: float, side: float = 40.0) -> FloatArray:
    return np.array([[left, top], [left, top + side], [left + side, top + side], [left + side, top]])


SHOWN = PatchPicture(
    title="Heron <7> & mate",
    image='scan "one".tif',
    picture=np.tile(np.array([1.0, 0.1, 0.01, 0.0])[None, :, None], (3, 1, 1)),
    size=(400, 300),
    channels=("visual",),
    labels=("step 1", "step 2", "step 3"),
    corners=np.array([square(10, 20), square(60, 20), square(110, 20)]),
    densities=np.array([[2.0], [0.5], [np.nan]]),
    errors=np.array([[0.0123], [np.nan], [np.nan]]),
    flags=(Flag(2, "dust", DUST, "visual"), Flag(3, "beyond-scale", "denser than <all>; not read", "visual")),
    notes=("Nobody said what dark is & where.",),
    kept="heron <7>.csv",
    pieces=(
        FilmPiece("fully_exposed", square(200, 200, 60), {"visual": -0.012}),
        FilmPiece("base", square(300, 200), {}),
    ),
)
WEDGE = WedgePicture(np.array([0.05, 1.5]), np.array([square(10, 100), square(60, 100)]), "", None, (400, 300))
REFUSED = replace(
    SHOWN, labels=(), corners=np.empty((0, 4, 2)), densities=np.empty((0, 1)), errors=np.empty((0, 1)), flags=(),
    notes=(), kept="", pieces=(), doubt="The steps are not certain: <two> rows are seen.",
)  # fmt: skip


def words(html: str) -> str:
    """Return what a person reads, tags left out."""
    found: list[str] = []

    class Reader(HTMLParser):
        def handle_data(self, data: str) -> None:
            found.append(data)

    Reader().feed(html.split("<body>")[1].split("<script")[0])
    return " ".join(" ".join(found).split())


def frames(html: str, name: str) -> list[str]:
    return re.findall(rf'<polygon class="{name}" points="([^"]+)"', html)


def test_every_patch_is_framed_where_it_was_measured() -> None:
    page = patches_page(SHOWN)
    assert 'viewBox="0 0 400 300"' in page
    assert frames(page, "measured")[0] == "10.0,20.0 10.0,60.0 50.0,60.0 50.0,20.0"
    assert len(frames(page, "measured")) == 1 + 2  # the patch without a remark, and two pieces of film
    assert len(frames(page, "flagged")) == 2
    assert "3 patches, 2 with a remark" in words(page)


def test_a_frame_says_its_number_and_densities_and_its_title_says_them_in_full() -> None:
    page = patches_page(SHOWN)
    assert re.findall(r"<title>(step[^<]+|fully[^<]+|base[^<]+)</title>", page) == [
        "step 1: visual 2.00", "step 2: visual 0.50", "step 3: visual none", "fully exposed: visual -0.012", "base: ",
    ]  # fmt: skip
    letters = re.findall(r"<text [^>]+>([^<]+)</text>", page.split('class="overlay"')[1].split("</svg>")[0])
    assert letters == ["1", "2.00", "2", "0.50", "3", "none", "fully exposed", "-0.01", "base"]


def test_a_bar_that_is_longer_than_the_figure_ends_at_its_frame_without_a_cap() -> None:
    def drawn(error: float) -> tuple[list[float], int, str]:
        page = patches_page(replace(SHOWN, errors=np.array([[error], [np.nan], [np.nan]])))
        ((top, caps),) = re.findall(r'<path d="M[\d.]+,([\d.]+)V[\d.]+((?:M[\d.,]+h8)*)" stroke=', page)
        frame = page.split('class="drawing"')[1].split("<rect ")[1]
        edge = float(re.findall(r' y="([\d.]+)"', frame)[0])
        return [float(top), edge], caps.count("M"), words(page)

    (top, edge), caps, told = drawn(0.01)
    assert (top > edge, caps, "no cap" in told) == (True, 2, False)
    # The densities are 2.0 and 0.5: a bar of four standard uncertainties of 0.2 begins below, and ends above the frame.
    (top, edge), caps, told = drawn(0.2)
    assert (top, caps) == (edge, 1)
    assert "two standard uncertainties either way, on beyond the figure where they have no cap." in told


def test_without_a_remark_the_page_says_none() -> None:
    assert "3 patches, none with a remark" in words(patches_page(replace(SHOWN, flags=())))


def test_letters_are_dark_on_what_is_thin_and_light_on_what_is_dense_or_not_read() -> None:
    page = patches_page(SHOWN)
    pale = {
        title: bool(mark) for mark, title in re.findall(r'<g data-patch="\d"( class="pale")?><title>(step \d)', page)
    }
    assert pale == {"step 1": False, "step 2": True, "step 3": False}


def test_the_table_tells_density_uncertainty_and_remarks() -> None:
    table = patches_page(SHOWN).split("<tbody>")[1].split("</tbody>")[0]
    rows = [" ".join(re.sub("<[^>]+>", " ", row).split()) for row in table.split("</tr>")[:-1]]
    # The patches with a remark come first.
    assert rows == [
        f"step 2 0.500 visual: {DUST}",
        "step 3 not read visual: denser than &lt;all&gt;; not read",
        "step 1 2.000 ±0.012",
        "fully exposed −0.012",
        "base not read",
    ]


def test_what_is_said_of_several_channels_is_said_once() -> None:
    colour = replace(
        SHOWN, channels=LAYERS, picture=np.full((3, 4, 3), 0.5), densities=np.ones((3, 3)), errors=np.ones((3, 3)),
        flags=(Flag(1, "dust", DUST, "red"), Flag(1, "dust", DUST, "blue"), Flag(2, "dust", DUST)),
    )  # fmt: skip
    page = patches_page(colour)
    assert f'<td class="words">red, blue: {DUST}</td>' in page
    assert f'<td class="words">{DUST}</td>' in page
    assert "<title>step 1: red 1.00, green 1.00, blue 1.00</title>" in page


def test_grey_falls_evenly_with_density(tmp_path: Path) -> None:
    uri = re.findall(r'href="data:image/png;base64,([^"]+)"', patches_page(SHOWN))[0]
    (tmp_path / "shown.png").write_bytes(base64.b64decode(uri))
    # Densities 0, 1, 2 and none, of 3.2 that are black: 255 (1 - D / 3.2), rounded down.
    assert imread(tmp_path / "shown.png")[0].tolist() == [255, 175, 95, 0]


def test_a_large_picture_is_drawn_in_no_more_than_a_thousand_pixels(tmp_path: Path) -> None:
    page = patches_page(replace(SHOWN, picture=np.ones((10, 2400, 1))))
    uri = re.findall(r'href="data:image/png;base64,([^"]+)"', page)[0]
    (tmp_path / "shown.png").write_bytes(base64.b64decode(uri))
    assert imread(tmp_path / "shown.png").shape == (4, 800)


def test_a_calibration_wedge_in_the_picture_is_framed_with_its_known_densities() -> None:
    page = patches_page(replace(SHOWN, wedge=WEDGE))
    assert len(frames(page, "known")) == 2
    assert "<title>calibration wedge, step 2: 1.500</title>" in page
    assert "Blue frames are the calibration wedge" in words(page)
    assert page.count('<svg class="overlay"') == 1


def test_densities_are_drawn_from_step_to_step_where_they_were_read() -> None:
    page = patches_page(SHOWN)
    drawing = page.split("Density from step to step</h2>")[1].split("</section>")[0]
    # Two of three steps were read: two dots, and a bar for the one whose uncertainty is known.
    assert drawing.count("h0") == int(np.isfinite(SHOWN.densities).sum()) == 2
    assert drawing.count("h8") == 2 * int((np.isfinite(SHOWN.densities) & np.isfinite(SHOWN.errors)).sum())
    assert "NaN" not in drawing
    assert "nan" not in drawing


def test_remarks_stand_above_the_picture() -> None:
    page = patches_page(SHOWN)
    assert page.index("<h2>Remarks</h2>") < page.index("<h2>Every patch on the picture</h2>")


def test_a_calibration_wedge_scanned_apart_has_a_picture_of_its_own() -> None:
    apart = replace(WEDGE, image="wedge & holder.tif", picture=np.ones((2, 2, 1)), size=(500, 200))
    page = patches_page(replace(SHOWN, wedge=apart))
    assert "<h2>The calibration wedge, wedge &amp; holder.tif</h2>" in page
    own = page.split("The calibration wedge, wedge")[1]
    assert 'viewBox="0 0 500 200"' in own
    assert len(frames(own, "known")) == 2
    assert "Blue frames" not in words(page)


def test_names_and_notes_are_escaped() -> None:
    page = patches_page(SHOWN)
    assert "<title>Heron &lt;7&gt; &amp; mate: where the scan was measured</title>" in page
    assert "Densities are in heron &lt;7&gt;.csv." in page
    assert "scan &quot;one&quot;.tif" in page
    assert "<li>Nobody said what dark is &amp; where.</li>" in page
    for raw in ("<7>", '"one"', "<all>", "is & where"):
        assert raw not in page


def test_the_page_has_no_plotting_library_and_asks_no_network() -> None:
    page = patches_page(replace(SHOWN, wedge=WEDGE))
    scripts = re.findall(r"<script[^>]*>(.*?)</script>", page, re.DOTALL)
    assert not any("Plotly" in script for script in scripts)
    assert set(re.findall(r'(?:href|src)="([a-z]+:)', page)) == {"data:"}
    assert "<noscript" not in page
    assert not re.search(r"\b(NaN|nan|None|inf)\b", words(page))


def test_the_same_findings_give_the_same_page() -> None:
    assert patches_page(SHOWN) == patches_page(SHOWN)


@pytest.mark.parametrize(("looked", "told"), [
    (square(50, 60, 100), "The frame shows where the search ended. Nothing was written but this page."),
    (None, "Nothing was found. Nothing was written but this page."),
])  # fmt: skip
def test_the_page_of_a_refusal_says_why_and_shows_where_the_search_ended(looked: FloatArray | None, told: str) -> None:
    page = patches_page(replace(REFUSED, looked=looked))
    assert "<h2>Not measured</h2><p>The steps are not certain: &lt;two&gt; rows are seen.</p>" in page
    assert told in words(page)
    expected = [] if looked is None else ["50.0,60.0 50.0,160.0 150.0,160.0 150.0,60.0"]
    assert frames(page, "doubtful") == expected
    assert not frames(page, "measured")
    for absent in ("Densities", "with a remark", "<table"):
        assert absent not in page.split("<body>")[1]
