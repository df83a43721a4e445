"""The club's control strips: one film, twenty runs of the process, two of them with a tired bath, and two batches.

Each run differs a little from the others, as processes do: speed by 0.03 stop, contrast by 1 %, Dmin by 0.005 (standard
deviations). In the runs of `TIRED` the first developer is weak: the film needs more exposure and does not clear. The
strips of the second batch were exposed later, on film that has aged: they went through beside the first in five runs.
"""

from __future__ import annotations

import datetime
from dataclasses import dataclass, replace

import numpy as np

from tests.simulate import HERON_AS_SLIDE, STOP, Film, Scenario, readings_text, record_text, scenarios

RUNS, TIRED = 20, (17, 18)
"""Number of runs, and places of those with a weak first developer, from 0."""

BESIDE = range(7, 12)
"""Runs in which both batches went through side by side; the first batch ends with them, from 0."""

FIRST, SECOND = "2026-03", "2026-06"
"""Names of the batches."""

AGED = {"slower": 0.12, "veil": 0.015}
"""What the second batch is beyond the first [stops, density]."""


def film_of_run(
    rng: np.random.Generator,
    *,
    slower: float = 0.0,
    veil: float = 0.0,
    flatter: float = 0.0,
    thinner: float = 0.0,
    scatter: float = 1.0,
) -> Film:
    """Return the film as one run of the process leaves it.

    Args:
        rng: random numbers.
        slower: exposure that the film needs beyond the usual [stops].
        veil: density that is left in the highlights beyond the usual [density].
        flatter: share of the contrast that is lost [unitless].
        thinner: density that the shadows lack [density].
        scatter: of the process from run to run, in the usual one [unitless].
    """
    moved = STOP * (slower + 0.03 * scatter * rng.standard_normal())
    wider = 1.0 + flatter + 0.01 * scatter * rng.standard_normal()
    more = veil + 0.005 * scatter * rng.standard_normal()
    return _changed(HERON_AS_SLIDE, moved, wider, more, thinner)


@dataclass(frozen=True)
class Run:
    """A strip of one batch in one run of the process."""

    scenario: Scenario
    batch: str


def runs(seed: int = 405, tired: tuple[int, ...] = TIRED) -> list[Run]:
    """Return the control strips in the order of their processing."""
    rng = np.random.default_rng(seed)
    usual = scenarios()["heron-reversal"]
    found = []
    for number in range(RUNS):
        weak = number in tired
        date = datetime.date(2026, 4, 4) + datetime.timedelta(days=7 * number)
        first = film_of_run(rng, slower=0.3 if weak else 0.0, veil=0.06 if weak else 0.0)
        strips = [(FIRST, first, "")] if number <= BESIDE[-1] else []
        if number >= BESIDE[0]:
            strips.append((SECOND, aged(first), "b" if strips else ""))
        for place, (batch, film, ending) in enumerate(strips):
            scenario = replace(
                usual,
                name=f"run-{number + 1:02}{ending}",
                title=f"Heron 80, control strip {number + 1}{ending}",
                date=date.isoformat(),
                film=film,
                channels=("red", "green", "blue"),
                seed=100 * seed + number + 50 * place,
            )
            found.append(Run(scenario, batch))
    return found


def aged(film: Film) -> Film:
    """Return the film of the first batch as the second batch is."""
    return _changed(film, STOP * AGED["slower"], 1.0, AGED["veil"])


def _changed(film: Film, moved: float, wider: float, more: float, thinner: float = 0.0) -> Film:
    """Return a film whose layers need more exposure [log10], are wider by a factor, keep more density, lack some."""
    return Film(
        "reversal",
        {
            channel: replace(
                layer,
                veil=layer.veil + more,
                ceiling=layer.ceiling - thinner,
                emulsions=tuple(replace(e, centre=e.centre + moved, spread=e.spread * wider) for e in layer.emulsions),
            )
            for channel, layer in film.layers.items()
        },
    )


def files() -> dict[str, str]:
    """Return the text of every generated file by name."""
    found = {}
    for run in runs():
        record = record_text(run.scenario).replace("\ndate = ", f'\nbatch = "{run.batch}"\ndate = ')
        found[f"control/{run.scenario.name}.toml"] = record
        found[f"control/{run.scenario.name}.csv"] = readings_text(run.scenario)
    return found
