"""Pictures that are broken, of another kind, or made to do harm: refused in words, soon, and without taking the memory.

The files are opened, read whole and made small in one process of its own, whose memory is limited; it notes time and
memory of each.
"""

from __future__ import annotations

import json
import struct
import subprocess
import sys
import zlib
from collections.abc import Callable, Mapping
from io import BytesIO
from pathlib import Path
from typing import Any

import imagecodecs
import numpy as np
import pytest
import tifffile
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from curves.errors import RecordError
from curves.files.pictures.images import open_image
from tests.files.pictures.made import (
    Field,
    directory,
    grey_fields,
    png,
    png_chunk,
    png_file,
    png_header,
    tiff,
)

pytestmark = pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="memory is measured as Linux tells it")

SECONDS = 5.0
MEGABYTES = 400.0
GREY = np.arange(12, dtype=np.uint16).reshape(3, 4, 1) * 999

READER = """
import json, resource, sys, time
from pathlib import Path
from curves.errors import CurvesError
from curves.files.pictures.images import open_image
resource.setrlimit(resource.RLIMIT_AS, (3_000_000_000, 3_000_000_000))
for path in sorted(Path(sys.argv[1]).iterdir()):
    start = time.perf_counter()
    try:
        with open_image(path) as image:
            image.reduced()
            image.region(0, 0, min(999, image.facts.height), min(999, image.facts.width))
        said = ""
    except CurvesError as error:
        said = str(error)
    # not ru_maxrss: a process inherits that from the one that started it
    most = int(Path("/proc/self/status").read_text().partition("VmHWM:")[2].split()[0]) / 1e3
    print(json.dumps([path.name, type(said).__name__, said, time.perf_counter() - start, most]))
"""


def but(**changes: Field) -> bytes:
    """Return a small grey TIFF in which some tags are others: t278=("I", [0])."""
    return tiff(grey_fields() | {int(name[1:]): field for name, field in changes.items()})


def without(*tags: int) -> bytes:
    """Return a small grey TIFF that lacks some tags."""
    return tiff({tag: field for tag, field in grey_fields().items() if tag not in tags})


def colours(bits: int = 16, **changes: Field) -> bytes:
    """Return a TIFF whose pixels have three samples, with some tags changed."""
    base: dict[str, Field] = {"t258": ("H", [bits] * 3), "t277": ("H", [3]), "t279": ("I", [24 * 3])}
    fields = grey_fields(bits=bits) | {int(name[1:]): field for name, field in (base | changes).items()}
    return tiff(fields, bytes(72))


