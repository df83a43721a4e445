import numpy as np
import pytest

from curves.sensitometry.filters.cast import HUES, amounts, cast_of, hue, unknown_cast


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
