"""Pictures that are broken, of another kind, or made to do harm: refused in words, soon, and without taking the memory.

The files are opened, read whole and made small in one process of its own, whose memory is limited; it notes the time
of work (CPU, so that other work on the machine does not count) and the memory of each.
"""

from __future__ import annotations

import json
import struct
import subprocess
import sys
import zlib
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
from curves.files.pictures.image import open_image
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

SECONDS = 5.0  # of work, on any machine: far more than any of them takes
MEGABYTES = 400.0
GREY = np.arange(12, dtype=np.uint16).reshape(3, 4, 1) * 999

READER = """
import json, resource, sys, time
from pathlib import Path
from curves.errors import CurvesError
from curves.files.pictures.image import open_image
resource.setrlimit(resource.RLIMIT_AS, (3_000_000_000, 3_000_000_000))
for path in sorted(Path(sys.argv[1]).iterdir()):
    start = time.process_time()
    try:
        with open_image(path) as image:
            image.reduced()
            image.region(0, 0, min(999, image.facts.height), min(999, image.facts.width))
        said = ""
    except CurvesError as error:
        said = str(error)
    # Not ru_maxrss: a process inherits that from the one that started it. Only Linux tells the memory of one process
    # alone; elsewhere all else is tried.
    status = Path("/proc/self/status")
    most = int(status.read_text().partition("VmHWM:")[2].split()[0]) / 1e3 if status.exists() else 0.0
    print(json.dumps([path.name, type(said).__name__, said, time.process_time() - start, most]))
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


def planes(width: int, height: int, packed: bytes) -> bytes:
    """Return a TIFF of three planes of 8 bit, each one packed strip."""
    changes: dict[int, Field] = {
        258: ("H", [8] * 3),
        259: ("H", [8]),
        262: ("H", [2]),
        273: ("I", [8 + len(packed) * plane for plane in range(3)]),
        277: ("H", [3]),
        279: ("I", [len(packed)] * 3),
        284: ("H", [2]),
    }
    return tiff(grey_fields(width, height, 8) | changes, packed * 3)


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


def big_profile() -> bytes:
    """Return a TIFF whose colour profile is said to lie far beyond its end."""
    whole = but(t34675=("7", bytes(8)))
    place = whole.index(struct.pack("<HHI", 34675, 7, 8)) + 8
    return whole[:place] + struct.pack("<I", 4_000_000_000) + whole[place + 4 :]


def repeated(entry: tuple[int, int, int, int], count: int, directories: int = 1, room: int = 0) -> bytes:
    """Return a TIFF of directories that hold one entry (tag, kind, count, offset) again and again, and zeros."""
    size = 2 + 12 * count + 4
    table = struct.pack("<H", count) + struct.pack("<HHII", *entry) * count
    chain = [table + struct.pack("<I", 8 + size * number) for number in range(1, directories)]
    return b"II*\0" + struct.pack("<I", 8) + b"".join(chain) + table + bytes(4 + room)


def raw_behind_a_thumbnail() -> bytes:
    """Return a TIFF whose picture is small and plain, and points to one behind a colour filter array."""
    hidden = directory(grey_fields() | {262: ("H", [32803])}, 32)
    return tiff(grey_fields() | {330: ("I", [32])}, bytes(24) + hidden)


NAN = struct.pack("<12d", *[float("nan")] * 12)
CIRCLE = b"II*\0" + struct.pack("<I", 32) + bytes(24) + directory(grey_fields(), 32, following=32)
DEFLATED = zlib.compress(GREY.tobytes())
LZW = bytes(imagecodecs.lzw_encode(GREY.tobytes()))
WRONG_SUM = DEFLATED[:-1] + bytes([DEFLATED[-1] ^ 1])
ROWS = b"".join(b"\0" + row.tobytes() for row in GREY)
PNG_HEAD = png_header(4, 3, 16, 0)
PACKED = zlib.compress(ROWS)
Cases = dict[str, tuple[bytes, str]]
DAMAGED = "the file is damaged or incomplete: "
CORRUPT = DAMAGED + "packed values are corrupt, cut short, or more than the pixels need"
BEYOND = DAMAGED + "part of the picture is empty, or lies beyond the end of the file"
ON_EACH_OTHER = DAMAGED + "parts of the picture lie on each other"
MISSING = DAMAGED + "a directory is missing, so no picture can be found"
UNREADABLE = DAMAGED + "the directories cannot be read"
CHUNKS = DAMAGED + "the header comes twice, or the values are interrupted"

# what is wrong -> the file, what is said of it
BROKEN_TIFF: Cases = {
    "nothing at all": (b"", "the file is empty"),
    "three bytes": (b"II*", DAMAGED + "the file begins as neither a TIFF, a PNG nor a JPEG does"),
    "no directory": (b"II*\0" + bytes(4), MISSING),
    "a directory beyond the end": (b"II*\0\xff\xff\xff\xff", MISSING),
    "a second directory beyond the end": (tiff(grey_fields(), following=9999), MISSING),
    "directories in a circle": (CIRCLE, DAMAGED + "the directories run in a circle, or are more than 32"),
    "a directory of no tags": (b"II*\0" + struct.pack("<I", 8) + bytes(8), "the directory at byte 8 has 0 tags"),
    "65535 tags": (b"II*\0" + struct.pack("<I", 8) + b"\xff" * 800_000, UNREADABLE),
    "a hundred directories of 4096 tags": (repeated((60000, 99, 1, 0), 4096, 100), "in a circle, or are more than 32"),
    "a large list of strips 4096 times": (repeated((273, 3, 2_000_000, 60_000), 4096, 1, 5_000_000), "more than 8 MB"),
    "a text of 100 MB": (repeated((270, 2, 100_000_000, 30), 1, 1, 100_000_100), "the directories have more than 8 MB"),
    "a wrong 64-bit header": (b"II+\0" + bytes(60), UNREADABLE),
    "a billion offsets": (big_tiff(10**9), DAMAGED + "the directory at byte 16 lacks the values of tag 273"),
    "2 ** 63 offsets": (big_tiff(2**63), DAMAGED + "the directory at byte 16 lacks the values of tag 273"),
    "offsets that are fractions": (big_tiff(1, 5), DAMAGED + "tag 273 does not hold unsigned integers"),
    "negative offsets": (big_tiff(1, 17), DAMAGED + "tag 273 does not hold unsigned integers"),
    "100,000 x 100,000": (
        but(t256=("I", [100_000]), t257=("I", [100_000]), t278=("I", [100_000])),
        DAMAGED + "a picture of 100000 x 100000 pixels does not fit into the file's size"),
    "100,000 x 100,000 in rows": (
        but(t256=("I", [100_000]), t257=("I", [100_000]), t278=("I", [1])),
        DAMAGED + "a picture of 100000 x 100000 pixels does not fit into the file's size"),
    "4 billion x 4 billion": (
        but(t256=("I", [2**32 - 1]), t257=("I", [2**32 - 1]), t278=("I", [2**32 - 1])),
        "a picture of 4294967295 x 4294967295 pixels, in parts of 4294967295 x 4294967295, is not a scan"),
    "tiles of 4 billion": (tiles(32, 2**32 - 1, b"12345678"), "in parts of 4294967295 x 4294967295, is not a scan"),
    "tiles of one pixel": (
        but(t256=("I", [10**6]), t257=("I", [9]), t322=("I", [1]), t323=("I", [1])),
        "a picture of 1000000 x 9 pixels, in parts of 1 x 1, is not a scan"),
    "no width": (but(t256=("I", [0])), "a picture of 0 x 3 pixels, in parts of 0 x 3, is not a scan"),
    "no height": (but(t257=("I", [0])), "a picture of 4 x 0 pixels, in parts of 4 x 0, is not a scan"),
    "width missing": (without(256), DAMAGED + "tag 256 has 0 values, not 1"),
    "several widths": (but(t256=("I", [4, 4])), DAMAGED + "tag 256 has 2 values, not 1"),
    "no rows in a strip": (but(t278=("I", [0])), "a picture of 4 x 3 pixels, in parts of 4 x 0, is not a scan"),
    "no strips": (without(273), DAMAGED + "tag 273 has 0 values, not 1 to 300000"),
    "no sizes of strips": (without(279), DAMAGED + "tag 279 has 0 values, not 1 to 300000"),
    "more strips than it needs": (but(t273=("I", [8, 8])), "picture needs 1 strips or tiles, and the file states 2"),
    "a strip beyond the end": (but(t273=("I", [9999])), BEYOND),
    "a strip over the end": (but(t273=("I", [140])), BEYOND),
    "a strip at byte 0": (but(t273=("I", [0])), BEYOND),
    "a strip on the directory": (but(t273=("I", [16])), ON_EACH_OTHER),
    "strips on each other": (but(t278=("I", [2]), t273=("I", [8, 12]), t279=("I", [16, 8])), ON_EACH_OTHER),
    "a strip that is too short": (but(t279=("I", [23])), "a strip or tile has fewer bytes than its pixels need"),
    "16 samples, two described": (
        but(t277=("H", [16]), t258=("H", [16, 16])), "tag 258 describes 2 samples, and a pixel has 16"),
    "planes of a third kind": (but(t284=("H", [3])), "the arrangement of samples is of a kind that is not read (3)"),
    "a deflate stream that is cut": (strip(4, 3, DEFLATED[:-5]), CORRUPT),
    "a wrong deflate checksum": (strip(4, 3, WRONG_SUM), CORRUPT),
    "a deflate stream that is too long": (strip(4, 2, DEFLATED), CORRUPT),
    "a deflate stream that is too short": (strip(4, 5, DEFLATED), "unpacks to 24 bytes or more, not 40"),
    "an LZW stream that is cut": (strip(4, 3, LZW[:-5], 5), "a strip or tile unpacks to 21 bytes or more, not 24"),
    "an LZW stream that is too long": (strip(4, 2, LZW, 5), "a strip or tile unpacks to 17 bytes or more, not 16"),
    "an LZW stream of rubbish": (strip(4, 3, b"\xa5" * 30, 5), CORRUPT),
    "a bomb of a strip": (strip(4, 3, zeros(10**9)), CORRUPT),
    "a strip as large as they may be": (large_strip(8, zeros(288_000_000)), ""),
    "a strip of 900 MB": (
        strip(21_000, 21_000, zeros(882_000_000)),
        "the picture must be unpacked whole, and takes 882 MB; needed: at most 300 MB, packed and unpacked together.\n"
        "Try: save the picture as an uncompressed TIFF, or a TIFF in tiles; those are read at any size."),
    "planes of 120 MB": (planes(12_000, 10_000, zeros(120_000_000)), "the picture must be unpacked whole, and takes"),
    "tiles of 20 GB": (
        tiles(100_000, 10_000, zeros(200_000_000)), "the picture unpacks to 20,000 MB; needed: at most 2,000 MB."),
    "a colour profile beyond the end": (big_profile(), "the directory at byte 32 lacks the values of tag 34675"),
}  # fmt: skip
BROKEN_PNG: Cases = {
    "a PNG of only its signature": (png(GREY)[:8], DAMAGED + "bytes 8 to 29 are needed and the file has 8"),
    "a PNG with a wrong checksum": (
        png_file(PNG_HEAD[:-4] + bytes(4), PACKED), DAMAGED + "the checksum of the chunk at byte 8 is wrong"),
    "a PNG without values": (
        png(GREY)[:8] + PNG_HEAD + png_chunk(b"IEND", b""), "the file holds no values, or more than 200000 chunks"),
    "a PNG without end": (png(GREY)[:-12], DAMAGED + "bytes 80 to 88 are needed and the file has 80"),
    "a PNG that is interrupted": (
        png(GREY)[:8] + PNG_HEAD + (png_chunk(b"IDAT", b"x") + png_chunk(b"tEXt", b"")) * 2, CHUNKS),
    "a PNG of two headers": (png(GREY)[:8] + PNG_HEAD * 2, CHUNKS),
    "a PNG of 300,000 chunks": (
        png(GREY)[:8] + PNG_HEAD + png_chunk(b"tEXt", b"") * 300_000, "no values, or more than 200000 chunks"),
    "a PNG of no width": (png_file(png_header(0, 3, 16, 0), b""), DAMAGED + "the header makes no sense"),
    "a PNG of 100,000 x 100,000": (
        png_file(png_header(100_000, 100_000, 16, 2), PACKED),
        DAMAGED + "a picture of 100000 x 100000 pixels does not fit into the file's size"),
    "a PNG of 900 MB": (
        png_file(png_header(21_000, 21_000, 16, 0), zeros(882_021_000)),
        "the picture must be unpacked whole, and takes 882 MB; needed: at most 300 MB"),
    "a PNG as large as they may be": (png_file(png_header(12_000, 12_000, 16, 0), zeros(288_012_000)), ""),
    "a bomb of a PNG": (png_file(PNG_HEAD, zeros(10**9)), CORRUPT),
    "a PNG that is too short": (png_file(PNG_HEAD, zlib.compress(ROWS[:-9])), "the values unpack to 18 bytes, not 27"),
    "a PNG that is too long": (png_file(PNG_HEAD, zlib.compress(ROWS + b"1")), "unpack to 28 bytes, not 27"),
    "a PNG whose stream is cut": (png_file(PNG_HEAD, PACKED[:-6]), CORRUPT),
    "a PNG with bytes behind its stream": (png_file(PNG_HEAD, PACKED + b"12"), "27 bytes, not 27, or others follow"),
    "a PNG of no filter": (png_file(PNG_HEAD, zlib.compress(b"\7" * 27)), CORRUPT),
    "a PNG with a bomb of a profile": (png(GREY, aside=[(b"iCCP", b"it\0\0" + zeros(10**9))]), ""),
}  # fmt: skip

READABLE = "; needed: a TIFF or PNG file of 8 or 16 bit, a JPEG, or a raw file of a camera, grey or RGB.\n"
PLAIN = READABLE + "Try: save the picture as an uncompressed TIFF of 8 or 16 bit, grey or RGB"
RAW = "Try: make a linear 16-bit TIFF with a raw converter, and give that file"
CAMERA = f"the file is a raw file of a camera{READABLE}{RAW}."
NO_PICTURE = f"the file is neither TIFF, PNG nor JPEG, nor a raw file that can be read{READABLE}{RAW}"

# what it is -> the file, what is said of it
OTHER_TIFF: Cases = {
    "1 bit": (tiff(grey_fields(bits=1, size=3)), f"the values have 1 bit{PLAIN}"),
    "12 bit": (tiff(grey_fields(bits=12)), f"the values have 12 bit{PLAIN}"),
    "32 bit": (tiff(grey_fields(2, 3, 32)), f"the values have 32 bit{PLAIN}"),
    "two depths": (colours(t258=("H", [16, 16, 8]), t262=("H", [2])), f"the values have 8 bit and 16 bit{PLAIN}"),
    "64-bit floats, all NaN": (
        tiff(grey_fields(bits=64) | {339: ("H", [3])}, NAN), f"the values are floating-point numbers{PLAIN}"),
    "16-bit floats": (but(t339=("H", [3])), f"the values are floating-point numbers{PLAIN}"),
    "signed": (but(t339=("H", [2])), f"the values are signed integers{PLAIN}"),
    "palette": (but(t262=("H", [3])), f"the pixels are a palette{PLAIN}"),
    "CMYK": (but(t262=("H", [5])), f"the pixels are inks (CMYK){PLAIN}"),
    "YCbCr": (colours(t262=("H", [6])), f"the pixels are luma and chroma (YCbCr){PLAIN}"),
    "Lab": (colours(t262=("H", [8])), f"the pixels are Lab{PLAIN}"),
    "unknown colours": (but(t262=("H", [999])), f"the pixels are of a kind that is not read (999){PLAIN}"),
    "RGB of one sample": (but(t262=("H", [2])), f"the pixels have 1 samples for 3 colours and 0 others{PLAIN}"),
    "an alpha that is not there": (but(t338=("H", [1])), f"have 1 samples for 1 colours and 1 others{PLAIN}"),
    "white at 0": (
        but(t262=("H", [0])),
        f"the pixels are grey from white at 0 to black{READABLE}"
        "Try: save the picture with black at 0 (as most programs do), and look whether the light parts are light."),
    "JPEG in a TIFF": (but(t259=("H", [7])), f"the packing is JPEG, which may change values{PLAIN}"),
    "packed otherwise": (but(t259=("H", [50000])), f"the packing is of a kind that is not read (50000){PLAIN}"),
    "predictor for floats": (but(t317=("H", [3])), f"the predictor is of a kind that is not read (3){PLAIN}"),
    "bits backwards": (but(t266=("H", [2])), f"the order of bits is backwards{PLAIN}"),
    "a colour filter array": (but(t262=("H", [32803])), CAMERA),
    "linear raw": (but(t262=("H", [34892])), CAMERA),
    "raw behind a thumbnail": (raw_behind_a_thumbnail(), CAMERA),
    "another number for TIFF": (b"IIRX" + bytes(99), NO_PICTURE),
    "boxes": (bytes(4) + b"ftypabcd" + bytes(99), NO_PICTURE),
    "JPEG without a picture": (
        b"\xff\xd8\xff\xe0" + bytes(99), "the file is damaged or incomplete: the segment at byte 2 has no length"),
    "text": (b"step,density\n1,0.05\n", NO_PICTURE),
}  # fmt: skip
OTHER_PNG: Cases = {
    "PNG palette": (png_file(png_header(4, 3, 8, 3), b""), f"the pixels are a palette{PLAIN}"),
    "PNG of 4 bit": (png_file(png_header(4, 3, 4, 0), b""), f"the values have 4 bit{PLAIN}"),
}
OTHER_NAME: Cases = {
    "a TIFF of another name": (
        but(),
        f"{NO_PICTURE}; if this is an ordinary TIFF, rename it to .tif."),
}  # fmt: skip
ENDINGS = ((".tif", BROKEN_TIFF | OTHER_TIFF), (".png", BROKEN_PNG | OTHER_PNG), (".raw", OTHER_NAME))
CASES = {name: (ending, *case) for ending, table in ENDINGS for name, case in table.items()}

Verdict = tuple[str, str, float, float]


@pytest.fixture(scope="module")
def verdicts(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Verdict]:
    """Return what is said of each file: the kind of answer, its text, seconds of work and megabytes."""
    folder = tmp_path_factory.mktemp("broken")
    for index, (ending, data, _) in enumerate(CASES.values()):
        (folder / f"{index:03}{ending}").write_bytes(data)
    command = [sys.executable, "-W", "error", "-c", READER, str(folder)]
    done = subprocess.run(command, capture_output=True, encoding="utf-8", check=False)
    assert (done.returncode, done.stderr) == (0, "")
    lines = [json.loads(line) for line in done.stdout.splitlines()]
    return dict(zip(CASES, [tuple(line[1:]) for line in lines], strict=True))


@pytest.mark.parametrize("name", CASES)
def test_what_cannot_be_read_is_refused_in_words_soon_and_in_little_memory(
    verdicts: dict[str, Verdict], name: str
) -> None:
    expected = CASES[name][2]
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


@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
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
        (tmp_path, "this is a folder; needed: a picture file."),
        (Path("/dev/zero"), "this is not an ordinary file; needed: a picture file."),
    ):
        with pytest.raises(RecordError) as caught:
            open_image(path)
        assert str(caught.value) == f"{path}: {said}"


def test_a_missing_package_is_named_with_the_way_to_get_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for package, name in (("imagecodecs", "lzw.tif"), ("imagecodecs", "plain.png"), ("tifffile", "plain.tif")):
        path = tmp_path / name
        path.write_bytes(SMALL[name])
        monkeypatch.setitem(sys.modules, package, None)
        with pytest.raises(RecordError) as caught:
            open_image(path)
        monkeypatch.undo()
        assert str(caught.value) == (
            f"{name}: reading this picture needs the package {package}, which is not installed.\n"
            "Try: pip install 'stepwedge-curves[scan]'."
        )


def test_a_file_that_shrinks_while_it_is_read_is_an_error_in_words(tmp_path: Path) -> None:
    path = tmp_path / "a.tif"
    whole = written(np.zeros((200, 200, 3), dtype=np.uint16))
    path.write_bytes(whole)
    with open_image(path) as image:
        path.write_bytes(whole[:50_000])
        with pytest.raises(RecordError, match="the file ends at byte 50000, sooner than when it was opened"):
            image.region(0, 0, 200, 200)
