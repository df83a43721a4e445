"""JPEG pictures: what is read, what is refused, and what the packing costs. The pictures are made here."""

from pathlib import Path

import imagecodecs
import numpy as np
import pytest

from curves.errors import RecordError
from curves.files.pictures.image import open_image
from curves.files.scans.scan import Scan
from curves.sensitometry.scan.encoding import LINEAR, SRGB, power

PATCHES = np.repeat(np.repeat(np.arange(20, 240, 20, dtype=np.uint8), 16)[None, :], 32, axis=0)


def written(path: Path, quality: int = 95, *, colour: bool = False) -> Path:
    """Write even patches 16 pixels wide as a JPEG; return its path."""
    picture = np.stack([PATCHES, PATCHES // 2, PATCHES // 3], axis=-1) if colour else PATCHES
    path.write_bytes(imagecodecs.jpeg8_encode(picture, level=quality))
    return path


@pytest.mark.parametrize("colour", [False, True])
def test_even_patches_come_back_within_the_step_of_their_packing(tmp_path: Path, colour: bool) -> None:
    for quality in (60, 90, 98):
        with open_image(written(tmp_path / f"{quality}.jpg", quality, colour=colour)) as picture:
            assert (picture.facts.samples, picture.facts.bits) == (3 if colour else 1, 8)
            middle = picture.region(8, 0, 24, PATCHES.shape[1])[..., 0].reshape(16, -1, 16).mean(axis=(0, 2))
            step = picture.facts.step
        # Half a step by the packing, and half a code by each of two roundings of the colours.
        assert np.abs(middle - np.arange(20, 240, 20)).max() <= 0.5 * step + 1.0 + 0.5 * colour


def test_a_lower_quality_has_wider_steps(tmp_path: Path) -> None:
    steps = []
    for quality in (98, 90, 30):
        with open_image(written(tmp_path / f"{quality}.jpg", quality)) as picture:
            steps.append(picture.facts.step)
    # By the standard's example tables: the first entry is 16 at quality 50, 27 at quality 30.
    assert steps == pytest.approx([1.0, 1.0, 27 / 8])


def test_the_step_of_the_packing_is_part_of_what_a_code_is_worth(tmp_path: Path) -> None:
    with Scan(written(tmp_path / "a.jpg", 30), LINEAR) as scan:
        assert scan.code_at(np.array([0.1, 0.9])) == pytest.approx([27 / 8 / 255] * 2)
        assert scan.signs() == "it has 8 bits, and pictures of 8 bits are nearly always encoded"


@pytest.mark.parametrize("encoding", [LINEAR, SRGB, power(2.2)])
def test_numbers_and_light_undo_each_other_and_a_code_is_worth_their_slope(tmp_path: Path, encoding: object) -> None:
    assert encoding in (LINEAR, SRGB, power(2.2))
    rule = next(e for e in (LINEAR, SRGB, power(2.2)) if e == encoding)
    light = np.array([0.001, 0.01, 0.2, 0.9])
    assert rule.linearise(rule.numbers(light)) == pytest.approx(light, rel=1e-6)
    with Scan(written(tmp_path / "a.jpg", 98), rule) as scan:
        worth = scan.code_at(light)
    wide = rule.linearise(rule.numbers(light) + 0.5 / 255) - rule.linearise(rule.numbers(light) - 0.5 / 255)
    assert worth == pytest.approx(wide, rel=0.02)


def test_the_resolution_and_a_profile_that_cannot_be_read_are_stated(tmp_path: Path) -> None:
    data = written(tmp_path / "a.jpg").read_bytes()
    profile = b"ICC_PROFILE\0\1\1not a profile"
    segment = b"\xff\xe2" + (len(profile) + 2).to_bytes(2, "big") + profile
    place = data.index(b"\xff\xdb")
    data = data[:place] + segment + data[place:]
    head = data.index(b"JFIF\0")
    data = data[: head + 7] + b"\1\x01\x2c\x01\x2c" + data[head + 12 :]
    (tmp_path / "b.jpg").write_bytes(data)
    with open_image(tmp_path / "b.jpg") as picture:
        assert picture.facts.dpi == 300
        assert picture.facts.encoded == "it carries a colour profile that cannot be read"


def test_a_jpeg_cut_anywhere_is_refused_and_never_filled_up(tmp_path: Path) -> None:
    data = written(tmp_path / "a.jpg", colour=True).read_bytes()
    for end in range(4, len(data) - 2, max(1, len(data) // 40)):
        (tmp_path / "cut.jpg").write_bytes(data[:end])
        with pytest.raises(RecordError, match="damaged"):
            open_image(tmp_path / "cut.jpg")


def test_kinds_of_jpeg_that_are_not_read_are_named(tmp_path: Path) -> None:
    data = bytearray(written(tmp_path / "a.jpg").read_bytes())
    place = data.index(b"\xff\xc0")
    for mark, why in ((0xC3, "lossless, or by arithmetic"), (0xC9, "lossless, or by arithmetic")):
        data[place + 1] = mark
        (tmp_path / "b.jpg").write_bytes(bytes(data))
        with pytest.raises(RecordError, match=why):
            open_image(tmp_path / "b.jpg")
    data[place + 1] = 0xC1
    data[place + 4] = 12
    (tmp_path / "b.jpg").write_bytes(bytes(data))
    with pytest.raises(RecordError, match="1 samples of 12 bit"):
        open_image(tmp_path / "b.jpg")
    data[place + 4] = 8
    data[place + 5 : place + 7] = b"\0\0"
    (tmp_path / "b.jpg").write_bytes(bytes(data))
    with pytest.raises(RecordError, match="is not one"):
        open_image(tmp_path / "b.jpg")
