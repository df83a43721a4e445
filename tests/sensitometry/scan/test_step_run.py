"""The run of cells that are the steps: from edge to edge, to the end of the row, from either end."""

from __future__ import annotations

import numpy as np
import pytest

from curves.sensitometry.core.units import Kind
from curves.sensitometry.scan.ladder_fit import EdgeFit
from curves.sensitometry.scan.ladder_run import longest_run


def cells(jumps: list[float], even: list[bool] | None = None) -> EdgeFit:
    """Return a row of cells whose densities differ by these jumps, the outer two included."""
    jump, count = np.array(jumps), len(jumps) - 1
    plateau = np.ones(count, dtype=bool) if even is None else np.array(even)
    return EdgeFit(
        (40, 400), False, 0.0, 10.0, 20.0, 5.0, 35.0, plateau, jump, np.abs(jump) > 0.006, np.zeros(count + 1, bool)
    )


@pytest.mark.parametrize(("kind", "way"), [("reversal", 1.0), ("negative", -1.0)])
def test_a_run_goes_on_to_the_last_cell_of_the_row(kind: Kind, way: float) -> None:
    run = longest_run(cells([0.0, *[0.2 * way] * 7, 0.0]), kind)
    assert (run.first, run.last, run.edges) == (0, 7, 7)


def test_a_run_from_the_other_end_is_counted_from_there() -> None:
    run = longest_run(cells([0.0, 0.0, *[-0.2] * 6, 0.0]), "reversal")
    assert (run.first, run.last, run.edges) == (0, 7, 6)
    assert run.cells.pitch < 0.0


def test_a_run_ends_where_density_turns_and_the_longer_part_is_taken() -> None:
    run = longest_run(cells([0.0, 0.2, 0.2, -0.3, 0.2, 0.2, 0.2, 0.2, 0.0]), "reversal")
    assert (run.first, run.last, run.edges) == (3, 7, 4)


def test_one_uneven_cell_between_edges_is_a_step_and_two_are_not() -> None:
    jumps = [0.0, *[0.2] * 8, 0.0]
    one = longest_run(cells(jumps, [cell != 3 for cell in range(9)]), "reversal")
    two = longest_run(cells(jumps, [cell not in (3, 4) for cell in range(9)]), "reversal")
    assert (one.first, one.last) == (0, 8)
    assert (two.first, two.last) == (5, 8)
