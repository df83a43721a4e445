"""How near do a camera's densities come to a densitometer's? ``python -m tests.bench.matching --films 200``.

Films, cameras and densitometers are drawn from spectra that nothing was tuned on (`tests.matched_film`); the
densitometer reads some steps, with its own zero, scale and scatter off. Counted is how often 95 % intervals hold the
truth: of densities on the curve, of Dmax, of the log H of T in each layer, and of the index by visual density. Exposure
is exact, so that nothing else makes an interval wide.
"""

from __future__ import annotations

import argparse
import math
import tempfile
from collections import defaultdict
from functools import partial
from pathlib import Path

import numpy as np

from curves.files.strips.record import load_strip
from curves.sensitometry.analysis.analyse import analyse_alone
from curves.sensitometry.core.choices import Choices
from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import LAYERS
from curves.sensitometry.uncertainty.sources import sources_of
from tests.bench.index_truth import truth_of
from tests.matched_film import Status, twice_read, write_matched
from tests.simulate import Array

PLANS = {
    "3 steps": (2, 11, 20),
    "5 steps": (2, 7, 11, 15, 20),
    "7 steps": (2, 5, 8, 11, 14, 17, 20),
    "5 steps, thin half": (2, 4, 6, 8, 10),
}
"""Steps that the densitometer reads."""

K = 12.5


_GRID = np.arange(-9.0, 7.0, 0.005)


def _between(true: Array, log_h: Array) -> Array:
    """Return densities at log H, between those of `_GRID` [density]."""
    return np.interp(log_h, _GRID, true)


def holds(found: Quantity, true: float) -> bool:
    """Return True if an interval or a bound holds the truth."""
    if found.value is not None:
        assert found.low is not None
        assert found.high is not None
        return found.low <= true <= found.high
    if found.bound is None:
        return True
    side, at = found.bound
    return true < at if side == "<" else true > at


def counted(seed: int, status: Status, steps: tuple[int, ...]) -> dict[str, list[float]]:
    """Return of one film the errors before and after, and whether each interval holds the truth."""
    rng = np.random.default_rng((77, seed))
    strip = twice_read(rng, status)
    with tempfile.TemporaryDirectory() as folder:
        path = write_matched(
            Path(folder), strip, status, steps, rng,
            zero=0.01 * rng.standard_normal(), scale=1.0 + 0.01 * rng.standard_normal(),
        )  # fmt: skip
        loaded = load_strip(path)
    # Every source is drawn; the budget, which nobody asks for here, is not made.
    found = analyse_alone(loaded, set(sources_of(loaded)), Choices(draws=250))
    matched = np.column_stack([loaded.readings[c] for c in LAYERS])
    counts: dict[str, list[float]] = defaultdict(list)
    counts["before"] = [float(np.mean((strip.camera - strip.true) ** 2))]
    counts["after"] = [float(np.mean((matched - strip.true) ** 2))]
    true = np.column_stack([strip.densitometer(_GRID), strip.eye(_GRID)])
    for at, channel in enumerate(LAYERS):
        curves = found.channels[channel].ensemble
        rows = curves.density + curves.level_error[:, None]
        for step in range(0, strip.log_h.size, 4):
            density = [np.interp(strip.log_h[step], curves.grid, row) for row in rows[1:]]
            low, high = np.quantile(density, [0.025, 0.975])
            counts["density"].append(float(low <= strip.true[step, at] <= high))
            counts["width"].append(float(0.5 * (high - low)))
        whole = truth_of(partial(_between, true[:, at]), K)
        counts["T"].append(float(holds(found.channels[channel].points["T"].log_h, whole.t)))
        counts["Dmax"].append(float(holds(found.channels[channel].measures["dmax"], whole.dmax)))
    index = found.working_ei.recommended
    counts["index"].append(float(holds(index, truth_of(partial(_between, true[:, 3]), K).index)))
    if index.value is not None and index.low and index.high:
        counts["stops"].append(0.5 * math.log2(index.high / index.low))
    return counts


def main() -> None:
    """Print a row for each plan and kind of density."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--films", type=int, default=20)
    parser.add_argument("--plan", choices=PLANS, help="one of the plans; all if not given")
    asked = parser.parse_args()
    films = asked.films
    print(f"{'':32}{'rms error':>16}{'95 % intervals hold the truth':>38}")
    print(f"{'':32}{'before':>8}{'after':>8}{'+-':>8}{'density':>9}{'T':>7}{'Dmax':>7}{'index':>7}{'+- stop':>9}")
    for name, steps in PLANS.items():
        if asked.plan not in (None, name):
            continue
        for status in ("status A", "status M"):
            whole: dict[str, list[float]] = defaultdict(list)
            for seed in range(films):
                for key, values in counted(seed, status, steps).items():
                    whole[key] += values
            mean = {key: float(np.mean(values)) for key, values in whole.items()}
            print(
                f"{f'{name}, {status}':32}{mean['before'] ** 0.5:8.3f}{mean['after'] ** 0.5:8.3f}{mean['width']:8.3f}"
                f"{mean['density']:9.1%}{mean['T']:7.1%}{mean['Dmax']:7.1%}{mean['index']:7.1%}{mean['stops']:9.2f}",
                flush=True,
            )


if __name__ == "__main__":
    main()
