"""The commands as their user runs them."""

import csv
import json
import re
import shutil
from pathlib import Path

import pytest

from curves import load_strip
from curves.files.results.content import as_json, json_of_many, strip_content
from tests.commands.run import remembered, run
from tests.simulate import FOLDER

HERON = str(FOLDER / "heron-reversal.toml")
SHORT = str(FOLDER / "heron-short.toml")
WREN = str(FOLDER / "wren-reversal.toml")
COMMANDS = ("report", "measure", "ei", "check")


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_has_help_with_an_example(command: str, tmp_path: Path) -> None:
    result = run(tmp_path, command, "--help")
    assert result.returncode == 0
    assert f"Example: curves {command}" in " ".join(result.stdout.split())


@pytest.mark.parametrize("command", ["measure", "ei", "report"])
def test_json_goes_to_standard_output_with_nothing_beside_it(command: str, tmp_path: Path) -> None:
    result = run(tmp_path, command, HERON, "--json")
    assert result.stderr == ""
    found = json.loads(result.stdout)
    assert found["strips"][0]["working_ei"]["basis"] == "middle"


def test_a_report_writes_its_files_and_says_where(tmp_path: Path) -> None:
    result = run(tmp_path, "report", HERON, WREN)
    assert result.returncode == 0
    for name in ("heron-reversal", "wren-reversal"):
        for ending in (".html", ".json", "-steps.csv", "-curve.csv"):
            assert (tmp_path / "outputs" / f"{name}{ending}").exists()
            assert str(Path("outputs") / f"{name}{ending}") in result.stdout
    assert run(tmp_path, "report", HERON).returncode == 0


def test_a_report_writes_a_card_where_one_is_asked_for(tmp_path: Path) -> None:
    result = run(tmp_path, "report", WREN, "--card")
    assert result.returncode == 0
    assert str(Path("outputs") / "wren-reversal-card.html") in result.stdout
    assert "bracket" in (tmp_path / "outputs" / "wren-reversal-card.html").read_text(encoding="utf-8")


def test_a_report_leaves_a_file_of_somebody_else_alone(tmp_path: Path) -> None:
    (tmp_path / "outputs").mkdir()
    (tmp_path / "outputs" / "wren-reversal.html").write_text("mine", encoding="utf-8")
    result = run(tmp_path, "report", WREN)
    assert result.returncode == 1
    assert "made or changed by somebody else" in result.stderr
    assert (tmp_path / "outputs" / "wren-reversal.html").read_text(encoding="utf-8") == "mine"


@pytest.mark.parametrize("command", ["measure", "ei"])
@pytest.mark.parametrize("strip", [HERON, SHORT, WREN])
def test_lines_fit_a_terminal_of_eighty_columns(command: str, strip: str, tmp_path: Path) -> None:
    assert max(len(line) for line in run(tmp_path, command, strip).stdout.splitlines()) < 80


def test_a_strip_that_fell_short_names_no_number_but_what_to_do(tmp_path: Path) -> None:
    told = " ".join(run(tmp_path, "ei", SHORT).stdout.split())
    assert "No index can be named yet." in told
    assert "read the fully exposed film, or give 0.9 log H more exposure" in told


def test_an_error_is_told_in_two_lines_at_most_with_exit_status_one(tmp_path: Path) -> None:
    result = run(tmp_path, "measure", "nowhere.toml")
    assert result.returncode == 1
    assert result.stdout == ""
    assert result.stderr.startswith("curves: nowhere.toml: there is no such file.")
    assert len(result.stderr.splitlines()) <= 2
    assert "Traceback" not in result.stderr


@pytest.mark.parametrize(
    "words", [("measure",), ("measure", HERON, "--kind", "slide"), ("fit", HERON), ("ei", "--nope")]
)
def test_a_slip_in_usage_has_exit_status_two(words: tuple[str, ...], tmp_path: Path) -> None:
    result = run(tmp_path, *words)
    assert result.returncode == 2
    assert "Traceback" not in result.stderr


