"""Simulated strips of the demo scenarios as the package takes them, without the way through files."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from curves.sensitometry.exposure import Camera, Contact, Frames
from curves.sensitometry.strip import Patches, Strip
from curves.sensitometry.units import CHANNELS, DensityKind, Kind
from curves.sensitometry.wedge import Wedge
from tests.simulate import NOMINAL, Scenario, wedge_21


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
