"""Places as a person writes them: what is read, and each refusal."""

from __future__ import annotations

from pathlib import Path

import pytest

from curves.errors import RecordError
from curves.files.pictures.statements import Facts
from curves.files.scans.places import four_corners, rectangle, reference, table_of_areas

GREY = Facts(Path("scan.tif"), 400, 300, 1, 16, None, "")
RGB = Facts(Path("scan.tif"), 400, 300, 3, 8, None, "")
RECTANGLE = "left,top,right,bottom in pixels, such as 120,80,400,300"
CORNERS = "x,y x,y x,y x,y in quotes: both corners of step 1's outer edge, then both of the last step's, going round"


def test_a_rectangle_is_read_as_its_corners_going_round() -> None:
    assert rectangle("10, 20,30.5,40", GREY, "area").tolist() == [[10, 20], [30.5, 20], [30.5, 40], [10, 40]]
    assert rectangle("0,0,400,300", GREY, "area").max() == 400.0  # all of the picture


@pytest.mark.parametrize(("text", "message"), [
    ("10,20,30", f"area: '10,20,30' is not a rectangle; needed: {RECTANGLE}."),
    ("", f"area: '' is not a rectangle; needed: {RECTANGLE}."),
    ("a,b,c,d", f"area: 'a,b,c,d' is not a rectangle; needed: {RECTANGLE}."),
    ("0,0,nan,9", f"area: '0,0,nan,9' is not a rectangle; needed: {RECTANGLE}."),
    ("0,0,inf,9", f"area: '0,0,inf,9' is not a rectangle; needed: {RECTANGLE}."),
    ("30,20,10,40", f"area: the rectangle 30,20,10,40 has no area; needed: {RECTANGLE}."),
    ("10,20,30,20", f"area: the rectangle 10,20,30,20 has no area; needed: {RECTANGLE}."),
    ("10,20,401,40", "area: the place lies outside the picture; needed: x up to 400, y up to 300."),
    ("-1,20,30,40", "area: the place lies outside the picture; needed: x up to 400, y up to 300."),
])  # fmt: skip
def test_what_is_no_rectangle_of_the_picture_is_refused(text: str, message: str) -> None:
    with pytest.raises(RecordError) as refusal:
        rectangle(text, GREY, "area")
    assert str(refusal.value) == message


def test_four_corners_are_read_in_their_order() -> None:
    found = four_corners("10,20 10,60  390,61.5 390,22", GREY, "corners")
    assert found.tolist() == [[10, 20], [10, 60], [390, 61.5], [390, 22]]


@pytest.mark.parametrize("text", ["10,20 10,60 390,60", "10,20 10,60 390,60 390", "10 20 10 60 390 60 390 20", ""])
def test_what_is_not_four_corners_is_refused(text: str) -> None:
    with pytest.raises(RecordError) as refusal:
        four_corners(text, GREY, "corners")
    assert str(refusal.value) == f"corners: '{text}' is not four corners; needed: {CORNERS}."


def test_a_corner_outside_the_picture_is_refused() -> None:
    with pytest.raises(RecordError, match="the place lies outside the picture; needed: x up to 400, y up to 300"):
        four_corners("10,20 10,60 390,301 390,20", GREY, "corners")


def table(folder: Path, text: str) -> Path:
    path = folder / "areas.csv"
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.parametrize("column", ["step", "stops", "ei"])
def test_a_table_lists_patches_by_step_stops_or_index(tmp_path: Path, column: str) -> None:
    path = table(tmp_path, f"{column},left,top,right,bottom\n2,10,20,30,40\n1,50,20,70,40.5\n")
    found = table_of_areas(path, GREY)
    assert found.column == column
    assert found.positions == (2.0, 1.0)
    assert found.corners.shape == (2, 4, 2)
    assert found.corners[1].tolist() == [[50, 20], [70, 20], [70, 40.5], [50, 40.5]]


UNCLEAR = (
    "areas.csv: the table does not say which patch lies where; needed: one of the columns step, stops, ei; and left,"
    " top, right, bottom in pixels."
)


