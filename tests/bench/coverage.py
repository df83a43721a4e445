"""How often do intervals hold the simulated truth? ``python -m tests.bench.coverage --seeds 500``."""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Iterable

from curves import Choices, analyse
from curves.sensitometry.exposure import Given
from curves.sensitometry.findings import Analysis
from curves.sensitometry.quantity import Quantity
from curves.sensitometry.strip import Patches, Strip
from curves.sensitometry.units import CHANNELS, Channel, DensityKind, FloatArray, Kind
from tests.simulate import Scenario, scenarios, truth

Held = tuple[str, bool]


def as_strip(scenario: Scenario, seed: int) -> Strip:
    """Return one simulated strip of a scenario, with its true exposures."""
    kind: Kind = "negative" if scenario.film.kind == "negative" else "reversal"
    density: DensityKind = "status M" if kind == "negative" else "status A"
    readings: dict[Channel, FloatArray] = {c: scenario.readings(seed)[c] for c in CHANNELS if c in scenario.channels}
    patches = {
        name: {c: values[c] for c in CHANNELS if c in values} for name, values in scenario.patch_readings(seed).items()
    }
    return Strip(
        title=scenario.name,
        kind=kind,
        density=density,
        exposure=Given(),
        position=scenario.log_h,
        readings=readings,
        patches=Patches(**patches),
        repeatability=scenario.noise,
    )


def held(scenario: Scenario, analysis: Analysis) -> Iterable[Held]:
    """Yield, for every number of an analysis whose truth is known, whether its interval holds it.

    Channels that were computed from others are left out: their error is the model's, not the readings'.
    """
    for channel, found in analysis.channels.items():
        if found.estimated:
            continue
        true = truth(scenario.film, channel)
        for key in ("dmin", "dmax", "base", "gamma"):
            yield from _one(key, found.measures[key], true[key])
        for name, point in found.points.items():
            yield from _one(name, point.log_h, true[name])
        if channel == analysis.working_ei.channel:
            for name, criterion in analysis.working_ei.criteria.items():
                if f"ei {name}" in true:
                    yield from _one(f"ei {name}", criterion.ei, true[f"ei {name}"])


def _one(name: str, quantity: Quantity, true: float) -> Iterable[Held]:
    if quantity.low is not None and quantity.high is not None:
        yield name, quantity.low <= true <= quantity.high
    elif quantity.bound is not None:
        side, end = quantity.bound
        yield f"{name} (bound)", true < end if side == "<" else true > end


def count(scenario: Scenario, seeds: int) -> dict[str, tuple[int, int]]:
    """Return for each quantity how many of its intervals held the truth, of how many."""
    good, all_of = Counter[str](), Counter[str]()
    for seed in range(1, seeds + 1):
        for name, holds in held(scenario, analyse(as_strip(scenario, seed), Choices(seed=seed))):
            good[name] += holds
            all_of[name] += 1
    return {name: (good[name], all_of[name]) for name in all_of}


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=500)
    parser.add_argument("--only", default="")
    wanted = parser.parse_args()
    for name, scenario in scenarios().items():
        if wanted.only in name:
            print(f"\n{name}, {wanted.seeds} seeds")
            for quantity, (good, of) in count(scenario, wanted.seeds).items():
                print(f"  {quantity:22} {100 * good / of:5.1f} %  of {of}")


if __name__ == "__main__":
    main()
