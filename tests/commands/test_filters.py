"""The three forms of `curves filters`, both meters in `ei`, and factor arithmetic, as their user runs them."""

import json
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from curves.views.words.terms import TERMS
from tests.commands.run import run
from tests.filter_demo import STACK
from tests.simulate import FOLDER
from tests.views.words.test_glossary import keys_of

BARE, THROUGH, DRAWER = (str(FOLDER / name) for name in ("heron-reversal.toml", "heron-filtered.toml", "drawer.csv"))
NAMED = " + ".join(STACK)


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> tuple[str, Path]:
    """What the first form prints for the demo strip, and where it wrote its page."""
    folder = tmp_path_factory.mktemp("filters")
    result = run(folder, "filters", BARE, "--drawer", DRAWER, "--plotly", "beside")
    assert result.returncode == 0, result.stderr
    assert result.stderr == ""
    return result.stdout, folder / "outputs"


def test_the_best_stack_is_named_with_both_meters_and_its_cost(found: tuple[str, Path]) -> None:
    text = found[0]
    lines = text.splitlines()
    assert f"Use {NAMED}." in lines
    # From the model: half the light on the hand-held meter's index, nearly the bare index through the filters.
    assert "Meter through the filters: set 10. Hand-held meter: set 5." in lines
    assert any(line.startswith("  cost         0.9 stops") for line in lines)
    assert "a bare 1/125 s becomes 1/60 s" in text
    # What the list says further down: cast not told apart, half a stop less.
    assert "and faster: cyan CC20, which costs 0.4 stops in place of 0.9" in " ".join(text.split())
    assert "The cast that this pack leaves is crossover, which no filter mends:" in " ".join(text.split())
    assert max(map(len, lines)) < 80


def test_the_page_and_its_numbers_are_written_and_named(found: tuple[str, Path]) -> None:
    text, folder = found
    assert text.splitlines()[-1] == "The curves behind each stack: outputs/heron-reversal-filters.html"
    page = (folder / "heron-reversal-filters.html").read_text(encoding="utf-8")
    chooser = page.partition('id="stack"')[2].partition("</select>")[0]
    assert chooser.count("<option") == page.count('<div data-stack="') == len(_numbers(folder)["stacks"])
    assert chooser.count(" selected>") == 1
    assert _numbers(folder)["best"] == list(STACK)


def _numbers(folder: Path) -> dict[str, list[object]]:
    numbers = json.loads((folder / "heron-reversal-filters.json").read_text(encoding="utf-8"))
    assert isinstance(numbers, dict)
    return numbers


def _every_json(folder: Path) -> Iterator[str]:
    copy = folder / "drawer.csv"
    shutil.copyfile(DRAWER, copy)
    for words in (
        (BARE, "--drawer", DRAWER, "--plotly", "beside"),
        ("--from", BARE, THROUGH, "--name", "both", "--drawer", str(copy)),
        ("--verify", BARE, THROUGH, "--stack", NAMED, "--drawer", DRAWER),
    ):
        result = run(folder, "filters", *words, "--json")
        assert result.returncode == 0, result.stderr
        yield result.stdout


def test_every_key_of_every_form_is_explained(tmp_path: Path) -> None:
    known = {key for term in TERMS for key in term.keys} | {"ei"}
    for text in _every_json(tmp_path):
        assert "NaN" not in text
        assert set(keys_of(json.loads(text))) <= known


def test_a_filter_measured_on_film_goes_into_the_drawer(tmp_path: Path) -> None:
    copy = tmp_path / "drawer.csv"
    old = "both,,,,,,2,20,red,,"
    copy.write_text(Path(DRAWER).read_text(encoding="utf-8") + old + "\n", encoding="utf-8")
    words = ("filters", "--from", BARE, THROUGH, "--name", "both", "--drawer", str(copy), "--meter-factor", "1.9")
    told = run(tmp_path, *words).stdout
    assert told.count("; a pure shift, ") == 3
    assert "as a factor" in told
    assert "Metering through the filter, give 0.1 stops more than the meter says" in " ".join(told.split())
    last = copy.read_text(encoding="utf-8").splitlines()[-1].split(",")
    assert last[0] == "both"
    # The truth of the simulation, to 0.03: the stack's densities to the layers of the demo film.
    assert [float(x) for x in last[1:4]] == pytest.approx([0.36, 0.25, 0.16], abs=0.03)
    assert f"The new row replaces: {old}" in " ".join(told.split())
    assert copy.read_text(encoding="utf-8").count("both") == 1


