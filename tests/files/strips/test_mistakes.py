"""Every mistake a person makes in a record or a table has an error text of its own."""

from __future__ import annotations

from pathlib import Path

import pytest

from curves.errors import RecordError
from curves.files.strips.record import load_strip

RECORD = """title = "Heron 80, test"
kind = "reversal"
density = "status A"
readings = "strip.csv"

[wedge]
steps = 21
increment = 0.15

[exposure]
method = "contact"
lux = 25.0
seconds = 0.02
"""
READINGS = "step,red,green\n1,0.31,0.40\n2,0.50,0.61\n3,1.10,1.22\n4,1.90,2.05\n5,2.40,2.60\n"

JOINED = RECORD.replace("[wedge]\nsteps = 21\nincrement = 0.15\n\n", "").replace(
    'method = "contact"\nlux = 25.0\nseconds = 0.02', 'method = "given"\nbetween_stops = 0.1'
)
OF_ONE = "exposure," + READINGS.replace("\n", "\na,").removesuffix("a,")

# fmt: off
# Name of the mistake, what is replaced in the record (added at its end if empty) and by what, and the error word by word.
IN_RECORD = [
    ("not TOML", 'kind = "reversal"', "kind = reversal",
     "strip.toml, line 2: this is not TOML; needed: key = value; texts in quotes, numbers with a decimal point."),
    ("decimal comma in the record", "increment = 0.15", "increment = 0,15",
     "strip.toml, line 8: this is not TOML; needed: key = value; texts in quotes, numbers with a decimal point.\nTry: write a point for the decimal comma."),
    ("unknown key", 'title = "Heron 80, test"', 'titel = "Heron 80, test"',
     "strip.toml: 'titel' is not a known key.\nTry: write 'title'."),
    ("unknown section", "[wedge]", "[wegde]",
     "strip.toml: 'wegde' is not a known key.\nTry: write 'wedge'."),
    ("kind missing", 'kind = "reversal"\n', "",
     'strip.toml: \'kind\' is missing; needed: kind = "negative" or "reversal".'),
    ("kind unknown", 'kind = "reversal"', 'kind = "slide"',
     'strip.toml kind: \'slide\' is not known; needed: "negative" or "reversal".'),
    ("kind in capitals", 'kind = "reversal"', 'kind = "Reversal"',
     'strip.toml kind: \'Reversal\' is not known; needed: "negative" or "reversal".'),
    ("density missing", 'density = "status A"\n', "",
     'strip.toml: \'density\' is missing; needed: density = "status A" or "status M" or "visual" or "scan".'),
    ("density unknown", 'density = "status A"', 'density = "status T"',
     'strip.toml density: \'status T\' is not known; needed: "status A" or "status M" or "visual" or "scan".'),
    ("readings missing", 'readings = "strip.csv"\n', "",
     'strip.toml: \'readings\' is missing; needed: the name of a table beside this file, such as "strip.csv".'),
    ("title not a text", 'title = "Heron 80, test"', "title = 80",
     'strip.toml title: 80 is not a text; needed: a text in quotes, such as "...".'),
    ("date in quotes", 'kind = "reversal"', 'date = "14.3.2026"\nkind = "reversal"',
     "strip.toml date: '14.3.2026' is not a date; needed: a date without quotes: 2026-03-14."),
    ("exposure missing", '[exposure]\nmethod = "contact"\nlux = 25.0\nseconds = 0.02\n', "",
     'strip.toml: the section [exposure] is missing; needed: method = "contact" or "camera" or "frames" or "given" and what it asks for.'),
    ("method missing", 'method = "contact"\n', "",
     'strip.toml, [exposure]: \'method\' is missing; needed: method = "contact" or "camera" or "frames" or "given".'),
    ("method unknown", 'method = "contact"', 'method = "sensitometer"',
     'strip.toml, [exposure] method: \'sensitometer\' is not known; needed: "contact" or "camera" or "frames" or "given".'),
    ("grey frame beside a known light", "seconds = 0.02", "seconds = 0.02\ngrey_frame = { ei = 80, red = 1.0 }",
     "strip.toml, [exposure]: a known light and a grey frame are both given; needed: one of them."),
    ("grey frame without its index", "lux = 25.0", "grey_frame = { red = 1.0 }",
     "strip.toml, [exposure] grey_frame: 'ei' is missing; needed: the index that the meter was set to, such as grey_frame = { ei = 80, visual = 1.02 }."),
    ("grey frame without a density", "lux = 25.0", "grey_frame = { ei = 80 }",
     'strip.toml, [exposure] grey_frame: the grey frame has no density; needed: such as {"visual": 1.02}.'),
    ("grey frame off the strip", "lux = 25.0", "grey_frame = { ei = 80, red = 3.9 }",
     "strip.toml, [exposure] grey_frame: the grey frame's red density 3.90 does not lie on the strip, 0.31 to 2.40; needed: a frame whose density lies between those of the strip's end steps."),
    ("lux of zero", "lux = 25.0", "lux = 0",
     "strip.toml, [exposure] lux: 0 is out of range; needed: more than 0."),
    ("seconds missing", "seconds = 0.02\n", "",
     "strip.toml, [exposure]: 'seconds' is missing; needed: the exposure time in seconds, such as seconds = 0.02."),
    ("seconds as text", "seconds = 0.02", 'seconds = "1/50"',
     "strip.toml, [exposure] seconds: '1/50' is not a number; needed: a number without quotes, such as 0.15."),
    ("index missing", 'method = "contact"\nlux = 25.0\nseconds = 0.02', 'method = "camera"\nmetered_step = 3',
     "strip.toml, [exposure]: 'ei' is missing; needed: the index that the meter was set to, such as ei = 80."),
    ("metered step missing", 'method = "contact"\nlux = 25.0\nseconds = 0.02', 'method = "camera"\nei = 80',
     "strip.toml, [exposure]: 'metered_step' is missing; needed: the step that the meter read, such as metered_step = 11."),
    ("metered step off the wedge", 'method = "contact"\nlux = 25.0\nseconds = 0.02', 'method = "camera"\nei = 80\nmetered_step = 25',
     "strip.toml, [exposure] metered_step: the wedge has 21 steps, so there is no step 25; needed: a step from 1 to 21."),
    ("metered step a fraction", 'method = "contact"\nlux = 25.0\nseconds = 0.02', 'method = "camera"\nei = 80\nmetered_step = 2.5',
     "strip.toml, [exposure] metered_step: 2.5 is not a whole number of 1 or more; needed: the step that the meter read, such as metered_step = 11."),
    ("meter's k for its constant", "seconds = 0.02", "seconds = 0.02\nmeter_constant = 250",
     "strip.toml, [exposure] meter_constant: 250 is out of range; needed: at least 5 and at most 30."),
    ("index beside relative log H", 'method = "contact"\nlux = 25.0\nseconds = 0.02', 'method = "given"\nei = 80',
     "strip.toml, [exposure]: 'ei' does not go with log H that is relative; needed: log_h = \"metered grey\" where log H counts from the mid-grey metered at that index.\nTry: write it, or leave ei out."),
    ("metered grey without its index", 'method = "contact"\nlux = 25.0\nseconds = 0.02', 'method = "given"\nlog_h = "metered grey"',
     "strip.toml, [exposure]: 'ei' is missing; needed: log_h = \"metered grey\" and the index at which mid-grey was metered, such as ei = 80."),
    ("flare in per cent", 'method = "contact"\nlux = 25.0\nseconds = 0.02', 'method = "camera"\nei = 80\nmetered_step = 3\nflare = 2',
     "strip.toml, [exposure] flare: 2 is out of range; needed: at least 0 and less than 1."),
    ("key of another method", 'method = "contact"\nlux = 25.0\nseconds = 0.02', 'method = "camera"\nei = 80\nmetered_step = 3\nlux = 25',
     'strip.toml, [exposure]: \'lux\' does not belong here: it goes with method = "contact".'),
    ("negative uncertainty", "", "uncertainty_stops = -0.1\n",
     "strip.toml, [exposure] uncertainty_stops: -0.1 is out of range; needed: at least 0 and less than 10."),
    ("wedge missing", "[wedge]\nsteps = 21\nincrement = 0.15\n", "",
     "strip.toml: the section [wedge] is missing; needed: steps and increment of a nominal wedge, or the table of a calibrated one."),
    ("wedge with frames", 'method = "contact"\nlux = 25.0\nseconds = 0.02', 'method = "frames"\nei = 80',
     'strip.toml: there is a section [wedge], but the exposure did not go through one; needed: [wedge] only with method = "contact" or "camera".\nTry: remove the section, or mend the method.'),
    ("wedge of one step", "steps = 21", "steps = 1",
     "strip.toml, [wedge] steps: 1 is not a whole number of 2 or more; needed: how many steps the wedge has, such as steps = 21."),
    ("wedge that does not rise", "increment = 0.15", "increment = -0.15",
     "strip.toml, [wedge] increment: -0.15 is out of range; needed: more than 0."),
    ("wedge both nominal and calibrated", "increment = 0.15", 'table = "wedge.csv"\nincrement = 0.15',
     "strip.toml, [wedge]: 'table' and 'steps' are both given; needed: the table of a calibrated wedge, or the steps of a nominal one, not both."),
    ("wedge not a section", 'title = "Heron 80, test"\nkind = "reversal"\ndensity = "status A"\nreadings = "strip.csv"\n\n[wedge]\nsteps = 21\nincrement = 0.15', 'wedge = "21x0.15"\ntitle = "Heron 80, test"\nkind = "reversal"\ndensity = "status A"\nreadings = "strip.csv"\n',
     "strip.toml: 'wedge' is not a table; needed: a section headed [wedge]."),
    ("unknown patch", "", "[patches]\nbas = { red = 0.2 }\n",
     "strip.toml, [patches]: 'bas' is not a known key.\nTry: write 'base'."),
    ("unknown channel of a patch", "", "[patches]\nbase = { read = 0.2 }\n",
     "strip.toml, [patches] base: 'read' is not a known key.\nTry: write 'red'."),
    ("patch without a decimal point", "", "[patches]\nbase = { red = 21 }\n",
     "strip.toml, [patches] base red: 21 is out of range; needed: at least -0.05 and at most 15."),
    ("patch not a table", "", "[patches]\nbase = 0.2\n",
     "strip.toml, [patches]: 'base' is not a table; needed: base = { red = 0.21, green = 0.25, blue = 0.32 }."),
    ("a condition in words", "", "[conditions]\nfirst_developer_minutes = 'seven'\n",
     "strip.toml, [conditions] first_developer_minutes: 'seven' is not a number; needed: a number without quotes, such as"
     " 0.15."),
    ("repeatability of zero", "", "[reader]\nrepeatability = 0\n",
     "strip.toml, [reader] repeatability: 0 is out of range; needed: more than 0 and less than 1."),
    ("filter without a name", "", '[[filter]]\nmetered = "through"\n',
     'strip.toml, [[filter]] number 1: \'name\' is missing; needed: what the filter is called, such as name = "orange conversion".'),
    ("filter metered otherwise", "", '[[filter]]\nname = "orange"\nmetered = "yes"\n',
     'strip.toml, [[filter]] number 1 metered: \'yes\' is not known; needed: "through" or "without".'),
    ("filter whose factor gives light", "", '[[filter]]\nname = "orange"\nmetered = "through"\nfactor = 0.5\n',
     "strip.toml, [[filter]] number 1 factor: 0.5 is out of range; needed: at least 1 and less than 100000."),
    ("filter not a list", "", '[filter]\nname = "orange"\n',
     "strip.toml: 'filter' is not a list; needed: a section headed [[filter]] for each filter."),
    ("colours in a visual strip", 'density = "status A"', 'density = "visual"',
     'strip.csv: the record says density = "visual", but there is a column red; needed: a column visual alone, or density = "status A", "status M" or "scan".'),
    ("two laws of reciprocity", "", "schwarzschild = 0.9\nreciprocity = [[1, 1.2], [10, 20]]\n",
     "strip.toml, [exposure]: 'schwarzschild' and 'reciprocity' are both given; needed: one of them."),
    ("an exponent above one", "", "schwarzschild = 1.1\n",
     "strip.toml, [exposure] schwarzschild: 1.1 is out of range; needed: more than 0.3 and at most 1."),
    ("tested times that are no pairs", "", "reciprocity = [1, 2]\n",
     "strip.toml, [exposure] reciprocity: [1, 2] is not a list of pairs; needed: pairs of metered and corrected seconds, such as reciprocity = [[1, 1.2], [10, 20], [60, 200]]."),
    ("tested times that fall", "", "reciprocity = [[10, 20], [1, 1.2]]\n",
     "strip.toml, [exposure] reciprocity: the table of metered and corrected seconds does not rise; needed: at least two rows, both columns above 0 and rising."),
    ("corrected before metered", "", "reciprocity = [[1.2, 1], [20, 10]]\n",
     "strip.toml, [exposure] reciprocity: a corrected time is shorter than the metered one; needed: metered first, then corrected."),
    ("a Callier factor below one", "", "[reader]\ncallier = 0.8\n",
     "strip.toml, [reader] callier: 0.8 is out of range; needed: at least 1 and less than 3."),
]