def tiles(side: int, tile: int, packed: bytes, packing: int = 8) -> bytes:
    """Return a TIFF of square tiles that all point to where they should, each with the same packed bytes."""
    count = (-(-side // tile)) ** 2
    fields = grey_fields(side, side) | {
        259: ("H", [packing]),
        322: ("I", [tile]),
        323: ("I", [tile]),
        324: ("I", [8 + len(packed) * index for index in range(count)]),
        325: ("I", [len(packed)] * count),
    }
    return tiff({tag: field for tag, field in fields.items() if tag not in (273, 278, 279)}, packed * count)


def strip(width: int, height: int, packed: bytes, packing: int = 8) -> bytes:
    """Return a TIFF of one packed strip."""
    return tiff(grey_fields(width, height, size=len(packed)) | {259: ("H", [packing])}, packed)


def large_strip(packing: int, packed: bytes) -> bytes:
    """Return a TIFF of one packed strip of 12000 x 12000 pixels, most significant byte first, as differences."""
    changes: dict[int, Field] = {259: ("H", [packing]), 317: ("H", [2])}
    return tiff(grey_fields(12_000, 12_000, size=len(packed)) | changes, packed, order=">")


def zeros(count: int) -> bytes:
    """Return a zlib stream of so many zeros: the same packed million again and again, the rest, the checksum."""
    stream = zlib.compressobj(9, zlib.DEFLATED, -15)
    million = stream.compress(bytes(1_000_000)) + stream.flush(zlib.Z_FULL_FLUSH)
    rest = stream.compress(bytes(count % 1_000_000)) + stream.flush()
    checksum = struct.pack(">HH", count % 65521, 1)  # Adler-32 of zeros
    return b"\x78\x9c" + million * (count // 1_000_000) + rest + checksum


def big_tiff(count: int, kind: int = 16) -> bytes:
    """Return a 64-bit TIFF whose strip offsets are said to be so many."""
    head = struct.pack("<2sHHHQ", b"II", 43, 8, 0, 16)
    tags = [(256, 4, 1, 4), (257, 4, 1, 3), (258, 3, 1, 16), (262, 3, 1, 1), (273, kind, count, 16), (279, 16, 1, 24)]
    return head + struct.pack("<Q", len(tags)) + b"".join(struct.pack("<HHQQ", *tag) for tag in tags) + bytes(99)


NAN = struct.pack("<12d", *[float("nan")] * 12)
CIRCLE = b"II*\0" + struct.pack("<I", 32) + bytes(24) + directory(grey_fields(), 32, following=32)
DEFLATED = zlib.compress(GREY.tobytes())
LZW = bytes(imagecodecs.lzw_encode(GREY.tobytes()))
WRONG_SUM = DEFLATED[:-1] + bytes([DEFLATED[-1] ^ 1])
ROWS = b"".join(b"\0" + row.tobytes() for row in GREY)
PNG_HEAD = png_header(4, 3, 16, 0)
DAMAGED = "the file is damaged or incomplete: "

# what is wrong -> (name's ending, the file, what is said of it)
BROKEN: Mapping[str, tuple[str, Callable[[], bytes], str]] = {
    "nothing at all": (".tif", lambda: b"", "the file is empty"),
    "three bytes": (".tif", lambda: b"II*", DAMAGED + "it starts like no TIFF and no PNG"),
    "no directory": (".tif", lambda: b"II*\0" + bytes(4), DAMAGED + "it has no directory, so no picture"),
    "a directory beyond the end": (".tif", lambda: b"II*\0\xff\xff\xff\xff", DAMAGED + "bytes 4294967295 to"),
    "directories in a circle": (".tif", lambda: CIRCLE, DAMAGED + "its directories run in a circle"),
    "a directory of no tags": (".tif", lambda: b"II*\0" + struct.pack("<I", 8) + bytes(8), "byte 8 has 0 tags"),
    "65535 tags": (".tif", lambda: b"II*\0" + struct.pack("<I", 8) + b"\xff" * 800_000, "byte 8 has 65535 tags"),
    "a wrong 64-bit header": (".tif", lambda: b"II+\0" + bytes(60), "its header is not that of a 64-bit TIFF"),
    "a billion offsets": (".tif", lambda: big_tiff(10**9), "tag 273 has 1000000000 values, not 1 to"),
    "2 ** 63 offsets": (".tif", lambda: big_tiff(2**63), "tag 273 has 9223372036854775808 values"),
    "offsets that are fractions": (".tif", lambda: big_tiff(1, 5), "tag 273 holds no unsigned integers"),
    "negative offsets": (".tif", lambda: big_tiff(1, 17), "tag 273 holds no unsigned integers"),
    "100,000 x 100,000": (
        ".tif",
        lambda: but(t256=("I", [100_000]), t257=("I", [100_000]), t278=("I", [100_000])),
        DAMAGED + "a picture of 100000 x 100000 pixels does not fit into its size",
    ),
    "100,000 x 100,000 in rows": (
        ".tif",
        lambda: but(t256=("I", [100_000]), t257=("I", [100_000]), t278=("I", [1])),
        DAMAGED + "its picture needs 100000 strips or tiles, and tag 273 has 1",
    ),
    "4 billion x 4 billion": (
        ".tif",
        lambda: but(t256=("I", [2**32 - 1]), t257=("I", [2**32 - 1]), t278=("I", [2**32 - 1])),
        "a picture of 4294967295 x 4294967295 pixels, in parts of 4294967295 x 4294967295, is no scan",
    ),
    "tiles of 4 billion": (".tif", lambda: tiles(32, 2**32 - 1, b"12345678"), "4294967295 x 4294967295, is no scan"),
    "tiles of one pixel": (
        ".tif",
        lambda: but(t256=("I", [10**6]), t257=("I", [9]), t322=("I", [1]), t323=("I", [1])),
        "no scan",
    ),
    "no width": (".tif", lambda: but(t256=("I", [0])), "its picture is 0 x 3 pixels"),
    "no height": (".tif", lambda: but(t257=("I", [0])), "its picture is 4 x 0 pixels"),
    "width missing": (".tif", lambda: without(256), "tag 256 is missing"),
    "several widths": (".tif", lambda: but(t256=("I", [4, 4])), "tag 256 has 2 values, not 1 to 1"),
    "no rows in a strip": (".tif", lambda: but(t278=("I", [0])), "its strips or tiles are 4 x 0 pixels"),
    "no strips": (".tif", lambda: without(273), "its picture needs 1 strips or tiles, and tag 273 has 0"),
    "no sizes of strips": (".tif", lambda: without(279), "its picture needs 1 strips or tiles, and tag 279 has 0"),
    "more strips than it needs": (
        ".tif",
        lambda: but(t273=("I", [8, 8])),
        "needs 1 strips or tiles, and tag 273 has 2",
    ),
    "a strip beyond the end": (".tif", lambda: but(t273=("I", [9999])), "beyond the end of the file (tag 273)"),
    "a strip over the end": (".tif", lambda: but(t273=("I", [140])), "part of its picture is missing"),
    "a strip at byte 0": (".tif", lambda: but(t273=("I", [0])), "part of its picture is missing"),
    "a strip on the directory": (".tif", lambda: but(t273=("I", [16])), "parts of its picture lie on each other"),
    "strips on each other": (
        ".tif",
        lambda: but(t278=("I", [2]), t273=("I", [8, 12]), t279=("I", [16, 8])),
        "parts of its picture lie on each other",
    ),
    "a strip that is too short": (".tif", lambda: but(t279=("I", [23])), "fewer bytes than its pixels need"),
    "16 samples, two described": (
        ".tif",
        lambda: but(t277=("H", [16]), t258=("H", [16, 16])),
        "it describes 2 samples, and a pixel has 16",
    ),
    "planes of a third kind": (".tif", lambda: but(t284=("H", [3])), "its planar configuration is 3, not 1 or 2"),
    "a deflate stream that is cut": (".tif", lambda: strip(4, 3, DEFLATED[:-5]), "the stream ends early"),
    "a wrong deflate checksum": (".tif", lambda: strip(4, 3, WRONG_SUM), "incorrect data check"),
    "a deflate stream that is too long": (".tif", lambda: strip(4, 2, DEFLATED), "16 bytes or more, not 16"),
    "a deflate stream that is too short": (
        ".tif",
        lambda: strip(4, 5, DEFLATED),
        "unpacks to 24 bytes or more, not 40",
    ),
    "an LZW stream that is cut": (".tif", lambda: strip(4, 3, LZW[:-5], 5), "a strip or tile unpacks to"),
    "an LZW stream of rubbish": (".tif", lambda: strip(4, 3, b"\xa5" * 30, 5), "a strip or tile"),
    "a bomb of a strip": (".tif", lambda: strip(4, 3, zeros(10**9)), "unpacks to 24 bytes or more, not 24"),
    "a strip as large as they may be": (".tif", lambda: large_strip(8, zeros(288_000_000)), ""),
    "a strip of 900 MB": (
        ".tif",
        lambda: strip(21_000, 21_000, zeros(882_000_000)),
        "its picture must be unpacked whole, and takes 882 MB; needed: at most 300 MB, packed and unpacked together.\n"
        "Try: save it as an uncompressed TIFF, or a TIFF in tiles; those are read piece by piece at any size.",
    ),
    "tiles of 20 GB": (
        ".tif",
        lambda: tiles(100_000, 10_000, zeros(200_000_000)),
        "its picture unpacks to 20,000 MB; needed: at most 2,000 MB",
    ),
    "a colour profile beyond the end": (".tif", lambda: big_profile(), DAMAGED + "bytes 4000000000 to"),
    "a PNG of only its signature": (".png", lambda: png(GREY)[:8], DAMAGED + "bytes 8 to 16 are asked for"),
    "a PNG with a wrong checksum": (
        ".png",
        lambda: png_file(PNG_HEAD[:-4] + bytes(4), zlib.compress(ROWS)),
        DAMAGED + "the checksum of its part at byte 8 is wrong",
    ),
    "a PNG without values": (".png", lambda: png(GREY)[:8] + PNG_HEAD + png_chunk(b"IEND", b""), "it holds no values"),
    "a PNG without end": (".png", lambda: png(GREY)[:-12], DAMAGED),
    "a PNG that is interrupted": (
        ".png",
        lambda: png(GREY)[:8] + PNG_HEAD + (png_chunk(b"IDAT", b"x") + png_chunk(b"tEXt", b"")) * 2,
        "its values are interrupted",
    ),
    "a PNG of two headers": (".png", lambda: png(GREY)[:8] + PNG_HEAD * 2, "it has two headers"),
    "a PNG of no width": (".png", lambda: png_file(png_header(0, 3, 16, 0), b""), "its header makes no sense"),
    "a PNG of 100,000 x 100,000": (
        ".png",
        lambda: png_file(png_header(100_000, 100_000, 16, 2), zlib.compress(ROWS)),
        "a picture of 100000 x 100000 pixels does not fit into its size",
    ),
    "a PNG of 900 MB": (
        ".png",
        lambda: png_file(png_header(21_000, 21_000, 16, 0), zeros(882_021_000)),
        "its picture must be unpacked whole, and takes 882 MB",
    ),
    "a PNG as large as they may be": (
        ".png",
        lambda: png_file(png_header(12_000, 12_000, 16, 0), zeros(288_012_000)),
        "",
    ),
    "a bomb of a PNG": (
        ".png",
        lambda: png_file(PNG_HEAD, zeros(10**9)),
        "its values unpack to 1048576 bytes or more, not 27",
    ),
    "a PNG that is too short": (
        ".png",
        lambda: png_file(PNG_HEAD, zlib.compress(ROWS[:-9])),
        "18 bytes or more, not 27",
    ),
    "a PNG whose stream is cut": (
        ".png",
        lambda: png_file(PNG_HEAD, zlib.compress(ROWS)[:-6]),
        "the stream ends early",
    ),
    "a PNG of no filter": (".png", lambda: png_file(PNG_HEAD, zlib.compress(b"\7" * 27)), "cannot be unpacked"),
    "a PNG with a bomb of a profile": (
        ".png",
        lambda: png(GREY, aside=[(b"iCCP", b"it\0\0" + zeros(10**9))]),
        "",
    ),
}

READABLE = "needed: a TIFF or PNG file of 8 or 16 bit, grey or RGB.\n"
PLAIN = "Try: save it as an uncompressed TIFF of 8 or 16 bit, grey or RGB."
RAW = "Try: make a linear 16-bit TIFF of it with a raw converter, and name that"

# what it is -> (name's ending, the file, what is said of it)
OTHER_KINDS: Mapping[str, tuple[str, Callable[[], bytes], str]] = {
    "1 bit": (".tif", lambda: tiff(grey_fields(bits=1, size=3)), f"its values have 1 bit; {READABLE}{PLAIN}"),
    "12 bit": (".tif", lambda: tiff(grey_fields(bits=12)), f"its values have 12 bit; {READABLE}{PLAIN}"),
    "32 bit": (".tif", lambda: tiff(grey_fields(2, 3, 32)), f"its values have 32 bit; {READABLE}{PLAIN}"),
    "two depths": (".tif", lambda: colours(t258=("H", [16, 16, 8]), t262=("H", [2])), "its values have 8 and 16 bit"),
    "64-bit floats, all NaN": (
        ".tif",
        lambda: tiff(grey_fields(bits=64) | {339: ("H", [3])}, NAN),
        f"its values are floating-point numbers; {READABLE}{PLAIN}",
    ),
    "16-bit floats": (".tif", lambda: but(t339=("H", [3])), "its values are floating-point numbers"),
    "signed": (".tif", lambda: but(t339=("H", [2])), "its values are signed integers"),
    "palette": (".tif", lambda: but(t262=("H", [3])), f"its pixels are a palette; {READABLE}{PLAIN}"),
    "CMYK": (".tif", lambda: but(t262=("H", [5])), "its pixels are inks (CMYK)"),
    "YCbCr": (".tif", lambda: colours(t262=("H", [6])), "its pixels are luma and chroma (YCbCr)"),
    "Lab": (".tif", lambda: colours(t262=("H", [8])), "its pixels are Lab"),
    "unknown colours": (".tif", lambda: but(t262=("H", [999])), "its pixels are of an unknown kind, 999"),
    "RGB of one sample": (".tif", lambda: but(t262=("H", [2])), "its pixels have 1 samples for 3 colours"),
    "white at 0": (
        ".tif",
        lambda: but(t262=("H", [0])),
        "its grey runs from white at 0 to black; needed: grey with black at 0.\n"
        "Try: save it again with black at 0 (as most programs do), and look whether the light parts are light.",
    ),
    "JPEG in a TIFF": (
        ".tif",
        lambda: but(t259=("H", [7])),
        f"its values are packed as JPEG, which may change them; {READABLE}{PLAIN}",
    ),
    "packed otherwise": (
        ".tif",
        lambda: but(t259=("H", [50000])),
        "its values are packed in a way that is not read (compression 50000); needed: an uncompressed TIFF, or LZW or "
        f"deflate (also called ZIP).\n{PLAIN}",
    ),
    "predictor for floats": (".tif", lambda: strip_with(317, 3), "its values are packed with predictor 3"),
    "bits backwards": (".tif", lambda: but(t266=("H", [2])), "the bits of its bytes run backwards"),
    "a colour filter array": (
        ".tif",
        lambda: but(t262=("H", [32803])),
        f"the file is a raw file of a camera; {READABLE}{RAW}.",
    ),
    "linear raw": (".tif", lambda: but(t262=("H", [34892])), f"the file is a raw file of a camera; {READABLE}{RAW}."),
    "raw behind a thumbnail": (".tif", lambda: raw_behind_a_thumbnail(), "the file is a raw file of a camera"),
    "a TIFF of another name": (
        ".raw",
        lambda: but(),
        "the file is built like a TIFF but not named like one, as raw files of cameras are; needed: a TIFF file named "
        f".tif or .tiff, or a PNG file.\n{RAW}; if it is an ordinary TIFF, rename it to .tif.",
    ),
    "another number for TIFF": (
        ".tif",
        lambda: b"IIRX" + bytes(99),
        "the file looks like a raw file of a camera, or a lossy",
    ),
    "boxes": (
        ".xyz",
        lambda: bytes(4) + b"ftypabcd" + bytes(99),
        "the file looks like a raw file of a camera, or a lossy",
    ),
    "JPEG": (
        ".jpg",
        lambda: b"\xff\xd8\xff\xe0" + bytes(99),
        f"the file is a JPEG: 8 bit, encoded for display, and packed with loss; {READABLE}"
        "Try: scan again to TIFF; saving the JPEG as TIFF does not bring back what it lost.",
    ),
    "text": (
        ".tif",
        lambda: b"step,density\n1,0.05\n",
        f"the file is neither TIFF nor PNG; {READABLE}{PLAIN[:-1]}; if it is a raw",
    ),
    "PNG palette": (
        ".png",
        lambda: png_file(png_header(4, 3, 8, 3), b""),
        f"its pixels are a palette; {READABLE}{PLAIN}",
    ),
    "PNG of 4 bit": (
        ".png",
        lambda: png_file(png_header(4, 3, 4, 0), b""),
        f"its values have 4 bit; {READABLE}{PLAIN}",
    ),
}


def big_profile() -> bytes:
    """Return a TIFF whose colour profile is said to lie far beyond its end."""
    whole = but(t34675=("7", bytes(8)))
    place = whole.index(struct.pack("<HHI", 34675, 7, 8)) + 8
    return whole[:place] + struct.pack("<I", 4_000_000_000) + whole[place + 4 :]


def strip_with(tag: int, value: int) -> bytes:
    """Return a TIFF of one deflated strip with one tag more."""
    fields = grey_fields(size=len(DEFLATED)) | {259: ("H", [8]), tag: ("H", [value])}
    return tiff(fields, DEFLATED)


def raw_behind_a_thumbnail() -> bytes:
    """Return a TIFF whose picture is small and plain, and points to one behind a colour filter array."""
    hidden = directory(grey_fields() | {262: ("H", [32803])}, 32)
    return tiff(grey_fields() | {330: ("I", [32])}, bytes(24) + hidden)


Verdict = tuple[str, str, float, float]


@pytest.fixture(scope="module")
def verdicts(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Verdict]:
    """Return what is said of each file: the kind of answer, its text, seconds and megabytes."""
    folder = tmp_path_factory.mktemp("broken")
    for index, (ending, make, _) in enumerate((*BROKEN.values(), *OTHER_KINDS.values())):
        (folder / f"{index:03}{ending}").write_bytes(make())
    done = subprocess.run([sys.executable, "-c", READER, folder], capture_output=True, encoding="utf-8", check=False)
    assert (done.returncode, done.stderr) == (0, "")
    lines = [json.loads(line) for line in done.stdout.splitlines()]
    return dict(zip((*BROKEN, *OTHER_KINDS), [tuple(line[1:]) for line in lines], strict=True))


@pytest.mark.parametrize("name", [*BROKEN, *OTHER_KINDS])
def test_what_cannot_be_read_is_refused_in_words_soon_and_in_little_memory(
    verdicts: dict[str, Verdict], name: str
) -> None:
    expected = (BROKEN.get(name) or OTHER_KINDS[name])[2]
    _, said, seconds, megabytes = verdicts[name]
    assert (expected in said) if expected else (said == "")
    assert seconds < SECONDS
    assert megabytes < MEGABYTES


# Small files in which any byte may be wrong


def small_files() -> dict[str, bytes]:
    """Return small pictures in several layouts."""
    values = np.random.default_rng(1).integers(0, 65535, (19, 23, 3), dtype=np.uint16)
    layouts: dict[str, dict[str, Any]] = {
        "plain.tif": {"rowsperstrip": 4},
        "tiles.tif": {"tile": (16, 16), "compression": "zlib", "predictor": True},
        "lzw.tif": {"compression": "lzw", "byteorder": ">", "rowsperstrip": 8},
        "big.tif": {"bigtiff": True, "resolution": (2400, 2400), "resolutionunit": 2, "iccprofile": bytes(150)},
    }
    return {name: written(values, **how) for name, how in layouts.items()} | {
        "plain.png": png(values),
        "interlaced.png": png(values[..., :1], interlaced=True, aside=[(b"gAMA", bytes(4))]),
    }


def written(values: Any, **how: Any) -> bytes:
    """Return a TIFF file as tifffile writes it."""
    stream = BytesIO()
    tifffile.imwrite(stream, values, photometric="rgb", **how)
    return stream.getvalue()


SMALL = small_files()


def assert_read_or_refused(path: Path, *, cut: bool = False) -> None:
    """Assert that a file gives values of the shape and depth it states, or an error in words, and nothing else."""
    try:
        with open_image(path) as image:
            facts = image.facts
            region = image.region(0, 0, facts.height, facts.width)
            assert region.shape == (facts.height, facts.width, facts.samples)
            assert region.dtype == np.dtype(f"u{facts.bits // 8}")
            assert np.isfinite(image.reduced(9)[0]).all()
    except RecordError as error:
        named = path.name in str(error)
    else:
        named = not cut
    assert named


@pytest.mark.parametrize("name", SMALL)
def test_a_file_cut_at_any_byte_is_refused(tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    whole = SMALL[name]
    for length in range(0, len(whole), 1 if len(whole) < 1500 else 11):
        path.write_bytes(whole[:length])
        assert_read_or_refused(path, cut=True)


@pytest.mark.parametrize("name", SMALL)
def test_no_wrong_byte_leads_to_anything_but_values_or_words(tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    whole = SMALL[name]
    for place in range(min(400, len(whole))):
        wrong = (0, 255, whole[place] ^ 1, whole[place] ^ 128)[place % 4]
        path.write_bytes(whole[:place] + bytes([wrong]) + whole[place + 1 :])
        assert_read_or_refused(path)


@settings(max_examples=300, deadline=2000, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data(), name=st.sampled_from(sorted(SMALL)))
def test_many_wrong_bytes_lead_to_values_or_words_too(tmp_path: Path, data: st.DataObject, name: str) -> None:
    whole = bytearray(SMALL[name])
    places = st.integers(0, min(len(whole), 600) - 1)
    for place, wrong in data.draw(st.dictionaries(places, st.integers(0, 255), max_size=12)).items():
        whole[place] = wrong
    path = tmp_path / name
    path.write_bytes(whole[: data.draw(st.integers(len(whole) // 2, len(whole)))])
    assert_read_or_refused(path)


# What is not there


def test_a_missing_file_a_folder_and_a_device_are_refused(tmp_path: Path) -> None:
    for path, said in (
        (tmp_path / "none.tif", "there is no such file.\nTry: check the name."),
        (tmp_path, "that is a folder; needed: a picture file."),
        (Path("/dev/zero"), "that is no ordinary file; needed: a picture file."),
    ):
        with pytest.raises(RecordError) as caught:
            open_image(path)
        assert str(caught.value) == f"{path}: {said}"


def test_a_missing_package_is_named_with_the_way_to_get_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "imagecodecs", None)
    for name in ("lzw.tif", "plain.png"):
        path = tmp_path / name
        path.write_bytes(SMALL[name])
        with pytest.raises(RecordError) as caught:
            open_image(path)
        assert str(caught.value) == (
            f"{name}: unpacking this picture needs the package imagecodecs, which is not installed.\n"
            "Try: pip install 'stepwedge-curves[scan]', or save it as an uncompressed TIFF."
        )


def test_a_file_that_shrinks_while_it_is_read_is_an_error_in_words(tmp_path: Path) -> None:
    path = tmp_path / "a.tif"
    whole = written(np.zeros((200, 200, 3), dtype=np.uint16))
    path.write_bytes(whole)
    with open_image(path) as image:
        path.write_bytes(whole[:50_000])
        with pytest.raises(RecordError, match="it ends at byte 50000, sooner than when it was opened"):
            image.region(0, 0, 200, 200)