def test_a_prediction_is_put_beside_what_the_film_did(tmp_path: Path) -> None:
    told = " ".join(
        run(tmp_path, "filters", "--verify", BARE, THROUGH, "--stack", NAMED, "--drawer", DRAWER).stdout.split()
    )
    assert f"{NAMED}, predicted and measured" in told
    assert told.count("held: red") == 3
    # A tenth of a stop, which the second filter's surfaces reflect, hides in the scatter of two exposures.
    assert "The prediction holds: nothing differs by more than its uncertainty." in told


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (
            ("filters", BARE),
            "curves: --drawer: the table of filters is not given; needed: a table such as drawer.csv.",
        ),
        (
            ("filters", "--from", BARE, THROUGH, "--drawer", DRAWER),
            "curves: --name: the filter has no name; needed: a name for the drawer, without +.",
        ),
        (
            ("filters", "--from", BARE, THROUGH, "--name", "x", "--meter-factor", "0.5", "--drawer", DRAWER),
            "curves: --meter-factor: 0.5 is not a filter factor; needed: 1 or more.",
        ),
        (
            ("filters", "--verify", BARE, THROUGH, "--stack", "magneta CC40", "--drawer", DRAWER),
            "curves: --stack: 'magneta CC40' is not in the drawer.\nTry: write 'magenta CC40'.",
        ),
    ],
)
def test_a_slip_is_told_in_words(words: tuple[str, ...], said: str, tmp_path: Path) -> None:
    result = run(tmp_path, *words)
    assert result.returncode == 1
    assert result.stdout == ""
    assert result.stderr.strip() == said


@pytest.mark.parametrize("words", [(), (BARE, "--verify", BARE, THROUGH)])
def test_one_form_at_a_time(words: tuple[str, ...], tmp_path: Path) -> None:
    result = run(tmp_path, "filters", *words, "--drawer", DRAWER)
    assert result.returncode == 2
    assert "give one of: STRIP; --from BARE FILTERED; --from-pictures BESIDE THROUGH; --verify BARE ACTUAL" in " ".join(
        result.stderr.split()
    )


def test_ei_prints_both_meters_in_a_sentence_each(tmp_path: Path) -> None:
    assert "Set 10 on any meter: no filter was used." in " ".join(run(tmp_path, "ei", BARE).stdout.split())
    told = " ".join(run(tmp_path, "ei", BARE, "--full").stdout.split())
    assert "Meter through the filters: set 10. Hand-held meter: set 10. No filter was used, so they agree." in told


@pytest.mark.parametrize(
    ("metered", "short", "said"),
    [
        (
            "without",
            "Set 5 on a hand-held meter, 10 on a meter that looks through the filters.",
            "Meter through the filters: set 10. Hand-held meter: set 5. Between them lies the factor 2 of grey.",
        ),
        (
            "through",
            "Set 5 on a meter that looks through the filters, 2.5 on a hand-held meter.",
            "Meter through the filters: set 5. Hand-held meter: set 2.5. Between them lies the factor 2 of grey.",
        ),
    ],
)
def test_ei_of_a_strip_through_a_filter_knows_the_other_meter_by_the_factor(
    metered: str, short: str, said: str, tmp_path: Path
) -> None:
    record = (FOLDER / "heron-filtered.toml").read_text(encoding="utf-8").split("[[filter]]")[0]
    record += f'[[filter]]\nname = "grey"\nmetered = "{metered}"\nfactor = 2\n'
    (tmp_path / "grey.toml").write_text(record, encoding="utf-8")
    shutil.copyfile(FOLDER / "heron-filtered.csv", tmp_path / "heron-filtered.csv")
    strip = str(tmp_path / "grey.toml")
    assert short in " ".join(run(tmp_path, "ei", strip).stdout.split())
    assert said in " ".join(run(tmp_path, "ei", strip, "--full").stdout.split())


def test_ei_of_a_strip_through_an_unknown_filter_says_what_to_give(tmp_path: Path) -> None:
    told = " ".join(run(tmp_path, "ei", THROUGH).stdout.split())
    assert "5 on a hand-held meter; on a meter that looks through the filters 5 times the filter factor" in told
    told = " ".join(run(tmp_path, "ei", THROUGH, "--full").stdout.split())
    assert "Hand-held meter: set 5. Meter through the filters: set 5 times the factor that a meter takes" in told
    assert "(factor = 2.5 in [[filter]])" in told


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ("factor 4", "factor 4 = 2.00 stops = density 0.60"),
        ("2 stops", "factor 4 = 2.00 stops = density 0.60"),
        ("1 stop", "factor 2 = 1.00 stops = density 0.30"),
        ("density 0.3", "factor 2 = 1.00 stops = density 0.30"),
        ("density 5", "factor 100000 = 16.61 stops = density 5.00"),
    ],
)
def test_filter_factors_are_explained_both_ways(asked: str, said: str, tmp_path: Path) -> None:
    # Published (handbooks): density 0.30 = factor 2 = 1 stop; 0.60 = 4 = 2 stops.
    lines = run(tmp_path, "explain", asked).stdout.splitlines()
    assert lines[0] == said
    assert max(map(len, lines)) < 80


@pytest.mark.parametrize("asked", ["factor 0", "factor 2 stops"])
def test_what_is_no_factor_is_looked_up_as_a_word(asked: str, tmp_path: Path) -> None:
    result = run(tmp_path, "explain", asked)
    assert result.returncode == 1
    assert "is not in the glossary" in result.stderr