# Name of the mistake, what is replaced in the readings (all of them if empty) and by what, and the error word by word.
IN_READINGS = [
    ("readings empty", "", "",
     "strip.csv: the table is empty; needed: a header row, then one row per reading."),
    ("readings without a header", "", "1,0.31,0.40\n2,0.5,0.6\n",
     "strip.csv, line 1: the first row holds numbers, not column names; needed: a header such as step,red,green,blue."),
    ("unknown column", "step,red,green", "step,red,gren",
     "strip.csv, line 1: 'gren' is not a known column.\nTry: write 'green'."),
    ("column without a name", "step,red,green", "step,red,",
     "strip.csv, line 1: a column has no name.\nTry: use one of: step, stops, ei, log_h, red, green, blue, visual, frame, stack, judgement, exposure."),
    ("column twice", "step,red,green", "step,red,red",
     "strip.csv, line 1: the column 'red' is there 2 times; needed: each name once; repeat readings go on rows of their own."),
    ("no step column", "step,red,green", "red,green,blue",
     "strip.csv: no column says which step a row is; needed: a column step."),
    ("two position columns", "step,red,green", "step,stops,green",
     "strip.csv: step and stops both say which step a row is; needed: one of them: step."),
    ("column of another method", "step,red,green", "stops,red,green",
     "strip.csv: rows are listed by stops, but the exposure was made by another method; needed: a column step.\nTry: mend the column's name, or the method in the record."),
    ("no density column", "", "step\n1\n2\n3\n4\n",
     "strip.csv: no column holds densities; needed: any of red, green, blue, visual."),
    ("not a number", "3,1.10,1.22", "3,1.10,1.2O",
     "strip.csv, line 4, green: '1.2O' is not a number; needed: a density such as 1.25, or an empty cell where nothing was read."),
    ("a row too long", "3,1.10,1.22", "3,1.10,1,22",
     "strip.csv, line 4: the row has 4 cells, the header 3 (a decimal comma?); needed: one cell for each column, empty where nothing was read.\nTry: separate the cells by semicolons if the numbers have decimal commas."),
    ("a row too short", "3,1.10,1.22", "3,1.10",
     "strip.csv, line 4: the row has 2 cells, the header 3; needed: one cell for each column, empty where nothing was read."),
    ("step a fraction", "3,1.10,1.22", "2.5,1.10,1.22",
     "strip.csv, line 4, step: 2.5 is not a step number; needed: a whole number from 1, the step at the wedge's clear end."),
    ("step off the wedge", "5,2.40,2.60", "22,2.40,2.60",
     "strip.csv, line 6, step: the wedge has 21 steps, so there is no step 22; needed: a step from 1 to 21."),
    ("step empty", "3,1.10,1.22", ",1.10,1.22",
     "strip.csv, line 4, step: the cell of step is empty; needed: the step of every row."),
    ("no decimal point", "3,1.10,1.22", "3,1.10,122",
     "strip.csv, line 4, green: 122 is not a density; needed: densities with their decimal point, such as 2.91.\nTry: if the instrument shows no point, divide by 100: 1.22."),
    ("below zero", "1,0.31,0.40", "1,-0.31,0.40",
     "strip.csv, line 2, red: -0.31 is below zero; needed: densities counted from an empty gate, not from the base.\nTry: zero the instrument on an empty gate and read again."),
    ("infinite", "1,0.31,0.40", "1,inf,0.40",
     "strip.csv, line 2, red: 'inf' is not a number; needed: a density such as 1.25, or an empty cell where nothing was read."),
    ("too few steps", "", "step,red\n1,0.3\n2,0.5\n2,0.6\n3,0.9\n",
     "strip.csv: only 3 different steps were read; needed: at least 4, and eight or more for a curve worth quoting."),
    ("a column never read", "", "step,red,green\n1,0.3,\n2,0.5,\n3,0.9,\n4,1.2,\n",
     "strip.csv: the column green holds no reading.\nTry: remove the column, or read it."),
]

