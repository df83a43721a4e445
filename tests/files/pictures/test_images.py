"""Every layout of a scan is read value for value, whole and in part.

Most files are written by tifffile and imagecodecs, others by hand. tifffile also reads the directories of TIFF files,
and imagecodecs unpacks; what the values are and where they lie is found by code of ours alone. Expected values are the
arrays that were written.
"""

from __future__ import annotations

import itertools
import json
import struct
import subprocess
import sys
import zlib
from pathlib import Path
from typing import Any

import imagecodecs
import numpy as np
import pytest
import tifffile
from numpy.typing import NDArray

from curves.errors import RecordError
from curves.files.pictures.image import open_image
from tests.files.pictures.made import Chunk, curv, grey_fields, para, png, profile, tiff

HEIGHT, WIDTH = 37, 53
REGIONS = ((0, 0, HEIGHT, WIDTH), (5, 7, 23, 41), (36, 52, 37, 53), (0, 16, 16, 32), (9, 0, 10, 53), (4, 4, 4, 9))
PACKINGS = ((None, False), ("zlib", False), ("zlib", True), ("lzw", False), ("lzw", True))
LAYOUTS = [
    pytest.param(*layout, id="-".join(map(str, layout)))
    for layout in itertools.product((8, 16), (1, 2, 3, 4), ("contig", "separate"), ("strips", "tiles"), "<>", PACKINGS)
    if layout[1:3] != (1, "separate")
]