@pytest.mark.parametrize(("text", "message"), [
    ("left,top,right,bottom\n1,2,3,4\n", UNCLEAR),
    ("step,left,top,right\n1,2,3,4\n", UNCLEAR),
    ("step,ei,left,top,right,bottom\n1,2,1,2,3,4\n", UNCLEAR),
    ("log_h,left,top,right,bottom\n1,2,3,4,5\n", UNCLEAR),
    ("step,left,top,right,bottom\n1,10,20,30,40\n2,10,20,,40\n",
     f"areas.csv, line 3, left: '10,20,nan,40' is not a rectangle; needed: {RECTANGLE}."),
    ("step,left,top,right,bottom\n1,10,20,30,400\n",
     "areas.csv, line 2, left: the place lies outside the picture; needed: x up to 400, y up to 300."),
    ("step,left,top,right,bottom\n,10,20,30,40\n",
     "areas.csv, line 2, step: there is no number; needed: a number such as 0.15."),
])  # fmt: skip
def test_a_table_that_does_not_say_what_lies_where_is_refused(tmp_path: Path, text: str, message: str) -> None:
    with pytest.raises(RecordError) as refusal:
        table_of_areas(table(tmp_path, text), GREY)
    assert str(refusal.value) == message


def test_an_area_of_many_digits_is_not_rounded(tmp_path: Path) -> None:
    # A picture of 40000 pixels: six digits are not enough for a tenth of a pixel.
    wide = Facts(Path("scan.tif"), 140000, 300, 1, 16, None, "")
    path = table(tmp_path, "step,left,top,right,bottom\n1,123456.25,20,123556.75,40\n")
    assert table_of_areas(path, wide).corners[0, :2, 0].tolist() == [123456.25, 123556.75]


def test_a_reference_is_an_area_a_picture_or_values() -> None:
    area = reference("AREA:1,2,3,4", GREY, "clear").area
    assert area is not None
    assert area[2].tolist() == [3, 4]
    assert reference("empty gate.TIFF", GREY, "clear").picture == Path("empty gate.TIFF")
    assert reference("gate.png", GREY, "clear").picture == Path("gate.png")


@pytest.mark.parametrize(("text", "expected"), [("255", [1, 1, 1]), ("51,102,204", [0.2, 0.4, 0.8]), ("0", [0, 0, 0])])
def test_values_count_as_the_numbers_of_the_picture_do(text: str, expected: list[float]) -> None:
    values = reference(text, RGB, "clear").values
    assert values is not None
    assert values.tolist() == pytest.approx(expected)
    grey = reference("32767.5", GREY, "clear").values
    assert grey is not None
    assert grey.tolist() == [0.5]


@pytest.mark.parametrize(("text", "facts", "message"), [
    ("1,2", RGB, "dark: '1,2' is not a value of this picture; needed: three values from 0 to 255,"
                 " area:left,top,right,bottom, or the name of another scan."),
    ("1,2,3", GREY, "dark: '1,2,3' is not a value of this picture; needed: a value from 0 to 65535,"
                    " area:left,top,right,bottom, or the name of another scan."),
    ("bright", GREY, "dark: 'bright' is not a value of this picture; needed: a value from 0 to 65535,"
                     " area:left,top,right,bottom, or the name of another scan."),
    ("256", RGB, "dark: '256' is off the scale of this picture; needed: three values from 0 to 255,"
                 " area:left,top,right,bottom, or the name of another scan."),
    ("-1", GREY, "dark: '-1' is off the scale of this picture; needed: a value from 0 to 65535,"
                 " area:left,top,right,bottom, or the name of another scan."),
    ("area:1,2,3", GREY, f"dark: '1,2,3' is not a rectangle; needed: {RECTANGLE}."),
])  # fmt: skip
def test_what_stands_for_nothing_is_refused(text: str, facts: Facts, message: str) -> None:
    with pytest.raises(RecordError) as refusal:
        reference(text, facts, "dark")
    assert str(refusal.value) == message
