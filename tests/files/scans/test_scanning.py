"""From pictures on the disk to densities: clear and dark in every way they can be given, and every refusal."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import tifffile
from numpy.typing import NDArray

from curves.errors import RecordError
from curves.files.scans import scan as scan_module
from curves.files.scans.light import Light, agrees, clear_at, known_ladder, light_of, stored_of, wedge_light
from curves.files.scans.measurement import ScanMeasurement, measure
from curves.files.scans.places import LightReference, reference
from curves.files.scans.scan import Scan, another, find_in
from curves.files.strips.calibration import read_calibration, write_calibration
from curves.files.strips.patch_table import Areas
from curves.sensitometry.scan.encoding import LINEAR, Encoding, parse_encoding
from curves.sensitometry.scan.ladder import Ladder
from curves.sensitometry.strip.wedge import Wedge
from tests.scan_cases import off_by
from tests.simulate_scan import Made, ScanScene, scan

Array = NDArray[np.float64]
STEPS = np.array([2.2, 1.95, 1.65, 1.35, 1.05, 0.8, 0.6, 0.45, 0.35, 0.28, 0.24])
SCENE = ScanScene(
    STEPS[:, None], np.array([0.2]), np.array([0.1]), width=400, height=220, pitch=24, across=70, before=40, after=46,
    beside=20, beyond="gate", noise=3e-5, full_well=1e6, grain=0.01,
)  # fmt: skip
RGB = replace(
    SCENE,
    densities=np.column_stack([STEPS, 0.9 * STEPS, 1.1 * STEPS]),
    film=np.array([0.2, 0.18, 0.22]),
    base=np.array([0.1, 0.1, 0.1]),
)
DARK = LightReference(values=np.array([0.002]))


def saved(folder: Path, made: Made, name: str = "scan") -> Path:
    """Write a scan, and beside it the scan of its empty gate; return the name of the first."""
    for end, picture in (("", made.picture), ("-empty", made.empty)):
        rgb = picture.shape[2] == 3
        tifffile.imwrite(
            folder / f"{name}{end}.tif", picture if rgb else picture[..., 0],
            photometric="rgb" if rgb else "minisblack",
        )  # fmt: skip
    return folder / f"{name}.tif"


def areas_of(made: Made) -> Areas:
    ladder = Ladder(made.corners, len(made.densities))
    corners = np.array([ladder.patch(step) for step in range(1, ladder.steps + 1)])
    return Areas("step", tuple(range(1, ladder.steps + 1)), corners)


def read(
    path: Path, made: Made, clear: LightReference, dark: LightReference | None = DARK, how: Encoding = LINEAR
) -> ScanMeasurement:
    """Return what all of the way makes of a scan without a calibration wedge."""
    with Scan(path, how) as opened:
        light = light_of(opened, clear, dark)
        return measure(opened, areas_of(made), stored_of(opened, "own", light, None).calibration(), light)


def value(level: float, samples: int = 1) -> LightReference:
    return LightReference(values=np.full(samples, level))


def test_a_scan_is_found_and_measured_all_the_way(tmp_path: Path) -> None:
    made = scan(replace(SCENE, angle=3.0, turned=1), 1)
    with Scan(saved(tmp_path, made), LINEAR) as opened:
        search = find_in(opened, 11, "negative", None)
        assert search.ladder is not None, search.doubt
        assert off_by(search.ladder, made.corners) < 0.1
        light = light_of(opened, value(0.902), DARK)
        calibration = stored_of(opened, "own", light, None).calibration()
        corners = np.array([search.ladder.patch(step) for step in range(1, 12)])
        found = measure(opened, Areas("step", tuple(range(1, 12)), corners), calibration, light)
    assert found.density[:, 0] == pytest.approx(STEPS, abs=0.005)
    assert (found.error > 0).all()
    assert found.flags == ()


def test_a_ladder_is_found_in_an_area_of_a_picture_that_was_made_small(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = scan(replace(SCENE, width=800, height=440, pitch=48, across=140, before=80, after=92, beside=40), 1)
    monkeypatch.setattr(scan_module, "_LONGEST", 400)
    with Scan(saved(tmp_path, made), LINEAR) as opened:
        assert opened.whole()[1] == 2
        area = np.array([[41.0, 51], [780, 51], [780, 400], [41, 400]])
        search = find_in(opened, 11, "negative", area)
    assert search.ladder is not None, search.doubt
    assert off_by(search.ladder, made.corners) < 0.1
    assert search.looked is not None
    assert off_by(search.looked, made.corners) < 0.1


def test_colours_are_measured_each_by_its_own_clear(tmp_path: Path) -> None:
    made = scan(RGB, 2)
    found = read(saved(tmp_path, made), made, value(0.902, 3), value(0.002, 3))
    assert found.density == pytest.approx(RGB.densities, abs=0.006)


def test_clear_and_dark_by_area_measure_as_by_value(tmp_path: Path) -> None:
    made = scan(replace(SCENE, border=12.0), 3)  # an opaque frame at the picture's own edges
    path = saved(tmp_path, made)
    with Scan(path, LINEAR) as opened:
        clear = reference("area:20,20,60,60", opened.facts, "clear")
        dark = reference("area:1,1,390,9", opened.facts, "dark")
        light = light_of(opened, clear, dark)
    assert light.clear == pytest.approx([0.902], abs=0.001)
    assert light.dark == pytest.approx([0.002], abs=0.0003)
    assert (light.assumed_dark, light.field) == (False, None)
    assert read(path, made, clear, dark).density[:, 0] == pytest.approx(STEPS, abs=0.01)


def test_a_dark_that_nobody_gave_is_zero_and_said_to_be_assumed(tmp_path: Path) -> None:
    made = scan(SCENE, 3)
    with Scan(saved(tmp_path, made), LINEAR) as opened:
        light = light_of(opened, value(0.902), None)
    assert light.assumed_dark
    assert light.dark.tolist() == [0.0]


def test_a_picture_of_the_empty_gate_takes_uneven_light_out(tmp_path: Path) -> None:
    made = scan(replace(SCENE, fall_off=0.3), 4)
    path = saved(tmp_path, made)
    even = read(path, made, LightReference(picture=tmp_path / "scan-empty.tif")).density[:, 0]
    assert even == pytest.approx(STEPS, abs=0.006)
    uneven = read(path, made, value(0.902)).density[:, 0]
    assert np.abs(uneven - STEPS).max() > 0.02  # by the fall-off itself


def test_an_encoded_scan_is_turned_back_into_light(tmp_path: Path) -> None:
    made = scan(replace(SCENE, encode=lambda v: v ** (1 / 2.2)), 5)
    path = saved(tmp_path, made)
    gamma = parse_encoding("gamma:2.2")
    encoded = value(0.902 ** (1 / 2.2))  # values count as the picture's own numbers do
    assert read(path, made, encoded, value(0.002 ** (1 / 2.2)), gamma).density[:, 0] == pytest.approx(STEPS, abs=0.006)


def test_an_encoded_scan_read_as_linear_is_doubted(tmp_path: Path) -> None:
    made = scan(replace(SCENE, bits=8), 5)
    path = saved(tmp_path, made)
    with Scan(path, LINEAR) as opened:
        assert opened.doubt() == "it has 8 bits, and pictures of 8 bits are nearly always encoded"
    with Scan(path, parse_encoding("srgb")) as opened:
        assert opened.doubt() == ""


def refused(act: object) -> str:
    """Return the text of the refusal that calling ``act`` ends in."""
    assert callable(act)
    with pytest.raises(RecordError) as refusal:
        act()
    return str(refusal.value)


def test_clear_that_is_not_brighter_than_dark_is_refused(tmp_path: Path) -> None:
    with Scan(saved(tmp_path, scan(SCENE, 3)), LINEAR) as opened:
        assert refused(lambda: light_of(opened, value(0.1), value(0.1))) == (
            "scan.tif: clear is not brighter than dark; needed: clear: light through the empty gate; dark: light"
            " with the gate closed.\nTry: give clear or dark."
        )


def test_a_clear_area_at_the_end_of_the_scale_is_refused(tmp_path: Path) -> None:
    with Scan(saved(tmp_path, scan(replace(SCENE, clear=1.2), 3)), LINEAR) as opened:
        clear = reference("area:2,2,60,60", opened.facts, "clear")
        assert refused(lambda: light_of(opened, clear, DARK)) == (
            "scan.tif: the light of clear or dark is beyond the scale, so it cannot be measured; needed: clear and dark"
            " inside the scale.\nTry: scan with less light, or give the value (clear)."
        )


def test_another_scan_of_other_bits_or_samples_is_refused(tmp_path: Path) -> None:
    path = saved(tmp_path, scan(SCENE, 3))
    for scene, has in ((replace(SCENE, bits=8), "1 samples of 8 bits"), (RGB, "3 samples of 16 bits")):
        other = saved(tmp_path, scan(scene, 3), "other")
        with Scan(path, LINEAR) as opened:
            text = refused(lambda o=opened, p=other: light_of(o, LightReference(picture=p), DARK))
            assert text == refused(lambda o=opened, p=other: another(o, p))
        assert text == (
            f"other.tif: the scan has {has}, and scan.tif 1 of 16; needed: scans made with the same settings."
        )


def test_an_empty_gate_of_another_size_is_refused(tmp_path: Path) -> None:
    made = scan(SCENE, 3)
    path = saved(tmp_path, made)
    other = saved(tmp_path, scan(replace(SCENE, width=420), 3), "other").with_name("other-empty.tif")
    text = refused(lambda: read(path, made, LightReference(picture=other)))
    assert text == (
        "other-empty.tif: the scan of the empty gate is 420 x 220 pixels, and scan.tif 400 x 220; needed: the empty"
        " gate scanned in the same frame."
    )


def test_an_empty_gate_that_is_dark_where_the_strip_lies_is_refused(tmp_path: Path) -> None:
    made = scan(SCENE, 3)
    path = saved(tmp_path, made)
    shut = made.empty.copy()
    shut[:, :120] = 200
    tifffile.imwrite(tmp_path / "half.tif", shut[..., 0], photometric="minisblack")
    assert refused(lambda: read(path, made, LightReference(picture=tmp_path / "half.tif"))) == (
        "half.tif: the scan of the empty gate is dark in the place of the strip; needed: a scan of the empty gate,"
        " nothing in front of the light.\n"
        "Try: give clear as values or as an area (clear)."
    )


def test_without_a_picture_of_the_gate_clear_is_the_same_everywhere(tmp_path: Path) -> None:
    with Scan(saved(tmp_path, scan(SCENE, 3)), LINEAR) as opened:
        assert clear_at(opened, Light(np.array([0.9]), np.array([0.0]), True), []) is None


def test_an_area_of_too_few_pixels_or_none_is_refused(tmp_path: Path) -> None:
    with Scan(saved(tmp_path, scan(SCENE, 3)), LINEAR) as opened:
        few = np.array([[10.0, 10], [17, 10], [17, 19], [10, 19]])
        assert refused(lambda: opened.area(few)) == (
            "scan.tif: an area has only 63 pixels; needed: at least 64.\nTry: scan at a higher resolution."
        )
        assert len(opened.area(few + np.array([[0, 0], [1, 0], [1, 0], [0, 0]]))) == 1  # 72 are enough
        assert refused(lambda: opened.area(few + 500)) == "scan.tif: an area lies outside the picture."


def test_of_a_large_area_the_middle_is_measured(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    picture = np.full((200, 300), 10000, dtype=np.uint16)
    picture[50:150, 75:225] = 20000
    tifffile.imwrite(tmp_path / "large.tif", picture, photometric="minisblack")
    monkeypatch.setattr(scan_module, "MOST_PIXELS", 15000)
    with Scan(tmp_path / "large.tif", LINEAR) as opened:
        whole = np.array([[0.0, 0], [300, 0], [300, 200], [0, 200]])
        (found,) = opened.area(whole)
    assert found.light == pytest.approx(20000 / 65535)
    assert found.pixels == 15000


WEDGE = Wedge(np.asarray(0.05 + 0.2 * np.arange(14, dtype=np.float64)), np.full(14, 0.01))
WEDGE_SCENE = replace(
    SCENE, densities=WEDGE.density[:, None], film=np.array([0.05]), base=np.array([0.05]), pitch=20, flare=0.004,
    noise=1e-5, before=30, after=30,
)  # fmt: skip


@pytest.mark.parametrize("turned", [0, 2])
@pytest.mark.parametrize("backwards", [False, True])
def test_a_calibration_wedge_is_found_kept_and_takes_flare_out(tmp_path: Path, turned: int, backwards: bool) -> None:
    made = scan(replace(WEDGE_SCENE, turned=turned), 6)
    wedge = replace(WEDGE, density=WEDGE.density[::-1]) if backwards else WEDGE
    with Scan(saved(tmp_path, made, "wedge"), LINEAR) as opened:
        light = light_of(opened, value(0.902), DARK)
        stored = stored_of(opened, "Bench", light, wedge_light(opened, light, known_ladder(opened, wedge, None), wedge))
    write_calibration(tmp_path / "bench.toml", stored)

    strip = scan(replace(SCENE, flare=0.004), 7)
    with Scan(saved(tmp_path, strip), LINEAR) as opened:
        kept = read_calibration(tmp_path / "bench.toml")
        agrees(opened, kept, "bench.toml")
        own = Light(kept.clear, kept.dark, kept.assumed_dark)
        found = measure(opened, areas_of(strip), kept.calibration().for_picture(opened.whole()[0]), own)
    assert found.density[:, 0] == pytest.approx(STEPS, abs=0.015)
    assert kept.calibration().maps[0].doubt == ""


def test_a_patch_denser_than_the_wedge_is_not_read(tmp_path: Path) -> None:
    made = scan(WEDGE_SCENE, 6)
    short = Wedge(WEDGE.density[:9], WEDGE.uncertainty[:9])
    with Scan(saved(tmp_path, made), LINEAR) as opened:
        light = light_of(opened, value(0.902), DARK)
        ends = made.corners[:2] + (made.corners[[3, 2]] - made.corners[:2]) * 9 / 14
        nine = Ladder(np.array([made.corners[0], made.corners[1], ends[1], ends[0]]), 9)
        known = wedge_light(opened, light, nine, short)
        found = measure(opened, areas_of(made), stored_of(opened, "nine", light, known).calibration(), light)
    assert np.isnan(found.density[:, 0]).tolist() == [False] * 9 + [True] * 5
    assert np.isnan(found.error[:, 0]).tolist() == [False] * 9 + [True] * 5
    last = found.flags[-1]
    assert (last.patch, last.code, last.channel) == (14, "beyond-scale", "visual")
    assert last.message == "the patch lies beyond the calibration wedge, whose densest step is 1.65; not read"


def test_a_patch_darker_than_dark_is_not_read(tmp_path: Path) -> None:
    made = scan(SCENE, 3)
    found = read(saved(tmp_path, made), made, value(0.902), value(0.01))
    assert np.isnan(found.density[0, 0])
    assert [f.message for f in found.flags if f.patch == 1] == [
        "no light is left above dark: denser than the scan can show; not read"
    ]


def test_a_clipped_patch_is_left_out_and_flagged(tmp_path: Path) -> None:
    made = scan(replace(SCENE, clear=2.0), 3)
    found = read(saved(tmp_path, made), made, value(0.999))
    assert np.isnan(found.density[-1, 0])
    assert {f.code for f in found.flags if f.patch == 11} == {"clipped-clear"}


def test_a_wedge_that_is_not_certain_is_refused(tmp_path: Path) -> None:
    with Scan(saved(tmp_path, scan(WEDGE_SCENE, 6)), LINEAR) as opened:
        text = refused(lambda: known_ladder(opened, Wedge.nominal(31, 0.1), None))
    assert text.startswith("scan.tif: the calibration wedge is not certain: ")
    assert text.endswith("Try: give the place of the wedge, or its corners (known_area or known_corners).")


@pytest.mark.parametrize(("encoding", "scene", "made"), [
    ("gamma:2.2", SCENE, "linear pictures of 1 samples and 16 bits; scan.tif has gamma:2.2, 1 and 16"),
    ("linear", replace(SCENE, bits=8), "linear pictures of 1 samples and 16 bits; scan.tif has linear, 1 and 8"),
    ("linear", RGB, "linear pictures of 1 samples and 16 bits; scan.tif has linear, 3 and 16"),
])  # fmt: skip
def test_a_calibration_of_other_settings_is_refused(tmp_path: Path, encoding: str, scene: ScanScene, made: str) -> None:
    with Scan(saved(tmp_path, scan(SCENE, 3), "first"), LINEAR) as opened:
        stored = stored_of(opened, "Bench", light_of(opened, value(0.902), DARK), None)
    with Scan(saved(tmp_path, scan(scene, 3)), parse_encoding(encoding)) as opened:
        assert refused(lambda: agrees(opened, stored, "bench.toml")) == (
            f"bench.toml: the calibration was made for {made}; needed: a calibration made with the scan's own settings."
        )