CALIBRATED = RECORD.replace("steps = 21\nincrement = 0.15", 'table = "wedge.csv"')
FRAMES = RECORD.partition("[wedge]")[0] + '[exposure]\nmethod = "frames"\nei = 80\n'

# Name of the mistake, the files, and the error word by word.
IN_SEVERAL = [
    ("no such readings", {"strip.toml": RECORD, "other.csv": READINGS},
     "strip.toml: the table of readings that the record names, strip.csv, is not there.\nTry: run curves enter strip"
     " to enter them, or correct 'readings' in the record; beside it there is other.csv."),
    ("readings of a plan still to be entered", {"strip.toml": RECORD + "\n[plan]\nthin_end = [0.0, 1.0, 1.5]\n"},
     "strip.toml: the readings are still to be entered.\nTry: run curves enter strip."),
    ("wedge table missing", {"strip.toml": CALIBRATED, "strip.csv": READINGS},
     "wedge.csv: there is no such file.\nTry: check the name; beside it there is strip.csv."),
    ("wedge table without density", {"strip.toml": CALIBRATED, "wedge.csv": "step,uncertainty\n1,0.1\n2,0.2\n"},
     "wedge.csv: the column 'density' is missing; needed: columns step, density[, uncertainty]."),
    ("wedge table with a gap", {"strip.toml": CALIBRATED, "wedge.csv": "step,density\n1,0.05\n3,0.35\n"},
     "wedge.csv, line 3, step: step 3 stands where step 2 belongs; needed: every step of the wedge once, in order, from 1."),
    ("wedge table with an absurd density", {"strip.toml": CALIBRATED, "wedge.csv": "step,density\n1,0.05\n2,20\n"},
     "wedge.csv, line 3, density: 20 is not the density of a step; needed: a density."),
    ("wedge table with an empty uncertainty", {"strip.toml": CALIBRATED, "wedge.csv": "step,density,uncertainty\n1,0.05,0.01\n2,0.2,\n"},
     "wedge.csv, line 3, uncertainty: there is no number; needed: a number such as 0.15."),
    ("frame rated at nothing", {"strip.toml": FRAMES, "strip.csv": READINGS.replace("step", "ei").replace("5,2.40", "0,2.40")},
     "strip.csv, line 6, ei: 0 is not an exposure index; needed: a number above 0."),
    ("exposures of a strip that was exposed once", {"strip.toml": RECORD, "strip.csv": OF_ONE},
     "strip.csv, exposure: a column names the exposure of each row, but the record states a single one; needed: no such column, or the method given and a column log_h."),
    ("a joined strip without its exposures", {"strip.toml": JOINED, "strip.csv": READINGS.replace("step", "log_h")},
     "strip.toml, [exposure]: 'between_stops' is of several exposures, and the readings do not tell which row belongs to which; needed: a column exposure in the table of readings, a name in each row."),
    ("a joined strip of one exposure", {"strip.toml": JOINED, "strip.csv": OF_ONE.replace("step", "log_h")},
     "strip.csv, exposure: all rows belong to one exposure; needed: two exposures or more.\nTry: remove the column."),
    ("a row without its exposure", {"strip.toml": JOINED, "strip.csv": OF_ONE.replace("step", "log_h").replace("a,3", ",3")},
     "strip.csv, line 4, exposure: the exposure of this row is not named; needed: a name in each row."),
    ("readings that are a workbook", {"strip.toml": RECORD, "strip.csv": "PK\3\4\0"},
     "strip.csv: it is a workbook or another archive, not text.\nTry: save the sheet as CSV, or run curves import on it."),
]
# fmt: on


