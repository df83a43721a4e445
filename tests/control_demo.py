"""The club's control strips: one film, one exposure, fourteen runs of the process, one of them with a tired bath.

Each run differs a little from the others, as processes do: speed by 0.03 stop, contrast by 1 %, Dmin by 0.005 (standard
deviations). In the run of `TIRED` the first developer is weak: the film needs more exposure and does not clear.
"""

from __future__ import annotations

import datetime
from dataclasses import replace

import numpy as np

from tests.simulate import HERON_AS_SLIDE, STOP, Film, Scenario, readings_text, record_text, scenarios

RUNS, TIRED = 14, 12
"""Number of strips, and place of the one with a weak first developer, from 0."""


def film_of_run(rng: np.random.Generator, *, slower: float = 0.0, veil: float = 0.0) -> Film:
    """Return the film as one run of the process leaves it.

    Args:
        rng: random numbers.
        slower: exposure that the film needs beyond the usual [stops].
        veil: density that is left in the highlights beyond the usual [density].
    """
    moved = STOP * (slower + 0.03 * rng.standard_normal())
    flatter, more = 1.0 + 0.01 * rng.standard_normal(), veil + 0.005 * rng.standard_normal()
    layers = {
        channel: replace(
            layer,
            veil=layer.veil + more,
            emulsions=tuple(replace(e, centre=e.centre + moved, spread=e.spread * flatter) for e in layer.emulsions),
        )
        for channel, layer in HERON_AS_SLIDE.layers.items()
    }
    return Film("reversal", layers)


def runs(seed: int = 405, tired: int = TIRED) -> list[Scenario]:
    """Return the control strips in the order of their processing."""
    rng = np.random.default_rng(seed)
    usual = scenarios()["heron-reversal"]
    found = []
    for number in range(RUNS):
        weak = number == tired
        date = datetime.date(2026, 4, 4) + datetime.timedelta(days=7 * number)
        found.append(
            replace(
                usual,
                name=f"run-{number + 1:02}",
                title=f"Heron 80, control strip {number + 1}",
                date=date.isoformat(),
                film=film_of_run(rng, slower=0.3 if weak else 0.0, veil=0.06 if weak else 0.0),
                channels=("red", "green", "blue"),
                seed=100 * seed + number,
            )
        )
    return found


def files() -> dict[str, str]:
    """Return the text of every generated file by name."""
    found = {}
    for scenario in runs():
        found[f"control/{scenario.name}.toml"] = record_text(scenario)
        found[f"control/{scenario.name}.csv"] = readings_text(scenario)
    return found
