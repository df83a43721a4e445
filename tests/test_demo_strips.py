import pytest

from curves import analyse, load_strip
from tests.draws import NO_DRAWS
from tests.simulate import FOLDER, demo_files, scenarios, truth


@pytest.mark.parametrize("name", sorted(demo_files()))
def test_the_demo_files_are_what_the_simulation_writes(name: str) -> None:
    assert (FOLDER / name).read_text(encoding="utf-8") == demo_files()[name]


def test_every_demo_file_says_that_it_is_invented() -> None:
    assert "all invented" in (FOLDER / "README.md").read_text(encoding="utf-8")
    for name in scenarios():
        assert "Invented" in (FOLDER / f"{name}.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize("name", ["heron-reversal", "wren-reversal"])
def test_the_working_index_of_a_demo_strip_is_near_its_truth(name: str) -> None:
    scenario = scenarios()[name]
    ei = analyse(load_strip(FOLDER / f"{name}.toml"), NO_DRAWS).working_ei
    true = truth(scenario.film, "visual")
    for criterion in ("highlight", "middle", "shadow"):
        # A third of a stop: what one reading of scatter 0.012 leaves, several times over.
        assert ei.criteria[criterion].ei.value == pytest.approx(true[f"ei {criterion}"], rel=0.26)


def test_a_strip_that_ended_too_soon_names_no_index() -> None:
    ei = analyse(load_strip(FOLDER / "heron-short.toml"), NO_DRAWS).working_ei
    assert ei.nominal is None
    assert any("more exposure" in sentence for sentence in ei.advice)