def changed(text: str, old: str, new: str) -> str:
    assert old in text
    return text.replace(old, new, 1)


MISTAKES: dict[str, tuple[dict[str, str], str]] = {
    **{name: ({"strip.toml": changed(RECORD, old, new) if old else RECORD + new, "strip.csv": READINGS}, told)
       for name, old, new, told in IN_RECORD},
    **{name: ({"strip.toml": RECORD, "strip.csv": changed(READINGS, old, new) if old else new}, told)
       for name, old, new, told in IN_READINGS},
    **{name: (files, told) for name, files, told in IN_SEVERAL},
}  # fmt: skip


@pytest.mark.parametrize("mistake", MISTAKES)
def test_each_mistake_is_told_in_its_own_words(mistake: str, tmp_path: Path) -> None:
    files, told = MISTAKES[mistake]
    for name, text in files.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    with pytest.raises(RecordError) as refusal:
        load_strip(tmp_path / "strip.toml")
    assert str(refusal.value).replace(f"{tmp_path}/", "") == told


def test_the_list_of_mistakes_is_long() -> None:
    assert len(MISTAKES) >= 30


def test_the_record_without_a_mistake_loads(tmp_path: Path) -> None:
    (tmp_path / "strip.toml").write_text(RECORD, encoding="utf-8")
    (tmp_path / "strip.csv").write_text(READINGS, encoding="utf-8")
    assert load_strip(tmp_path / "strip.toml").channels == ("red", "green")


