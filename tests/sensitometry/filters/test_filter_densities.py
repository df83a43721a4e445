import pytest

from curves.errors import RecordError
from curves.sensitometry.core.units import STOP, visual_density
from curves.sensitometry.filters.densities import (
    UNCERTAINTY,
    cc_densities,
    default_uncertainty,
    filter_of,
    mired_densities,
    usual_shutter,
)


def test_a_warm_filter_holds_back_blue_most_and_a_cool_one_red() -> None:
    warm, cool = mired_densities(131), mired_densities(-131)
    assert warm.tolist() == sorted(warm)
    assert cool.tolist() == sorted(cool, reverse=True)
    assert warm + cool == pytest.approx([warm[2]] * 3)


def test_an_unknown_colour_is_refused_in_words() -> None:
    with pytest.raises(RecordError) as caught:
        cc_densities(20, "purple")
    assert str(caught.value) == (
        "'purple' is not a colour of CC filters; needed: cyan or magenta or yellow or red or green or blue."
    )


def test_each_source_has_its_own_uncertainty() -> None:
    # Common practice: 0.05 for a name, 0.04 for a densitometer, half a stop for a factor.
    strong = (0.0, 0.2, 0.6)
    assert default_uncertainty(strong, "nominal") == 0.05
    assert default_uncertainty(strong, "densitometer") == 0.04
    assert default_uncertainty((0.6, 0.6, 0.6), "factor") == 0.5 * STOP
    assert filter_of("x", strong, "film", uncertainty=0.007).uncertainty == 0.007


def test_a_weak_colour_is_less_unsure_in_proportion_down_to_a_fifth() -> None:
    # Own choice: in proportion to the colour, up to 0.5 between the layers.
    assert default_uncertainty((0.0, 0.25, 0.0), "nominal") == pytest.approx(0.025)
    assert default_uncertainty((0.3, 0.3, 0.3), "nominal") == pytest.approx(UNCERTAINTY["nominal"] / 5)


def test_a_missing_visual_density_is_estimated_and_less_sure() -> None:
    guessed, read = filter_of("a", (0.1, 0.3, 0.2), "film"), filter_of("b", (0.1, 0.3, 0.2), "film", visual=0.25)
    assert guessed.visual == pytest.approx(float(visual_density(0.1, 0.3, 0.2)))
    assert guessed.visual_uncertainty > read.visual_uncertainty == read.uncertainty


def test_only_a_factor_comes_with_a_warning() -> None:
    assert "assumed to be neutral" in (filter_of("old", (0.6, 0.6, 0.6), "factor").warning or "")
    assert filter_of("new", (0.6, 0.6, 0.6), "nominal").warning is None


@pytest.mark.parametrize(
    ("seconds", "said", "left"),
    [(1 / 60, "1/60 s", 0.0), (1 / 15, "1/15 s", 0.0), (1 / 48, "1/60 s", 0.4), (2.0, "2 s", 0.0), (7.0, "8 s", -0.19)],
)
def test_shutter_times_stay_on_the_usual_scale(seconds: float, said: str, left: float) -> None:
    # Common practice: whole stops from 1/8000 s to 30 s, whose names round (1/15 stands for 1/16).
    words, rest = usual_shutter(seconds)
    assert words == said
    assert rest == pytest.approx(left, abs=0.1)


# Common practice: the whole stops of a camera's shutter, fastest first, each twice as long as the one before.
SCALE = (
    "1/8000 s", "1/4000 s", "1/2000 s", "1/1000 s", "1/500 s", "1/250 s", "1/125 s", "1/60 s", "1/30 s", "1/15 s",
    "1/8 s", "1/4 s", "1/2 s", "1 s", "2 s", "4 s", "8 s", "15 s", "30 s",
)  # fmt: skip


@pytest.mark.parametrize(("stops", "said"), list(enumerate(SCALE, start=-13)))
def test_every_whole_stop_of_a_shutter_has_its_usual_name(stops: int, said: str) -> None:
    assert usual_shutter(2.0**stops) == (said, 0.0)
