"""`curves import`, `measure --table cgats` and what `check` says of such files, as their user runs them."""

from __future__ import annotations

import json
from pathlib import Path

import openpyxl
import pytest

from curves.files.strips.record import load_strip
from tests.commands.run import run
from tests.files.imports.formats.test_cgats import WHOLE
from tests.simulate import FOLDER, scenarios

SETTINGS = ("--kind", "reversal", "--wedge", "4x0.3", "--lux", "25", "--seconds", "1/50")
TABLE = "Stufe;Rot;Grün\n1;0,31;0,40\n2;0,50;0,61\n3;1,10;1,22\n4;1,90;2,05\n"


def test_a_target_becomes_a_strip_after_it_was_shown_and_agreed_to(tmp_path: Path) -> None:
    (tmp_path / "target.txt").write_text(WHOLE, encoding="utf-8")
    done = run(tmp_path, "import", "target.txt", "--samples", "GS0:GS3", *SETTINGS, typed="\n")
    assert done.returncode == 0, done.stderr
    told = " ".join(done.stdout.split())
    assert "Samples GS0:GS3 are steps 1 to 4." in told
    assert "green 4 readings, 0.40 ... 2.05" in told
    assert (
        told.index("as it is understood")
        < told.index("Enter writes")
        < told.index("Written: target.toml and target.csv")
        < told.index("Now: curves report target.toml")
    )
    strip = load_strip(tmp_path / "target.toml")
    assert strip.title == "Heron 80, grey scale"
    assert strip.density == "status A"
    assert list(strip.readings["green"]) == [0.40, 0.61, 1.22, 2.05]
    assert strip.exposure.log_h(strip.position, strip.wedge)[0] == pytest.approx(-0.30103 - 0.05, abs=1e-5)


@pytest.mark.parametrize("command", ["enter", "import"])
def test_the_help_has_an_example(tmp_path: Path, command: str) -> None:
    done = run(tmp_path, command, "--help")
    assert done.returncode == 0
    assert f"Example: curves {command}" in " ".join(done.stdout.split())