def test_scene_tones_that_make_no_sense_are_refused(tmp_path: Path) -> None:
    result = run(tmp_path, "ei", HERON, "--white-stops", "-3", "--shadow-stops", "0.5")
    assert result.returncode == 1
    assert "--white-stops, --shadow-stops: white at -3.0 stops is not above shadow at 0.5" in result.stderr
    result = run(tmp_path, "measure", HERON, "--shadow-stops", "-16")
    assert result.returncode == 1
    assert "--shadow-stops: no scene tone lies -16 stops from mid-grey; needed: at most 15 stops" in result.stderr


@pytest.mark.parametrize("command", ["ei", "measure", "report"])
@pytest.mark.parametrize(
    ("given", "hint"),
    [
        # 0.70 / 0.30103 = 2.3 stops.
        (("--white", "0.7"), "--white: tones of the scene are given in stops now; 0.7 of log H is 2.3 stops."
         " Try: --white-stops 2.3."),
        # Stops typed as the answer says them: 2.3 of log H would be 7.6 stops.
        (("--white", "2.3"), "Try: --white-stops 7.6, or --white-stops 2.3 if stops were meant."),
        (("--shadow", "-0.9"), "--shadow: tones of the scene are given in stops now; -0.9 of log H is -3.0 stops."
         " Try: --shadow-stops -3.0."),
    ],
)  # fmt: skip
def test_scene_tones_in_log_h_are_refused_with_the_stops_that_they_are(
    command: str, given: tuple[str, str], hint: str, tmp_path: Path
) -> None:
    result = run(tmp_path, command, HERON, *given)
    assert (result.returncode, result.stdout) == (1, "")
    assert hint in " ".join(result.stderr.split())


def test_the_white_of_the_scene_is_an_option(tmp_path: Path) -> None:
    low, high = (
        json.loads(run(tmp_path, "ei", WREN, "--json", "--white-stops", white).stdout)["strips"][0]["working_ei"][
            "criteria"
        ]
        for white in ("1.7", "2.7")
    )
    ratio = high["highlight"]["ei"]["value"] / low["highlight"]["ei"]["value"]
    # From the definition: the index doubles with every stop that white lies higher.
    assert ratio == pytest.approx(2.0, rel=1e-4)


def test_a_bare_table_is_measured_with_options(tmp_path: Path) -> None:
    table = tmp_path / "bare.csv"
    table.write_text((FOLDER / "wren-reversal.csv").read_text(encoding="utf-8"), encoding="utf-8")
    result = run(tmp_path, "measure", str(table), "--kind", "reversal", "--wedge", "21x0.15", "--ei", "25")
    assert result.returncode == 1
    assert result.stderr.endswith("Try: give --metered-step 11.\n")
    given = ("--kind", "reversal", "--wedge", "21x0.15", "--ei", "25", "--metered-step", "11")
    assert run(tmp_path, "measure", str(table), *given).returncode == 0


def test_check_counts_and_fails_if_any_file_does(tmp_path: Path) -> None:
    (tmp_path / "good.csv").write_text("step,red\n1,0.2\n2,0.4\n3,0.9\n4,1.5\n", encoding="utf-8")
    assert run(tmp_path, "check", str(tmp_path)).stdout.splitlines()[-1] == "1 file: 1 good, 0 doubtful, 0 fail."
    (tmp_path / "bad.toml").write_text('kind = "slide"\n', encoding="utf-8")
    result = run(tmp_path, "check", str(tmp_path))
    assert result.returncode == 1
    assert "'slide' is not known" in result.stdout
    assert result.stdout.splitlines()[-1] == "2 files: 1 good, 0 doubtful, 1 fail."


def test_check_names_what_is_doubtful(tmp_path: Path) -> None:
    record = (
        (FOLDER / "wren-reversal.toml")
        .read_text(encoding="utf-8")
        .replace('table = "wedge-21.csv"', "steps = 21\nincrement = 0.15")
    )
    (tmp_path / "wren.toml").write_text(record, encoding="utf-8")
    lines = (FOLDER / "wren-reversal.csv").read_text(encoding="utf-8").splitlines()
    lines[9] = lines[9].split(",")[0] + ",2.90"
    (tmp_path / "wren-reversal.csv").write_text("\n".join(lines), encoding="utf-8")
    found = json.loads(run(tmp_path, "check", str(tmp_path / "wren.toml"), "--json").stdout)["files"][0]
    assert found["loads"] is True
    assert [(d["code"], d["step"]) for d in found["doubts"]] == [("step-set-aside", 9)]


