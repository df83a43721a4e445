"""The club's series: one film and one exposure, first-developed for five times, with a known truth.

More first development makes the film faster (a stop for twice the time about the usual seven minutes, less beyond) and
clears its highlights; Dmax stays. Each run of the process differs a little from the others: speed by 0.04 stop,
contrast by 1 %, Dmin by 0.005 (standard deviations).
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from tests.simulate import HERON_AS_SLIDE, STOP, Film, Scenario, readings_text, record_text, scenarios

MINUTES = (5.0, 6.0, 7.0, 8.5, 10.0)


def film_at(minutes: float, *, slower: float = 0.0, flatter: float = 1.0, veil: float = 0.0) -> Film:
    """Return the film as a first development of some minutes leaves it.

    Args:
        minutes: time of the first development [min].
        slower: exposure that the film needs beyond that [stops].
        flatter: factor of the spread of its emulsions beyond that [unitless].
        veil: density that is left in the highlights beyond that [density].
    """
    faster = 1.6 * (1.0 - (7.0 / minutes) ** 0.9)
    spread = flatter * (minutes / 7.0) ** -0.10
    cleared = math.exp(-(minutes - 7.0) / 4.0)
    layers = {
        channel: replace(
            layer,
            veil=layer.veil * cleared + veil,
            emulsions=tuple(
                replace(e, centre=e.centre + STOP * (slower - faster), spread=e.spread * spread)
                for e in layer.emulsions
            ),
        )
        for channel, layer in HERON_AS_SLIDE.layers.items()
    }
    return Film("reversal", layers)


def runs(seed: int = 501) -> list[Scenario]:
    """Return the strips of the series, from the shortest time to the longest."""
    rng = np.random.default_rng(seed)
    usual = scenarios()["heron-reversal"]
    found = []
    for number, minutes in enumerate(MINUTES):
        speed, contrast, dmin = rng.standard_normal(3) * (0.04, 0.01, 0.005)
        time = f"{int(minutes)}:{round(60 * (minutes % 1)):02}"
        found.append(
            replace(
                usual,
                name=f"first-{time.replace(':', '')}",
                title=f"Heron 80, first developer {time}",
                process=f"colour reversal, first developer {time} at 38 C",
                date="2026-03-21",
                film=film_at(minutes, slower=speed, flatter=1.0 + contrast, veil=dmin),
                channels=("red", "green", "blue"),
                seed=100 * seed + number,
            )
        )
    return found


def files() -> dict[str, str]:
    """Return the text of every generated file by name."""
    found = {}
    for scenario, minutes in zip(runs(), MINUTES, strict=True):
        conditions = f"\n[conditions]\nfirst_developer_minutes = {minutes:g}\nfirst_developer_celsius = 38\n"
        found[f"times/{scenario.name}.toml"] = record_text(scenario) + conditions
        found[f"times/{scenario.name}.csv"] = readings_text(scenario)
    return found