def test_nothing_is_written_by_a_person_who_does_not_agree(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_text(TABLE, encoding="utf-8")
    done = run(tmp_path, "import", "a.csv", "--into", "b", *SETTINGS, "--density", "status A", typed="n\n")
    assert done.stdout.endswith("Nothing was written.\n")
    assert run(tmp_path, "import", "a.csv", "--into", "b", *SETTINGS).stdout.endswith("Nothing was written.\n")
    assert [p.name for p in tmp_path.iterdir()] == ["a.csv"]


def test_what_the_table_does_not_say_is_asked(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_text(TABLE, encoding="utf-8")
    done = run(tmp_path, "import", "a.csv", "--into", "b", typed="r\nA\nca\n4x0.3\n80\n2\n\n")
    assert done.returncode == 0, done.stderr
    assert load_strip(tmp_path / "b.toml").exposure.ei == 80


def test_the_last_record_in_the_folder_may_say_it(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_text(TABLE, encoding="utf-8")
    (tmp_path / "heron.toml").write_bytes((FOLDER / "heron-reversal.toml").read_bytes())
    done = run(tmp_path, "import", "a.csv", "--into", "b", typed="\n\n")
    assert done.returncode == 0, done.stderr
    assert "With heron.toml:" in done.stdout
    assert load_strip(tmp_path / "b.toml").repeatability == 0.012


def test_without_questions_the_missing_option_is_named(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_text(TABLE, encoding="utf-8")
    done = run(tmp_path, "import", "a.csv", "--into", "b", "--yes", "--kind", "reversal")
    assert done.returncode == 1
    assert done.stderr == (
        "curves: b.toml: the record does not state: kind of density; needed: an answer.\n"
        'Try: give --density "status A" --wedge 21x0.15@0.08 --lux 25 --seconds 0.5, or a meter\'s --ei 80'
        " --metered-step 11 for the light; see curves import --help, or leave --yes out to be asked.\n"
    )
    assert [p.name for p in tmp_path.iterdir()] == ["a.csv"]


def test_readings_that_a_killed_import_left_are_its_own(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_text(TABLE, encoding="utf-8")
    words = ("import", "a.csv", "--into", "b", "--yes", *SETTINGS, "--density", "status A")
    assert run(tmp_path, *words).returncode == 0
    both = {p.name: p.read_bytes() for p in tmp_path.iterdir()}
    # The record is written last: a kill leaves the readings alone, and perhaps what was becoming the record.
    (tmp_path / "b.toml").unlink()
    (tmp_path / ".b.toml.abcdefg1.part").write_text("half", encoding="utf-8")
    assert run(tmp_path, *words).returncode == 0
    assert {p.name: p.read_bytes() for p in tmp_path.iterdir()} == both


def test_a_file_that_is_there_is_never_written_over(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_text(TABLE, encoding="utf-8")
    (tmp_path / "b.csv").write_text("kept", encoding="utf-8")
    done = run(tmp_path, "import", "a.csv", "--into", "b", "--yes", *SETTINGS, "--density", "status A")
    assert done.returncode == 1
    assert done.stderr == "curves: b.csv: there is already such a file.\nTry: name another with --into.\n"
    assert (tmp_path / "b.csv").read_text(encoding="utf-8") == "kept"


def test_a_table_beside_its_record_keeps_its_name_and_the_record_gets_another(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_text(TABLE, encoding="utf-8")
    done = run(tmp_path, "import", "a.csv", "--yes", *SETTINGS, "--density", "status A")
    assert done.returncode == 0, done.stderr
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a-strip.csv", "a-strip.toml", "a.csv"]
    assert (tmp_path / "a.csv").read_text(encoding="utf-8") == TABLE


def test_a_strip_that_would_not_load_leaves_no_files(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_text(TABLE, encoding="utf-8")
    words = ("--kind", "reversal", "--wedge", "3x0.3", "--lux", "25", "--seconds", "1", "--density", "status A")
    done = run(tmp_path, "import", "a.csv", "--into", "b", "--yes", *words)
    assert done.returncode == 1
    assert "the wedge has 3 steps, so there is no step 4" in done.stderr
    assert [p.name for p in tmp_path.iterdir()] == ["a.csv"]


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--column", "visual"), "--column: 'visual' does not name a column; needed: what=name, such as"
                                 " visual=D_VIS.\n"),
        (("--column", "rot=2"), "--column: a column does not hold 'rot'.\nTry: use one of: step, stops, ei, log_h,"
                                " red, green, blue, visual, sample.\n"),
        (("--lux", "bright"), "--lux: 'bright' is not a number; needed: a number such as 0.15.\n"),
        (("--samples", "1-4"), "--samples: '1-4' is not a range of samples; needed: first:last, such as GS0:GS23.\n"),
    ],
)  # fmt: skip
def test_slips_in_the_options_are_told(tmp_path: Path, words: tuple[str, ...], told: str) -> None:
    (tmp_path / "a.csv").write_text(TABLE, encoding="utf-8")
    done = run(tmp_path, "import", "a.csv", "--into", "b", "--yes", *words)
    assert (done.returncode, done.stderr) == (1, f"curves: {told}")


@pytest.mark.parametrize("name", ["heron-reversal", "heron-frames", "wren-reversal"])
def test_readings_go_out_as_exchange_text_and_come_back_identical(tmp_path: Path, name: str) -> None:
    text = run(FOLDER, "measure", f"{name}.toml", "--table", "cgats").stdout
    (tmp_path / "out.txt").write_text(text, encoding="utf-8")
    for demo in FOLDER.glob("*.csv"):
        (tmp_path / demo.name).write_bytes(demo.read_bytes())
    exposure = scenarios()[name].exposure
    words = (
        ("--ei", "50") if exposure["method"] == "frames" else ("--wedge", "21x0.15", "--lux", "25", "--seconds", "1")
    )
    done = run(tmp_path, "import", "out.txt", "--into", "back", "--yes", "--kind", "reversal", *words)
    assert done.returncode == 0, done.stderr
    strip, back = load_strip(FOLDER / f"{name}.toml"), load_strip(tmp_path / "back.toml")
    assert list(back.position) == list(strip.position)
    assert (back.title, back.date, back.density) == (strip.title, strip.date, strip.density)
    for channel in strip.channels:
        assert list(back.readings[channel]) == list(strip.readings[channel])
    assert (
        run(tmp_path, "measure", "back.toml", "--table", "cgats").stdout.partition("BEGIN_DATA\n")[2]
        == (text.partition("BEGIN_DATA\n")[2])
    )


def test_check_says_of_every_file_of_a_folder_whether_it_would_load(tmp_path: Path) -> None:
    (tmp_path / "good.csv").write_text("step,red\n1,0.2\n2,0.4\n3,0.9\n4,1.5\n", encoding="utf-8")
    (tmp_path / "stufen.csv").write_text(TABLE, encoding="utf-8")
    (tmp_path / "slip.csv").write_text("step,red,gren\n1,0.2,1\n2,0.4,2\n3,0.9,3\n4,1.5,4\n", encoding="utf-8")
    (tmp_path / "odd.txt").write_text(
        WHOLE.replace("A1\t1.11\t1.12\t1.13\t1.14\n", "").replace("GS0", "0").replace("GS", ""), encoding="utf-8"
    )
    (tmp_path / "notes.txt").write_text("It rained.\n", encoding="utf-8")
    (tmp_path / "heron.toml").write_bytes((FOLDER / "heron-reversal.toml").read_bytes())
    run(tmp_path, "enter", "second", typed="\n0.3 0.4 0.5\nq\n")
    done = run(tmp_path, "check", ".", "--full")
    assert done.returncode == 1
    assert done.stdout == (
        "good.csv: good\n"
        "heron.toml: fails\n"
        "  heron.toml: the table of readings that the record names, heron-reversal.csv,\n"
        "  is not there.\n"
        "  Try: run curves enter heron to enter them, or correct 'readings' in the\n"
        "  record; beside it there is good.csv, second.csv, slip.csv, stufen.csv.\n"
        "odd.txt: fails\n"
        "  odd.txt: the samples have names, from 0 to 3; needed: which of them are the\n"
        "  steps of the wedge, from its clear end.\n"
        "  Try: run curves import odd.txt --samples 0:3.\n"
        "second.csv: fails\n"
        "  second.csv: only 1 different step was read; needed: at least 4, and eight or\n"
        "  more for a curve worth quoting.\n"
        "second.entry: loads, but look at this\n"
        "  - An entry under way: 1 of 21 lines are read. curves enter second goes on.\n"
        "second.toml: fails\n"
        "  second.csv: only 1 different step was read; needed: at least 4, and eight or\n"
        "  more for a curve worth quoting.\n"
        "slip.csv: fails\n"
        "  slip.csv, line 1: 'gren' is not a known column.\n"
        "  Try: write 'green'; or run curves import slip.csv, which reads it without\n"
        "  gren.\n"
        "stufen.csv: good\n"
        "8 files: 2 good, 1 doubtful, 5 fail.\n"
    )


@pytest.mark.parametrize("name", ["stufen.csv", "stufen.xlsx"])
def test_measure_reads_what_import_reads_to_the_same_numbers(tmp_path: Path, name: str) -> None:
    if name.endswith(".csv"):
        (tmp_path / name).write_bytes(TABLE.encode("cp1252"))
    else:
        book = openpyxl.Workbook()
        for line in TABLE.replace(",", ".").splitlines():
            book.active.append([float(cell) if cell[0].isdigit() else cell for cell in line.split(";")])
        book.save(tmp_path / name)
    light = ("--kind", "reversal", "--wedge", "4x0.3", "--lux", "25", "--seconds", "0.02")
    done = run(tmp_path, "import", name, "--into", "record", "--yes", *light, "--density", "status A")
    assert done.returncode == 0, done.stderr
    found = [
        json.loads(run(tmp_path, "measure", *words, "--json").stdout)["strips"][0]["channels"]
        for words in (("record.toml",), (name, *light))
    ]
    keys = ("step", "log_h", "density")
    steps = [{c: [[step[key] for key in keys] for step in of["steps"]] for c, of in one.items()} for one in found]
    assert steps[0] == steps[1]
    assert [density for _, _, density in steps[0]["green"]] == [0.40, 0.61, 1.22, 2.05]
    told = " ".join(run(tmp_path, "measure", name, *light).stdout.split())
    assert "Columns: step is 'Stufe', red is 'Rot', green is 'Grün'." in told


def test_the_options_that_would_decide_are_named_as_they_are_typed(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_text("step,red\n1,31\n2,50\n3,90\n4,150\n", encoding="utf-8")
    assert run(tmp_path, "import", "a.csv", "--yes").stderr.endswith("or densities (--no-point or --point).\n")
    (tmp_path / "b.csv").write_text("step,D_VIS,Visual\n1,0.31,0.32\n", encoding="utf-8")
    assert run(tmp_path, "import", "b.csv", "--yes").stderr.endswith("say which column it is (--column visual=2).\n")
    (tmp_path / "d.csv").write_text("step,red\n1,0.31\n2,0.5\n3,0.9\n4,1.5\n", encoding="utf-8")
    rest = "give the rest (--kind reversal --wedge 21x0.15 --lux 25 --seconds 0.02 or"
    assert rest in run(tmp_path, "measure", "d.csv").stderr
    text = WHOLE.replace("ORIGINATOR", 'REMARK "once Status M"\nORIGINATOR')
    (tmp_path / "c.txt").write_text(text, encoding="utf-8")
    assert run(tmp_path, "import", "c.txt", "--samples", "GS0:GS3").stderr.endswith(
        'say which (--density "status A" or --density "status M").\n'
    )


def test_check_tells_what_is_odd_in_exchange_text(tmp_path: Path) -> None:
    rows = "".join(f"{n} 0.{n} 0.{n}1 0.{n}2 0.{n}3\n" for n in range(1, 6))
    text = WHOLE.partition("BEGIN_DATA\n")[0].replace("SETS\t5", "SETS\t6") + "BEGIN_DATA\n" + rows + "END_DATA\n"
    (tmp_path / "odd.txt").write_text(text, encoding="utf-8")
    done = run(tmp_path, "check", "odd.txt")
    assert done.returncode == 0
    assert done.stdout == (
        "odd.txt: loads, but look at this\n"
        "  - NUMBER_OF_SETS says 6, but there are 5 sets: is the file whole?\n"
        "1 file: 0 good, 1 doubtful, 0 fail.\n"
    )


BY_LOG_H = "log H;visual\n-1,5;0,31\n-1,0;0,50\n-0,5;1,10\n0,0;1,90\n0,5;2,4\n"


@pytest.mark.parametrize(
    ("words", "unit"),
    [
        ((), "relative"),
        (("--log-h", "lux-seconds"), "lux-seconds"),
        (("--log-h", "metered grey", "--ei", "80"), "relative to metered mid-grey"),
    ],
)
def test_log_h_that_a_table_lists_counts_from_what_an_option_states(
    tmp_path: Path, words: tuple[str, ...], unit: str
) -> None:
    (tmp_path / "a.csv").write_text(BY_LOG_H, encoding="utf-8")
    done = run(tmp_path, "import", "a.csv", "--into", "b", "--yes", "--kind", "negative", *words)
    assert done.returncode == 0, done.stderr
    assert load_strip(tmp_path / "b.toml").log_h_unit == unit
    read = json.loads(run(tmp_path, "measure", "a.csv", "--kind", "negative", *words, "--json").stdout)["strips"][0]
    assert read["log_h_unit"] == unit


def test_an_origin_of_log_h_is_refused_where_rows_are_not_listed_by_it(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_text(TABLE, encoding="utf-8")
    done = run(tmp_path, "import", "a.csv", "--into", "b", "--yes", *SETTINGS, "--log-h", "relative")
    assert done.stderr == "curves: --log-h: rows are listed by step, not by log H.\nTry: leave the option out.\n"


def test_the_origin_of_log_h_is_asked_and_its_index_where_it_needs_one(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_text(BY_LOG_H, encoding="utf-8")
    done = run(tmp_path, "import", "a.csv", "--into", "b", "--kind", "negative", typed="metered grey\n80\n\n")
    assert done.returncode == 0, done.stderr
    assert "Log H counts from (lux-seconds, metered grey, relative), Enter for relative" in done.stdout
    assert load_strip(tmp_path / "b.toml").exposure.ei == 80


COLOURS = "SAMPLE_ID;XYZ_X;XYZ_Y;XYZ_Z\n1;80,1;79,43\n".replace("80,1;79,43", "80,1;79,43;70") + (
    "2;50;50,12;40\n3;20;25,12;15\n4;10;10,00;8\n5;3;1,00;2\n"
)


def test_a_table_of_colours_is_told_what_it_has_and_its_y_becomes_visual_density(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_text(COLOURS, encoding="utf-8")
    done = run(tmp_path, "import", "a.csv", "--into", "b", "--yes", *SETTINGS)
    assert done.stderr == (
        "curves: a.csv: the columns are SAMPLE_ID, XYZ_X, XYZ_Y, XYZ_Z: colours, and no densities; needed: columns of"
        " densities.\nTry: of a transparent target XYZ_Y is visual transmittance, of which visual density comes"
        " (--transmittance XYZ_Y).\n"
    )
    light = ("--kind", "reversal", "--wedge", "21x0.15", "--lux", "25", "--seconds", "1")
    done = run(tmp_path, "import", "a.csv", "--into", "b", "--yes", *light, "--transmittance", "XYZ_Y")
    assert done.returncode == 0, done.stderr
    strip = load_strip(tmp_path / "b.toml")
    assert strip.density == "visual"
    # Calculated: -log10(0.7943) and so on; 1 per cent is a density of 2.
    assert list(strip.readings["visual"]) == pytest.approx([0.10, 0.30, 0.60, 1.0, 2.0], abs=0.0005)
    assert "Visual density comes of transmittance in per cent" in " ".join(done.stdout.split())


def test_check_and_measure_name_no_option_that_they_lack(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_text(COLOURS, encoding="utf-8")
    advice = "Try: run curves import a.csv --transmittance XYZ_Y."
    assert advice in run(tmp_path, "check", "a.csv").stdout
    light = ("--kind", "reversal", "--wedge", "21x0.15", "--lux", "25", "--seconds", "1")
    assert advice in run(tmp_path, "measure", "a.csv", *light).stderr


@pytest.mark.parametrize("answers", [("--density", "visual"), ()])
def test_red_green_and_blue_are_never_visual_density(tmp_path: Path, answers: tuple[str, ...]) -> None:
    (tmp_path / "a.csv").write_text("No;R;G;B\n" + TABLE.partition("\n")[2].replace("\n", ";0,5\n"), encoding="utf-8")
    refusal = "density: the columns red, green, blue cannot hold visual density"
    done = run(tmp_path, "import", "a.csv", "--into", "b", *SETTINGS, *answers, typed="visual\nA\n\n")
    if answers:
        assert done.stderr.startswith(f"curves: --{refusal}")
    else:
        assert refusal in done.stdout
        assert load_strip(tmp_path / "b.toml").density == "status A"
    done = run(tmp_path, "import", "a.csv", "--into", "c", "--yes", *SETTINGS, "--column", "visual=R")
    assert "'R' names red density, which is not visual density" in done.stderr


def test_a_record_that_does_not_fit_the_table_is_not_offered(tmp_path: Path) -> None:
    (tmp_path / "first.csv").write_text(BY_LOG_H, encoding="utf-8")
    done = run(tmp_path, "import", "first.csv", "--into", "one", "--yes", "--kind", "negative")
    assert done.returncode == 0, done.stderr
    (tmp_path / "a.csv").write_text(TABLE, encoding="utf-8")
    done = run(tmp_path, "import", "a.csv", "--into", "b", typed="reversal\nA\ncontact\n4x0.3\n25\n1\n\n")
    assert done.returncode == 0, done.stderr
    assert "With one.toml" not in done.stdout
    assert "With b.toml" in run(tmp_path, "import", "a.csv", "--into", "c", typed="\nn\n").stdout
    # Five steps do not fit the wedge of four.
    (tmp_path / "a.csv").write_text(TABLE + "5;2,1;2,2\n", encoding="utf-8")
    assert "With b.toml" not in run(tmp_path, "import", "a.csv", "--into", "c", typed="\nn\n").stdout


def test_a_table_of_numbers_alone_gets_its_columns_proposed(tmp_path: Path) -> None:
    (tmp_path / "a.txt").write_text("-1,5 0,1\n-1,0 0,5\n-0,5 1,1\n0,0 1,9\n", encoding="utf-8")
    done = run(tmp_path, "import", "a.txt", "--yes")
    assert done.stderr.endswith("which column is which (--column log_h=1 --column visual=2).\n")
    (tmp_path / "a.txt").write_text("0.46 0.71 1.02\n0.57 0.82 1.15\n0.68 0.99 1.30\n1.2 1.4 1.7\n", encoding="utf-8")
    done = run(tmp_path, "import", "a.txt", "--yes")
    assert done.stderr.endswith("(--column red=1 --column green=2 --column blue=3).\n")
    (tmp_path / "a.txt").write_text("1,0.1,0.2,0.3\n2,0.5,0.6,0.7\n3,1,1.1,1.2\n4,2,2,2\n", encoding="utf-8")
    done = run(tmp_path, "import", "a.txt", "--yes")
    assert done.stderr.endswith("(--column step=1 --column red=2 --column green=3 --column blue=4).\n")