def with_exposure(folder: Path, added: str) -> str:
    """Write the demo strip with a line more in its [exposure] and return the record's path."""
    record = (FOLDER / "heron-reversal.toml").read_text(encoding="utf-8")
    (folder / "strip.toml").write_text(record.replace("[exposure]", f"[exposure]\n{added}"), encoding="utf-8")
    (folder / "heron-reversal.csv").write_bytes((FOLDER / "heron-reversal.csv").read_bytes())
    return str(folder / "strip.toml")


def test_a_scene_of_seconds_gets_the_time_that_the_film_needs(tmp_path: Path) -> None:
    strip = with_exposure(tmp_path, "schwarzschild = 0.85")
    told = " ".join(run(tmp_path, "ei", strip, "--scene-seconds", "60").stdout.split())
    assert "Expose where the meter asks for 60 s: 125 s" in told
    assert "The strip was exposed for 0.02 s; at EI 10 the scene asks for 60 s, more than 10 times longer" in told
    scene = json.loads(run(tmp_path, "ei", strip, "--scene-seconds", "60", "--json").stdout)["strips"][0]["working_ei"][
        "scene"
    ]
    assert scene["corrected_seconds"]["value"] == pytest.approx(125.0, abs=0.1)


def test_a_scene_of_seconds_without_a_law_is_told_what_to_give(tmp_path: Path) -> None:
    told = " ".join(run(tmp_path, "ei", HERON, "--scene-seconds", "60").stdout.split())
    assert "not known: the record holds no law of reciprocity: give [exposure] schwarzschild" in told


def test_a_scene_of_no_time_is_refused(tmp_path: Path) -> None:
    result = run(tmp_path, "ei", HERON, "--scene-seconds", "0")
    assert result.returncode == 2
    assert "'--scene-seconds': '0' is not a time in seconds; write 0.02 or 1/50" in result.stderr


def test_the_constant_of_the_meter_moves_an_index_that_is_laid_on_the_curve(tmp_path: Path) -> None:
    found = {}
    for constant in (12.5, 14.0):
        told = run(tmp_path, "ei", WREN, "--meter-constant", str(constant), "--json").stdout
        (strip,) = json.loads(told)["strips"]
        assert strip["meter_constant"] == constant
        assert strip["metered_exposure"] == pytest.approx(0.6516 * constant)
        found[constant] = strip["working_ei"]["criteria"]
    assert found[14.0]["highlight"]["ei"]["value"] / found[12.5]["highlight"]["ei"]["value"] == pytest.approx(
        1.12, rel=1e-3
    )
    assert found[14.0]["middle"]["ei"]["value"] == found[12.5]["middle"]["ei"]["value"]


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (
            ("--metered-exposure", "8.14"),
            "curves: --metered-exposure: the exposure k of a meter is not an option any more; needed: the constant K of"
            " the meter, K = k / 0.6516. Try: --meter-constant 12.5",
        ),
        (
            ("--meter-constant", "250"),
            "curves: --meter-constant: 250 is not the constant of a meter; needed: K from 5 to 30; meters are built"
            " with 12.5 or 14.",
        ),
    ],
)
def test_the_old_exposure_of_a_meter_is_refused_with_its_constant(
    given: tuple[str, str], said: str, tmp_path: Path
) -> None:
    result = run(tmp_path, "ei", WREN, *given)
    assert result.returncode == 1
    assert said in " ".join(result.stderr.split())


