"""How often do intervals hold the simulated truth? ``python -m tests.bench.coverage --seeds 500``."""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Iterable, Mapping

import numpy as np

from curves import Choices, analyse
from curves.sensitometry.exposure import Camera, Contact, Frames
from curves.sensitometry.findings import Analysis
from curves.sensitometry.quantity import Quantity
from curves.sensitometry.strip import Patches, Strip
from curves.sensitometry.units import CHANNELS, Channel, DensityKind, Kind
from curves.sensitometry.wedge import Wedge
from tests.simulate import NOMINAL, Scenario, scenarios, truth, wedge_21

Held = tuple[str, bool]
Truths = Mapping[Channel, Mapping[str, float]]


def as_strip(scenario: Scenario, seed: int) -> Strip:
    """Return one simulated strip of a scenario as its record describes it: exposures come from the record's data."""
    kind: Kind = "negative" if scenario.film.kind == "negative" else "reversal"
    by_name: dict[str, DensityKind] = {"status A": "status A", "status M": "status M", "visual": "visual"}
    exposure, wedge = _exposure(scenario.exposure), None
    position = scenario.positions
    if isinstance(exposure, Frames):
        position = exposure.stops_of_ei(position)
    else:
        density = wedge_21() if "table" in scenario.wedge else NOMINAL
        wedge = Wedge(density, np.full(density.size, 0.02))
    read = scenario.readings(seed)
    patches = {
        name: {c: values[c] for c in CHANNELS if c in values} for name, values in scenario.patch_readings(seed).items()
    }
    return Strip(
        title=scenario.name,
        kind=kind,
        density=by_name[scenario.density],
        exposure=exposure,
        position=position,
        readings={c: read[c] for c in CHANNELS if c in scenario.channels},
        wedge=wedge,
        patches=Patches(**patches),
        repeatability=scenario.noise,
    )


def _exposure(table: Mapping[str, str | float]) -> Contact | Camera | Frames:
    """Return the exposure that a scenario's [exposure] table describes."""
    number = {key: float(value) for key, value in table.items() if key != "method"}
    if table["method"] == "contact":
        return Contact(number["lux"], number["seconds"])
    if table["method"] == "frames":
        return Frames(number["ei"])
    return Camera(number["ei"], int(number["metered_step"]), number["offset_stops"], number["flare"])


def truths(scenario: Scenario) -> Truths:
    """Return the true numbers of every channel that was read, log H counted as the analysis counts it."""
    found = {c: truth(scenario.film, c) for c in CHANNELS if c in scenario.channels}
    return {
        c: {name: value - scenario.grey * (name in ("T", "S", "M", "speed")) for name, value in true.items()}
        for c, true in found.items()
    }


def held(known: Truths, analysis: Analysis) -> Iterable[Held]:
    """Yield, for every number of an analysis whose truth is known, whether its interval holds it.

    Channels that were computed from others are left out: their error is the model's, not the readings'.
    """
    for channel, found in analysis.channels.items():
        if found.estimated:
            continue
        true = known[channel]
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
    known, good, all_of = truths(scenario), Counter[str](), Counter[str]()
    for seed in range(1, seeds + 1):
        for name, holds in held(known, analyse(as_strip(scenario, seed), Choices(seed=seed))):
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