def test_the_constant_of_the_meter_is_read_with_every_method(tmp_path: Path) -> None:
    for method in ('method = "contact"\nlux = 25.0\nseconds = 0.02', 'method = "camera"\nei = 80\nmetered_step = 3'):
        text = RECORD.replace('method = "contact"\nlux = 25.0\nseconds = 0.02', f"{method}\nmeter_constant = 14")
        (tmp_path / "strip.toml").write_text(text, encoding="utf-8")
        (tmp_path / "strip.csv").write_text(READINGS, encoding="utf-8")
        strip = load_strip(tmp_path / "strip.toml")
        assert strip.meter_constant == 14.0
        assert strip.metering.exposure == pytest.approx(9.12, abs=0.005)  # ISO 2720: K = 14 gives 9.12 / S


def test_a_callier_factor_divides_readings_and_patches(tmp_path: Path) -> None:
    record = RECORD + "[patches]\nbase = { red = 0.26 }\n[reader]\ncallier = 1.3\n"
    (tmp_path / "strip.toml").write_text(record, encoding="utf-8")
    (tmp_path / "strip.csv").write_text(READINGS, encoding="utf-8")
    strip = load_strip(tmp_path / "strip.toml")
    assert strip.readings["red"][3] == pytest.approx(1.90 / 1.3)
    assert strip.patches.base["red"] == pytest.approx(0.20)
    assert strip.callier == 1.3