def test_what_decided_is_marked_wherever_the_answer_stands(tmp_path: Path) -> None:
    # A shadow a stop deeper decides where the highlight did.
    given = ("--shadow-stops", "-4")
    told = run(tmp_path, "ei", WREN, *given, "--full").stdout
    assert "(decides): the textured shadow" in " ".join(told.split())
    assert (
        json.loads(run(tmp_path, "ei", WREN, *given, "--json").stdout)["strips"][0]["working_ei"]["basis"] == "shadow"
    )
    for more in ((), ("--full",)):
        assert "by the end of shadow texture" in run(tmp_path, "measure", WREN, *given, *more).stdout
    run(tmp_path, "report", WREN, *given, "--into", str(tmp_path / "out"))
    page = (tmp_path / "out" / "wren-reversal.html").read_text(encoding="utf-8")
    assert "<b>shadow</b> <span class=chosen>decides</span>" in page
    assert "<b>highlight</b> <span class=chosen>decides</span>" not in page
    assert "decided by the end of shadow texture" in page
    assert '<div class="name">set, by the end of shadow texture</div>' in page


def test_an_index_of_ones_own_is_placed_and_its_losses_told_in_stops(tmp_path: Path) -> None:
    told = " ".join(run(tmp_path, "ei", HERON, "--at", "20").stdout.split())
    # Regression: computed by this code; the set index, 10, lies a stop below.
    assert "At 20 1.0 stops above the index before rounding, 10 (7 to 14); usable 3.6 to 12." in told
    assert "shadow -3.0 2.63 (2.54 to 2.72) 2.20 (2.11 to 2.29) no texture" in told
    assert "white keeps its detail, with 2.5 stops to spare (1.7 to 3.2). shadow loses its texture by 0.7 stops" in told
    at = json.loads(run(tmp_path, "ei", HERON, "--at", "20", "--json").stdout)["strips"][0]["working_ei"]["at"]
    assert (at["ei"], at["placements"]["shadow"]["state"]) == (20, "no texture")
    assert at["beyond_stops"]["shadow"]["value"] == pytest.approx(0.68, abs=0.02)
    assert run(tmp_path, "ei", HERON, "--at", "0").returncode == 1
    both = run(tmp_path, "ei", HERON, "--at", "20", "--scene-seconds", "8", "--draws", "20").stdout
    assert "Expose    where the meter asks for 8 s: not known" in both


def test_the_whole_text_and_an_index_of_ones_own_go_together(tmp_path: Path) -> None:
    told = run(tmp_path, "ei", HERON, "--at", "20", "--full").stdout
    assert told.index("What each tone asks for:") < told.index("At 20")


@pytest.mark.parametrize(("typed", "same"), [("1/50", "0.02"), ("0,02", "0.02")])
def test_a_shutters_time_is_understood(typed: str, same: str, tmp_path: Path) -> None:
    table = str(FOLDER / "heron-reversal.csv")
    given = ("--kind", "reversal", "--wedge", "21x0.15", "--lux", "25", "--seconds")
    one, other = (run(tmp_path, "measure", table, *given, time) for time in (typed, same))
    assert one.returncode == 0
    assert one.stdout == other.stdout
    for wrong in ("0", "1/0", "-1/50", "soon", "inf"):
        refused = run(tmp_path, "measure", table, *given, wrong)
        assert refused.returncode == 2
        assert "is not a time in seconds; write 0.02 or 1/50" in refused.stderr


def test_help_lists_options_under_headings(tmp_path: Path) -> None:
    lines = run(tmp_path, "ei", "--help").stdout.splitlines()
    headings = [line for line in lines if line.endswith(":") and not line.startswith(" ")]
    assert headings == ["Arguments:", "Options:", "Exposure:", "Readings:", "Scene and meter:", "Output:"]
    options = [(line.split()[0], number) for number, line in enumerate(lines) if line.startswith("  --")]
    found = {option: [h for h in headings if lines.index(h) < number][-1] for option, number in options}
    assert (found["--kind"], found["--lux"], found["--white-stops"], found["--json"]) == (
        "Readings:", "Exposure:", "Scene and meter:", "Output:",
    )  # fmt: skip
    # Options that are refused with their new names are not listed.
    assert "--white" not in found


def test_a_shell_completes_commands(tmp_path: Path) -> None:
    assert "--install-completion" in run(tmp_path, "--help").stdout


