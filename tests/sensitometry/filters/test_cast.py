import numpy as np
import pytest

from curves.sensitometry.filters.cast import HUES, amounts, cast_of, hue, total_cast, unknown_cast


@pytest.mark.parametrize(
    ("densities", "name"),
    [
        ((0.2, 0.0, 0.0), "cyan"),
        ((0.0, 0.2, 0.0), "magenta"),
        ((0.0, 0.0, 0.2), "yellow"),
        ((0.2, 0.2, 0.0), "blue"),
        ((0.0, 0.2, 0.2), "red"),
        ((0.2, 0.0, 0.2), "green"),
        ((0.0, 0.1, 0.2), "orange"),
        ((0.2, 0.0, 0.1), "blue-green"),
    ],
)
def test_surplus_density_has_the_hue_of_its_dye(densities: tuple[float, float, float], name: str) -> None:
    # Common practice: red density is cyan dye, green magenta, blue yellow; two make the hue between.
    assert hue(np.array(densities)) == name
    assert hue(np.array(densities) + 1.3) == name


def test_hues_go_around_the_circle() -> None:
    assert len(set(HUES)) == 12
    around = [hue(np.cos(np.deg2rad(angle) - 2 * np.pi * np.arange(3) / 3)) for angle in range(0, 360, 30)]
    assert tuple(around) == HUES


@pytest.mark.parametrize("densities", [(0.22, 0.0, 0.0), (0.22, 0.22, 0.0), (0.9, 1.12, 1.12)])
def test_the_amount_is_the_density_of_the_filter_that_would_make_it(densities: tuple[float, ...]) -> None:
    assert amounts(np.array(densities)) == pytest.approx(0.22)


def test_amounts_take_any_shape() -> None:
    many = np.zeros((4, 5, 3))
    many[..., 1] = 0.3
    assert amounts(many) == pytest.approx(np.full((4, 5), 0.3))
    assert np.isnan(amounts(np.array([np.nan, 0.0, 0.0])))


def test_a_cast_is_told_as_a_printer_would() -> None:
    rows = np.array([[0.3, 0.08, 0.19]]) + 0.002 * np.random.default_rng(1).standard_normal((400, 3))
    rows[0] = (0.3, 0.08, 0.19)
    cast = cast_of(rows)
    assert cast.words == "0.19 too blue-green"
    assert not cast.neutral
    assert (cast.amount.low, cast.amount.value, cast.amount.high) == pytest.approx((0.187, 0.191, 0.195), abs=0.002)
    assert sum(q.value or 0.0 for q in cast.layers.values()) == pytest.approx(0.0)


def test_a_cast_that_scatter_explains_may_be_none() -> None:
    rows = 1.0 + 0.03 * np.random.default_rng(2).standard_normal((400, 3))
    rows[0] = (1.01, 1.0, 1.0)
    cast = cast_of(rows)
    assert cast.neutral
    assert cast.amount.low == 0.0
    assert cast.words == "0.01 too cyan, within its uncertainty"


def test_a_cast_that_is_not_known_says_why() -> None:
    assert unknown_cast("white falls off the strip in blue").words == "not known: white falls off the strip in blue"
    assert not unknown_cast("off the strip").neutral


def triples(count: int) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    """Return an estimate of no cast and draws on a circle about it: red and green scatter by 0.01, independently."""
    angle = 2.0 * np.pi * np.arange(count) / count
    scale = 0.01 * np.sqrt(2.0 * (count - 1) / count)
    red, green = scale * np.cos(angle), scale * np.sin(angle)
    return np.vstack([np.zeros(3), np.stack([red, green, -red - green], axis=1)])


@pytest.mark.parametrize(("distance", "neutral"), [(5.98, True), (6.0, False)])
@pytest.mark.parametrize("way", [(1.0, 0.0), (0.0, -1.0), (0.6, 0.8)])
def test_a_cast_is_neutral_within_the_95_percent_region_of_its_draws(
    distance: float, neutral: bool, way: tuple[float, float]
) -> None:
    # The 95 % point of chi-square with two degrees of freedom is 5.991.
    rows = triples(400)
    red, green = 0.01 * np.sqrt(distance) * np.array(way)
    rows[0] = (red, green, -red - green)
    assert cast_of(1.0 + rows).neutral is neutral
    assert cast_of(1.0 + rows[:3]).neutral is False


def test_without_draws_a_cast_has_no_interval_and_is_not_called_neutral() -> None:
    cast = cast_of(np.array([[1.01, 1.0, 1.0]]))
    assert (cast.neutral, cast.amount.low, cast.amount.high) == (False, None, None)


def test_the_cast_left_counts_grey_twice() -> None:
    # By hand: the root of 0.25 * 0.1^2 + 0.5 * 0.2^2 + 0.25 * 0.3^2.
    assert total_cast(np.array([0.1, 0.2, 0.3])) == pytest.approx(np.sqrt(0.0025 + 0.02 + 0.0225))
    assert total_cast(np.array([[0.2, 0.2, 0.2]])) == pytest.approx([0.2])


@pytest.mark.parametrize(("amount", "words"), [(0.0049, "neutral"), (0.0051, "0.01 too cyan")])
def test_a_cast_of_less_than_half_a_hundredth_is_called_neutral(amount: float, words: str) -> None:
    assert cast_of(np.array([[1.0 + amount, 1.0, 1.0]])).words == words