def some_values(bits: int, samples: int) -> NDArray[Any]:
    """Return values that are all different from their neighbours, and smooth enough that predictors matter."""
    noise = np.random.default_rng(bits + samples).integers(0, 2**bits // 4, (HEIGHT, WIDTH, samples))
    slope = np.linspace(0, 2**bits * 0.74, WIDTH)[None, :, None]
    return (noise + slope).astype(f"u{bits // 8}")


def write_tiff(path: Path, values: NDArray[Any], **how: Any) -> None:
    """Write values, (rows, columns, samples), as one picture; two or four samples are colours and an alpha."""
    samples = values.shape[2]
    how.setdefault("photometric", "rgb" if samples > 2 else "minisblack")
    if samples in (2, 4):
        how.setdefault("extrasamples", ["unassalpha"])
    if how.get("planarconfig") == "separate":
        values = np.moveaxis(values, -1, 0)
    elif samples == 1:
        values = values[..., 0]
    tifffile.imwrite(path, values, **how)


def assert_reads(path: Path, values: NDArray[Any]) -> None:
    """Assert that a file has the values, whole, in odd parts, and made small."""
    with open_image(path) as image:
        facts = image.facts
        assert (facts.height, facts.width, facts.samples) == values.shape
        assert facts.bits == 8 * values.itemsize
        for top, left, bottom, right in REGIONS:
            found = image.region(top, left, bottom, right)
            assert found.dtype == values.dtype
            assert found.dtype.isnative
            np.testing.assert_array_equal(found, values[top:bottom, left:right])
        small, factor = image.reduced(11)
    assert factor == 5
    full = 2.0**facts.bits - 1.0
    expected = [
        [values[r : r + 5, c : c + 5].mean(axis=(0, 1)) / full for c in range(0, WIDTH, 5)] for r in range(0, HEIGHT, 5)
    ]
    np.testing.assert_allclose(small, expected, rtol=1e-12)


@pytest.mark.parametrize(("bits", "samples", "planes", "parts", "order", "packing"), LAYOUTS)
def test_a_tiff_of_any_usual_layout_is_read_value_for_value(
    tmp_path: Path, bits: int, samples: int, planes: str, parts: str, order: str, packing: tuple[str | None, bool]
) -> None:
    values = some_values(bits, samples)
    where: dict[str, Any] = {"rowsperstrip": 5} if parts == "strips" else {"tile": (16, 32)}
    for big in (False, True):
        path = tmp_path / f"{big}.tif"
        write_tiff(
            path,
            values,
            planarconfig=None if samples == 1 else planes,
            byteorder=order,
            compression=packing[0],
            predictor=packing[1],
            bigtiff=big,
            **where,
        )
        assert_reads(path, values[..., : 3 if samples > 2 else 1])


def test_the_last_strip_may_be_packed_as_if_it_went_on_below_the_picture(tmp_path: Path) -> None:
    values = np.arange(5 * 4, dtype=np.uint8).reshape(5, 4)
    strips = [zlib.compress(values[:4].tobytes()), zlib.compress(values[4:].tobytes() + bytes(12))]
    fields = grey_fields(4, 5, 8) | {
        259: ("H", [8]),
        273: ("I", [8, 8 + len(strips[0])]),
        278: ("I", [4]),
        279: ("I", list(map(len, strips))),
    }
    path = tmp_path / "a.tif"
    path.write_bytes(tiff(fields, b"".join(strips)))
    with open_image(path) as image:
        np.testing.assert_array_equal(image.region(0, 0, 5, 4)[..., 0], values)


@pytest.mark.parametrize("planes", ["contig", "separate"])
def test_colours_that_were_multiplied_with_a_full_alpha_are_read_and_others_refused(
    tmp_path: Path, planes: str
) -> None:
    values = some_values(16, 4)
    values[..., 3] = 65535
    path = tmp_path / "a.tif"
    write_tiff(path, values, extrasamples=["assocalpha"], planarconfig=planes)
    assert_reads(path, values[..., :3])
    values[20, 30, 3] = 65534
    write_tiff(path, values, extrasamples=["assocalpha"], planarconfig=planes)
    with open_image(path) as image:
        np.testing.assert_array_equal(image.region(0, 0, 20, 53), values[:20, :, :3])
        with pytest.raises(RecordError, match="the picture is partly transparent, and its colours were changed"):
            image.region(0, 0, 21, 53)


@pytest.mark.parametrize("bits", [8, 16])
@pytest.mark.parametrize("samples", [1, 2, 3, 4])
def test_a_png_is_read_value_for_value(tmp_path: Path, bits: int, samples: int) -> None:
    values = some_values(bits, samples)
    written = {
        "written.png": imagecodecs.png_encode(values[..., 0] if samples == 1 else values),
        "plain.png": png(values),
        "interlaced.png": png(values, interlaced=True),
    }
    for name, data in written.items():
        (tmp_path / name).write_bytes(data)
        assert_reads(tmp_path / name, values[..., : 3 if samples > 2 else 1])


@pytest.mark.parametrize(
    "aside", [(b"gAMA", struct.pack(">I", 45455)), (b"sBIT", b"\5\5\5"), (b"tRNS", bytes(6)), (b"bKGD", bytes(6))]
)
def test_nothing_that_a_png_says_of_its_values_changes_them(tmp_path: Path, aside: Chunk) -> None:
    values = some_values(16, 3)
    values[3, 4] = 0
    path = tmp_path / "a.png"
    path.write_bytes(png(values, aside=[aside]))
    assert_reads(path, values)


def test_the_content_says_what_a_file_is_and_a_png_may_be_named_otherwise(tmp_path: Path) -> None:
    path = tmp_path / "scan.tif"
    path.write_bytes(png(some_values(16, 1)))
    assert_reads(path, some_values(16, 1))


@pytest.mark.parametrize("region", [(-1, 0, 3, 3), (0, 0, 38, 3), (0, 0, 3, 54), (4, 0, 3, 3), (0, 9, 3, 8)])
def test_a_region_outside_the_picture_is_never_clipped(tmp_path: Path, region: tuple[int, int, int, int]) -> None:
    path = tmp_path / "a.tif"
    write_tiff(path, some_values(8, 1))
    with open_image(path) as image, pytest.raises(ValueError, match="are not inside 37 x 53"):
        image.region(*region)


def test_a_picture_that_is_small_enough_is_not_made_smaller(tmp_path: Path) -> None:
    path = tmp_path / "a.tif"
    values = some_values(16, 3)
    write_tiff(path, values)
    with open_image(path) as image:
        small, factor = image.reduced()
        with pytest.raises(ValueError, match="must be 1 or more, not 0"):
            image.reduced(0)
    assert factor == 1
    np.testing.assert_array_equal(small, values / 65535.0)


# Reduced copies and several pictures


def test_reduced_copies_beside_the_picture_are_passed_over(tmp_path: Path) -> None:
    path = tmp_path / "a.tif"
    values = some_values(16, 3)
    for first in (False, True):
        with tifffile.TiffWriter(path) as writer:
            pages = [(values, 0), (values[:30, :50], 1), (values[::2, ::2][:18, :26], 0)]
            for page, kind in reversed(pages) if first else pages:
                writer.write(page, photometric="rgb", subfiletype=kind)
        assert_reads(path, values)


def test_a_file_of_several_pictures_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "a.tif"
    with tifffile.TiffWriter(path) as writer:
        for _ in range(3):
            writer.write(some_values(16, 3), photometric="rgb")
    with pytest.raises(RecordError) as caught:
        open_image(path)
    assert str(caught.value) == (
        "a.tif: the file holds 3 pictures; needed: one picture; reduced copies of it may stand beside it.\n"
        "Try: save each picture as a file of its own."
    )


# Resolution


@pytest.mark.parametrize(
    ("resolution", "unit", "dpi"),
    [
        ((2400, 2400), 2, 2400.0),
        ((1000, 1000), 3, 2540.0),
        ((72, 72), 2, 72.0),
        ((2400, 2400), 1, None),
        ((2400, 1200), 2, None),
        ((0, 0), 2, None),
        ((40000, 40000), 2, None),
    ],
)
def test_the_resolution_of_a_tiff_counts_where_it_is_one(
    tmp_path: Path, resolution: tuple[int, int], unit: int, dpi: float | None
) -> None:
    path = tmp_path / "a.tif"
    write_tiff(path, some_values(8, 1), resolution=resolution, resolutionunit=unit)
    with open_image(path) as image:
        assert image.facts.dpi == (None if dpi is None else pytest.approx(dpi, rel=1e-12))


@pytest.mark.parametrize(
    ("across", "down", "unit", "dpi"),
    [(94488, 94488, 1, 2399.9952), (94488, 94488, 0, None), (94488, 4, 1, None), (0, 0, 1, None)],
)
def test_the_resolution_of_a_png_counts_where_it_is_one(
    tmp_path: Path, across: int, down: int, unit: int, dpi: float | None
) -> None:
    path = tmp_path / "a.png"
    path.write_bytes(png(some_values(8, 1), aside=[(b"pHYs", struct.pack(">IIB", across, down, unit))]))
    with open_image(path) as image:
        assert image.facts.dpi == (None if dpi is None else pytest.approx(dpi))  # 0.0254 m to the inch


# Encoding

SRGB = (2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045)  # IEC 61966-2-1 as a curve of ICC.1, type 3
CURVES = [
    (curv(), ""),
    (curv(256), ""),
    (curv(0, 65535), ""),
    (curv(563), "its colour profile, 'a scanner', has a tone curve, gamma about 2.2"),
    (curv(0, 16384, 65535), "its colour profile, 'a scanner', has a tone curve, gamma about 2.0"),
    (para(0, 1.0), ""),
    (para(0, 1.8), "its colour profile, 'a scanner', has a tone curve, gamma about 1.8"),
    (para(1, 2.0, 1.0, 0.0), "its colour profile, 'a scanner', has a tone curve, gamma about 2.0"),
    (para(2, 1.0, 1.0, 0.0, 0.0), ""),
    (para(3, *SRGB), "its colour profile, 'a scanner', has a tone curve, gamma about 2.2"),
    (para(4, 1.0, 1.0, 0.0, 1.0, 0.0, 0.0, 0.0), ""),
    (para(9), "it carries a colour profile that cannot be read"),
    (b"", "it carries a colour profile that cannot be read"),
    (curv(*([7] * 9))[:-4], "it carries a colour profile that cannot be read"),
]


@pytest.mark.parametrize(("curve", "says"), CURVES)
def test_a_colour_profile_says_whether_the_values_follow_the_light(tmp_path: Path, curve: bytes, says: str) -> None:
    path = tmp_path / "a.tif"
    write_tiff(path, some_values(16, 3), iccprofile=profile(curve))
    with open_image(path) as image:
        assert image.facts.encoded == says
    path.write_bytes(png(some_values(16, 3), aside=[(b"iCCP", b"it\0\0" + zlib.compress(profile(curve)))]))
    with open_image(path) as image:
        assert image.facts.encoded == says


@pytest.mark.parametrize("rubbish", [b"", b"acsp" * 9, profile(curv())[:140], profile(curv())[:-1], b"\xff" * 300])
def test_a_colour_profile_of_rubbish_is_said_to_be_unreadable(tmp_path: Path, rubbish: bytes) -> None:
    path = tmp_path / "a.png"
    path.write_bytes(png(some_values(16, 3), aside=[(b"iCCP", b"it\0\0" + zlib.compress(rubbish))]))
    with open_image(path) as image:
        assert image.facts.encoded == "it carries a colour profile that cannot be read"


@pytest.mark.parametrize(
    ("aside", "says"),
    [
        ([(b"sRGB", b"\0")], "it states the colour space sRGB"),
        ([(b"gAMA", struct.pack(">I", 45455))], "it states a gamma of 2.20"),
        ([(b"gAMA", struct.pack(">I", 100000))], ""),
        ([(b"gAMA", bytes(4))], ""),
        ([(b"cICP", bytes([1, 8, 0, 1])), (b"sRGB", b"\0")], ""),
        ([(b"cICP", bytes([1, 13, 0, 1]))], "it states transfer function 13 of ITU-T H.273"),
        ([], ""),
    ],
)
def test_the_chunks_of_a_png_say_whether_the_values_follow_the_light(
    tmp_path: Path, aside: list[Chunk], says: str
) -> None:
    path = tmp_path / "a.png"
    path.write_bytes(png(some_values(16, 3), aside=aside))
    with open_image(path) as image:
        assert image.facts.encoded == says


@pytest.mark.parametrize(("exponent", "says"), [(1.0, ""), (2.2, "it states a transfer function, gamma about 2.2")])
def test_the_transfer_function_of_a_tiff_says_whether_the_values_follow_the_light(
    tmp_path: Path, exponent: float, says: str
) -> None:
    table = np.round(65535 * np.linspace(0, 1, 256) ** exponent).astype(int).tolist()
    path = tmp_path / "a.tif"
    path.write_bytes(tiff(grey_fields(4, 3, 8) | {301: ("H", table)}))
    with open_image(path) as image:
        assert image.facts.encoded == says


@pytest.mark.parametrize(
    ("field", "says"),
    [
        ((40961, 3, 1, 1), "it states the colour space sRGB"),
        ((40961, 3, 1, 65535), ""),
        ((42240, 5, 1, 38), "it states a gamma of 2.20"),
    ],
)
def test_the_camera_fields_of_a_tiff_count(tmp_path: Path, field: tuple[int, ...], says: str) -> None:
    camera = struct.pack("<HHHIIIII", 1, *field, 0, 220, 100)
    path = tmp_path / "a.tif"
    path.write_bytes(tiff(grey_fields(4, 3, 8) | {34665: ("I", [20])}, bytes(12) + camera))
    with open_image(path) as image:
        assert image.facts.encoded == says


# Memory


def measured(work: str, path: Path) -> dict[str, Any]:
    """Return what a fresh interpreter finds, and the most memory it had resident [MB]."""
    if not Path("/proc/self/status").exists():
        pytest.skip("memory is measured as Linux tells it")
    code = (
        "import json, sys\nfrom pathlib import Path\nfrom curves.files.pictures.image import open_image\n"
        f"with open_image(Path(sys.argv[1])) as image:\n    {work}\n"
        "most = int(Path('/proc/self/status').read_text().partition('VmHWM:')[2].split()[0]) / 1e3\n"
        "print(json.dumps({'found': found, 'most': most}))"
    )
    done = subprocess.run([sys.executable, "-c", code, path], capture_output=True, encoding="utf-8", check=False)
    assert done.returncode == 0, done.stderr
    result: dict[str, Any] = json.loads(done.stdout)
    return result


WORK = (
    "a = image.region(9000, 9000, 9400, 9300); b = image.region(0, 17, image.facts.height, 21); "
    "c, factor = image.reduced(); found = [int(a.sum()), int(b.sum()), c.shape, factor, float(c.sum())]"
)


def test_a_gigabyte_in_one_strip_is_read_in_less_than_400_megabytes(tmp_path: Path) -> None:
    side, bytes_all = 18_300, 18_300 * 9_200 * 6
    fields = grey_fields(9_200, side) | {
        258: ("H", [16, 16, 16]),
        262: ("H", [2]),
        277: ("H", [3]),
        279: ("I", [bytes_all]),
    }
    head = 512
    fields[273] = ("I", [head])
    path = tmp_path / "large.tif"
    with path.open("wb") as file:
        file.write(tiff(fields, b""))
        file.seek(head + (9_100 * 9_200 + 9_100) * 6)
        file.write(struct.pack("<3H", 1, 20, 300))
        file.truncate(head + bytes_all)  # sparse: the rest are zeros that take no room
    assert path.stat().st_size > 1_000_000_000
    result = measured(WORK.replace("9400, 9300", "9400, 9200"), path)
    assert result["most"] < 400
    assert result["found"] == [321, 0, [1144, 575, 3], 16, pytest.approx(321 / 65535 / 256)]


def test_a_gigabyte_in_tiles_is_read_in_less_than_400_megabytes(tmp_path: Path) -> None:
    tile = zlib.compress(np.full((1024, 1024, 3), 257, dtype="<u2").tobytes(), 1)
    count = 13 * 13
    starts = [8 + len(tile) * index for index in range(count)]
    fields = grey_fields(13 * 1024, 13 * 1024) | {
        258: ("H", [16, 16, 16]),
        259: ("H", [8]),
        262: ("H", [2]),
        277: ("H", [3]),
        322: ("I", [1024]),
        323: ("I", [1024]),
        324: ("I", starts),
        325: ("I", [len(tile)] * count),
    }
    for strips in (273, 278, 279):
        del fields[strips]
    path = tmp_path / "large.tif"
    path.write_bytes(tiff(fields, tile * count))
    result = measured(WORK, path)
    assert result["most"] < 400
    rows = -(-13 * 1024 // 12)
    assert result["found"] == [
        400 * 300 * 3 * 257,
        4 * 13 * 1024 * 3 * 257,
        [rows, rows, 3],
        12,
        pytest.approx(rows * rows * 3 / 255),
    ]