def test_measure_prints_each_strip_as_it_is_done(tmp_path: Path) -> None:
    result = run(tmp_path, "measure", WREN, "nowhere.toml")
    assert result.returncode == 1
    assert result.stdout.startswith("Wren 25, reversal\n")
    assert "nowhere.toml" in result.stderr
    # What was found is whole JSON too.
    found = json.loads(run(tmp_path, "measure", WREN, "nowhere.toml", "--json").stdout)
    assert [strip["title"] for strip in found["strips"]] == ["Wren 25, reversal"]
    both = run(tmp_path, "measure", WREN, HERON, "--json").stdout
    assert both == json.dumps(json.loads(both), indent=2, ensure_ascii=False) + "\n"


def test_somebody_who_brackets_is_advised_in_stops(tmp_path: Path) -> None:
    frames = run(tmp_path, "ei", str(FOLDER / "heron-frames.toml"), "--full").stdout
    assert "or give 2 stops less exposure" in " ".join(frames.split())
    assert "log H less" not in frames


def test_a_report_of_a_folder_names_what_it_leaves_out_and_what_fails_and_writes_the_rest(tmp_path: Path) -> None:
    for name in ("heron-short.toml", "heron-short.csv", "wren-scan-calibration.toml"):
        shutil.copy(FOLDER / name, tmp_path)
    text = (FOLDER / "heron-short.toml").read_text(encoding="utf-8")
    (tmp_path / "below").mkdir()
    (tmp_path / "below" / "bad.toml").write_text(text.replace('"reversal"', '"slide"', 1), encoding="utf-8")
    result = run(tmp_path, "report", ".")
    assert result.returncode == 1
    assert result.stderr.splitlines() == [
        "wren-scan-calibration.toml: left out, the calibration of a scan",
        "1 of 2 strips failed:",
        f'curves: {Path("below") / "bad.toml"} kind: \'slide\' is not known; needed: "negative" or "reversal".',
    ]
    assert (tmp_path / "outputs" / "heron-short.html").exists()
    found = json.loads(run(tmp_path, "report", ".", "--json").stdout)
    assert [strip["title"][:9] for strip in found["strips"]] == ["Heron 80,"]


def test_the_pieces_of_many_strips_are_the_json_of_all() -> None:
    found = [remembered(load_strip(path)) for path in (HERON, WREN)]
    assert "".join(json_of_many(strip_content(one) for one in found)) == as_json(found)


