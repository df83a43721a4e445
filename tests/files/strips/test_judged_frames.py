"""Frames judged by eye: columns judgement, stack and frame of a bracket's table."""

from __future__ import annotations

from pathlib import Path

import pytest

from curves import Frames, load_strip
from curves.errors import CurvesError
from curves.files.strips.bare import strip_from_table
from curves.files.strips.record import load_by_stack

RECORD = """title = "Heron 80, bracket"
kind = "reversal"
density = "status A"
readings = "roll.csv"

[exposure]
method = "frames"
ei = 50

[[filter]]
name = "orange"
metered = "without"
factor = 2.5
"""
JUDGED = """frame,stack,ei,judgement,red,green,blue
1,none,100,too dark,,,
2,none,50,Right,,,
3,none,25,too  light,,,
4,orange,50,too dark,,,
5,orange,25,right,,,
6,orange,12,,,,
"""
READ = """frame,ei,judgement,red,green
1,200,too dark,2.47,2.74
2,100,,2.28,2.59
3,50,right,2.00,2.34
4,25,,1.62,1.97
5,12,too light,1.19,1.57
6,6,too light,,
"""


def written(folder: Path, table: str, record: str = RECORD) -> Path:
    """Write a record and its table, and return the record."""
    (folder / "roll.csv").write_text(table, encoding="utf-8")
    (folder / "roll.toml").write_text(record, encoding="utf-8")
    return folder / "roll.toml"


def test_frames_that_were_only_judged_load_stack_by_stack(tmp_path: Path) -> None:
    bare, behind = load_by_stack(written(tmp_path, JUDGED))
    assert bare.title == "Heron 80, bracket, behind no filter"
    assert bare.judgements == ("too dark", "right", "too light")
    assert bare.labels == ("frame 1 (EI 100)", "frame 2 (EI 50)", "frame 3 (EI 25)")
    assert bare.readings == {}
    assert bare.filters == ()
    # An index of half the number is a stop more; the frame that nobody judged is left out.
    assert bare.position.tolist() == pytest.approx([-1.0, 0.0, 1.0], abs=0.01)
    assert [used.name for used in behind.filters] == ["orange"]
    assert behind.judgements == ("too dark", "right")


def test_a_record_names_the_stack_that_it_means(tmp_path: Path) -> None:
    record = written(tmp_path, JUDGED, RECORD.replace("ei = 50", 'ei = 50\nstack = "Orange"'))
    assert load_strip(record).judgements == ("too dark", "right")
    assert [strip.title for strip in load_by_stack(record)] == ["Heron 80, bracket"]
    other = written(tmp_path, JUDGED, RECORD.replace("ei = 50", 'ei = 50\nstack = "none"'))
    assert load_strip(other).filters == ()


def test_judgements_stand_beside_densities(tmp_path: Path) -> None:
    strip = load_strip(written(tmp_path, READ))
    assert strip.judgements == ("too dark", None, "right", None, "too light", "too light")
    assert strip.channels == ("red", "green")
    # A table without a column of stacks: all filters of the record were in front of the lens.
    assert [used.name for used in strip.filters] == ["orange"]


def test_a_record_states_how_good_the_eye_is(tmp_path: Path) -> None:
    stated = "ei = 50\njudgement_uncertainty_stops = 0.3\nright_within_stops = 0.4"
    strip = load_strip(written(tmp_path, READ, RECORD.replace("ei = 50", stated)))
    assert isinstance(strip.exposure, Frames)
    assert (strip.exposure.eye.uncertainty, strip.exposure.eye.right_within) == (0.3, 0.4)


def test_a_bare_table_may_hold_judgements(tmp_path: Path) -> None:
    written(tmp_path, "ei,judgement\n50,too dark\n25,right\n12,too light\n")
    strip = strip_from_table(tmp_path / "roll.csv", kind="reversal", ei=50)
    assert strip.judgements == ("too dark", "right", "too light")
    assert strip.assumptions == ()


def test_a_bare_table_of_a_stack_says_what_it_assumes(tmp_path: Path) -> None:
    written(tmp_path, "stack,ei,judgement\norange,50,too dark\norange,25,right\n")
    strip = strip_from_table(tmp_path / "roll.csv", kind="reversal", ei=50)
    assert [used.name for used in strip.filters] == ["orange"]
    assert strip.assumptions == ("The meter is assumed not to have looked through orange.",)