def test_many_strips_are_measured_by_several_processes_in_the_order_of_their_names(tmp_path: Path) -> None:
    text = (FOLDER / "wren-reversal.toml").read_text(encoding="utf-8")
    for name in ("wren-reversal.csv", "wedge-21.csv"):
        shutil.copy(FOLDER / name, tmp_path)
    for number in range(6):
        title = text.replace('title = "Wren 25, reversal"', f'title = "strip {number}"', 1)
        (tmp_path / f"s{number}.toml").write_text(title, encoding="utf-8")
    (tmp_path / "s2.toml").write_text(text.replace('"reversal"', '"slide"', 1), encoding="utf-8")
    result = run(tmp_path, "measure", ".", "--json", "--draws", "0")
    assert result.returncode == 1
    assert "1 of 6 strips failed:\ncurves: s2.toml kind: 'slide' is not known" in result.stderr
    found = json.loads(result.stdout)["strips"]
    assert [strip["title"] for strip in found] == [f"strip {n}" for n in (0, 1, 3, 4, 5)]
    assert "no draws were made" in found[0]["channels"]["visual"]["gamma"]["note"]
    result = run(tmp_path, "measure", ".", "--table", "all.csv", "--draws", "0")
    assert result.stdout == "all.csv: the numbers of 5 strips\n"
    with (tmp_path / "all.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert {row["strip"] for row in rows} == {f"s{n}.toml" for n in (0, 1, 3, 4, 5)}
    gamma = [float(row["value"]) for row in rows if row["number"] == "gamma"]
    assert gamma == [pytest.approx(found[0]["channels"]["visual"]["gamma"]["value"], rel=1e-5)] * 5
    again = run(tmp_path, "measure", ".", "--table", "all.csv", "--draws", "0")
    assert again.returncode == 1
    assert "5 of 6 strips were in the table already" in again.stdout
    assert "1 of 1 strips failed:\ncurves: s2.toml kind: 'slide' is not known" in again.stderr
    (tmp_path / "other.csv").write_text("strip,mine\n", encoding="utf-8")
    other = run(tmp_path, "measure", ".", "--table", "other.csv", "--draws", "0")
    assert other.returncode == 1
    assert (
        "other.csv: the table cannot be made: there is already such a file, and no run of this command wrote it.\n"
        "Try: move it away, or name another." in other.stderr
    )


def test_reports_of_a_folder_lie_as_its_records_do(tmp_path: Path) -> None:
    for folder in ("monday", "tuesday"):
        (tmp_path / "tests" / folder).mkdir(parents=True)
        for name in ("heron-short.toml", "heron-short.csv"):
            shutil.copy(FOLDER / name, tmp_path / "tests" / folder)
    assert run(tmp_path, "report", "tests").returncode == 0
    for folder in ("monday", "tuesday"):
        assert (tmp_path / "outputs" / folder / "heron-short.html").exists()
    twice = run(tmp_path, "report", "tests/monday", "tests/tuesday")
    assert twice.returncode == 1
    assert "would both be written as 'heron-short'" in twice.stderr


@pytest.mark.parametrize(
    "words", [("control", "a.csv", "b.csv"), ("compare", "a.csv", "b.csv"), ("series", "a.csv", "b.csv", "--by", "day")]
)
def test_strips_that_are_all_refused_are_named_one_by_one(tmp_path: Path, words: tuple[str, ...]) -> None:
    for name in ("a.csv", "b.csv"):
        (tmp_path / name).write_text("step,red\n1,nothing\n", encoding="utf-8")
    result = run(tmp_path, *words)
    assert result.returncode == 1
    assert "a.csv, line 2, red: 'nothing' is not a number" in result.stderr
    assert "b.csv, line 2, red: 'nothing' is not a number" in result.stderr


def test_a_reference_strip_that_is_refused_is_named(tmp_path: Path) -> None:
    before = [str(FOLDER / "control" / f"run-{n:02}.toml") for n in range(1, 13)]
    reference = [word for path in (*before[:10], "none.toml") for word in ("--reference", path)]
    result = run(tmp_path, "control", *before[10:], *reference)
    assert result.returncode == 1
    assert "1 of 11 strips failed:\ncurves: none.toml: " in result.stderr


def test_a_process_out_of_control_ends_with_status_three_and_its_charts(tmp_path: Path) -> None:
    strips = str(FOLDER / "control")
    result = run(tmp_path, "control", strips, "--first", "10")
    assert result.returncode == 3
    assert "Out of control: 1 of 10 strips after 10 reference strips has passed an action\nlimit" in result.stdout
    assert "first developer weak, short or cold" in result.stdout
    assert "gloves, eye protection" in result.stdout
    page = (tmp_path / "outputs" / "control.html").read_text(encoding="utf-8")
    assert page.count("<svg") == 2 * 10
    found = json.loads((tmp_path / "outputs" / "control.json").read_text(encoding="utf-8"))
    assert found["in_control"] is False
    assert [(alarm["strips"], alarm["above"]) for alarm in found["numbers"][0]["alarms"]] == [(2, True)]
    assert [batch["name"] for batch in found["batches"]] == ["2026-03", "2026-06"]
    assert "joins batch 2026-06" in page
    before = [str(FOLDER / "control" / f"run-{n:02}.toml") for n in range(11, 13)]
    reference = [word for n in range(1, 11) for word in ("--reference", str(FOLDER / "control" / f"run-{n:02}.toml"))]
    quiet = run(tmp_path, "control", *before, *reference)
    assert quiet.returncode == 0, quiet.stderr
    assert "In control: 2 strips after 10 reference strips, and no alarm." in quiet.stdout


def test_a_batch_that_nothing_joins_is_refused_with_what_is_needed(tmp_path: Path) -> None:
    alone = [str(FOLDER / "control" / f"run-{n:02}.toml") for n in (1, 2, 3, 4, 5, 13)]
    result = run(tmp_path, "control", *alone)
    assert result.returncode == 1
    assert "control strip 13: batch 2026-06 shares no run with batch 2026-03; needed: a run in which" in result.stderr
    assert not (tmp_path / "outputs").exists()


def test_a_series_gives_settings_first_and_writes_its_page_and_its_table(tmp_path: Path) -> None:
    words = (
        "series",
        str(FOLDER / "times"),
        "--by",
        "first_developer_minutes",
        "--for",
        "ei=10",
        "--for",
        "Gamma=1,25",
    )
    result = run(tmp_path, *words, "--table", "numbers.csv", "--draws", "250")
    assert result.returncode == 0, result.stderr
    assert result.stdout.startswith("Working EI 10: first developer 7.")
    assert "10 as the same wedge, light, reader and meter show it: 7." in result.stdout
    assert "Gamma (visual) 1.25: first developer " in result.stdout
    assert "Heron 80: first developer from 5 to 10 min, 5 strips." in result.stdout
    assert "gloves, eye protection" in result.stdout
    assert "Shared by all strips" not in result.stdout
    page = (tmp_path / "outputs" / "by-first_developer_minutes.html").read_text(encoding="utf-8")
    # The curves of four channels, a bar of colour, and a trend of each number.
    assert page.count("<svg") == 4 + 1 + 9
    assert page.count("wanted 10<") == 1
    with (tmp_path / "numbers.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == 5 * 9
    again = run(tmp_path, *words, "--table", "numbers.csv")
    assert again.returncode == 1
    assert "numbers.csv: the table cannot be made: File exists" in again.stderr
    result = run(tmp_path, *words, "--json", "--full", "--draws", "250")
    found = json.loads(result.stdout)
    assert [strip["setting"] for strip in found["strips"]] == [5.0, 6.0, 7.0, 8.5, 10.0]
    ei = found["wanted"][0]
    assert ei["alike"]["low"] < ei["alike"]["value"] < ei["alike"]["high"]
    assert {"value", "low", "high", "why"} == set(ei["setting"])
    line = found["numbers"][0]["trend"]
    assert line["settings"][0] == 5.0
    assert line["settings"][-1] == 10.0
    assert all(a < b < c for a, b, c in zip(line["low"], line["value"], line["high"], strict=True))
    assert run(tmp_path, *words[:4], "--for", "gamma").returncode == 2


def test_the_numbers_of_a_comparison_stand_under_each_other_however_long_their_names(tmp_path: Path) -> None:
    one, other = (str(FOLDER / "times" / f"first-{minutes}.toml") for minutes in (500, 1000))
    lines = run(tmp_path, "compare", one, other, "--draws", "50").stdout.splitlines()
    found = [re.search(r"(\S+) → (\S+) ", line) for line in lines]
    pairs = [(pair.start(), pair[1], pair[2]) for pair in found if pair]
    assert len(pairs) > 30
    assert len({start for start, _, _ in pairs}) == 1
    densities = [(a, b) for _, a, b in pairs if float(b) < 5.0 and float(a) < 2.0]
    assert all(len(a.partition(".")[2]) == len(b.partition(".")[2]) for a, b in densities)


def test_a_comparison_tells_what_differs_and_writes_its_page(tmp_path: Path) -> None:
    other = str(FOLDER / "heron-filtered.toml")
    quick = ("--draws", "500")
    result = run(tmp_path, "compare", HERON, other, "--align", "speed", *quick)
    assert result.returncode == 0, result.stderr
    assert "These differ:" in result.stdout
    # Names of sources hold commas: semicolons stand between them.
    assert "wedge, step by step; wedge's scale; wedge, as a whole; " in " ".join(result.stdout.split())
    assert "working EI" in result.stdout
    page = (tmp_path / "outputs" / "heron-reversal-against-heron-filtered.html").read_text(encoding="utf-8")
    assert "speed points laid over each other" in page
    found = json.loads(run(tmp_path, "compare", HERON, other, "--json", "--tolerance-stops", "3", *quick).stdout)
    (one,) = [d for d in found["comparisons"][0]["differences"] if d["number"] == "ei"]
    assert one["verdict"] == "slight"
    assert one["tolerance"] == 3.0
    alone = run(tmp_path, "compare", HERON)
    assert alone.returncode == 1
    assert "one strip has nothing to be compared with" in alone.stderr