# fmt: off
MISTAKES = [
    ("a word that is not known", JUDGED.replace("Right", "rigth"), RECORD,
     "roll.csv, line 3, judgement: 'rigth' is not a judgement; needed: too dark or right or too light, or an empty cell where the frame was not judged.\nTry: write 'right'."),
    ("a word that is like none", JUDGED.replace("Right", "xyz"), RECORD,
     "roll.csv, line 3, judgement: 'xyz' is not a judgement; needed: too dark or right or too light, or an empty cell where the frame was not judged."),
    ("a column that is misspelt", JUDGED.replace("judgement", "judgment"), RECORD,
     "roll.csv, line 1: 'judgment' is not a known column.\nTry: write 'judgement'."),
    ("several stacks", JUDGED, RECORD,
     'roll.csv: the frames were exposed behind 2 stacks, which do not form one curve: none, orange; needed: the stack that is meant, in [exposure] of the record, such as stack = "none".'),
    ("a stack that is not there", JUDGED, RECORD.replace("ei = 50", 'ei = 50\nstack = "oragne"'),
     "roll.csv: no frame was exposed behind 'oragne'.\nTry: write 'orange'."),
    ("a stack that the record does not describe", JUDGED.replace("orange", "CC40"), RECORD.replace("ei = 50", 'ei = 50\nstack = "CC40"'),
     'roll.toml: frames were exposed behind \'CC40\', which the record does not describe; needed: a section [[filter]] with name = "CC40" and metered = "through" or "without".'),
    ("nothing filled in", "frame,stack,ei,judgement,red\n1,none,50,,\n2,none,25,,\n", RECORD,
     "roll.csv: its 2 frames are still to be filled in: none is judged or read yet; needed: too dark, right or too light in the column judgement, or densities."),
    ("too few densities beside judgements", "ei,judgement,red\n50,right,1.2\n25,too light,0.9\n", RECORD,
     "roll.csv: only 2 different steps were read; needed: at least 4, and eight or more for a curve worth quoting.\nTry: empty the columns of densities, to go by the judgements alone."),
    ("an eye of a negative uncertainty", READ, RECORD.replace("ei = 50", "ei = 50\njudgement_uncertainty_stops = -1"),
     "roll.toml, [exposure] judgement_uncertainty_stops: -1 is out of range; needed: at least 0 and less than 10."),
    ("an eye to which nothing is right", READ, RECORD.replace("ei = 50", "ei = 50\nright_within_stops = 0"),
     "roll.toml, [exposure] right_within_stops: 0 is out of range; needed: more than 0 and less than 3."),
]
# fmt: on


@pytest.mark.parametrize(("table", "record", "said"), [m[1:] for m in MISTAKES], ids=[m[0] for m in MISTAKES])
def test_a_mistake_has_words_of_its_own(tmp_path: Path, table: str, record: str, said: str) -> None:
    with pytest.raises(CurvesError) as refused:
        load_strip(written(tmp_path, table, record))
    assert str(refused.value) == said


def test_judgements_of_a_strip_behind_a_wedge_are_refused(tmp_path: Path) -> None:
    record = RECORD.replace('method = "frames"\nei = 50', 'method = "given"')
    with pytest.raises(CurvesError, match="there are judgements, but the strip is not a bracket of frames"):
        load_strip(
            written(tmp_path, "log_h,judgement,red\n-1,right,1.2\n0,right,1.1\n1,right,0.9\n2,right,0.5\n", record)
        )


def test_an_index_next_to_nothing_does_not_overflow(tmp_path: Path) -> None:
    (tmp_path / "roll.toml").write_text(RECORD, encoding="utf-8")
    (tmp_path / "roll.csv").write_text(JUDGED.replace("1,none,100", "1,none,1e-320"), encoding="utf-8")
    # Far off, but a number: by the definition of a stop, log2(50 / 1e-320) = 1068.7 above the frame of the meter.
    assert load_by_stack(tmp_path / "roll.toml")[0].position.max() == pytest.approx(1068.6, abs=0.5)
