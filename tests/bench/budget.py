"""What a strip with its whole budget costs, against one fit of its layers by a monotone additive model, in one run."""

from __future__ import annotations

import importlib.util
import statistics
import time
from collections.abc import Callable, Iterator
from dataclasses import replace

from curves import Choices, analyse, load_strip
from curves.sensitometry.core.units import LAYERS
from tests.bench.fits import additive_model
from tests.simulate import FOLDER

RUNS = 5


def report() -> Iterator[str]:
    """Yield the time of an analysis of three layers: every interval and the budget of the index."""
    whole = load_strip(FOLDER / "heron-negative.toml")
    strip = replace(whole, readings={c: whole.readings[c] for c in LAYERS})
    ours = _median(lambda: analyse(strip))
    least = _median(lambda: analyse(strip, Choices(most_draws=1000)))
    yield "three layers, every interval and the budget of the index; median of five"
    yield f"  this package, draws until settled    {1000 * ours:8.0f} ms"
    yield f"  the same with 1000 draws             {1000 * least:8.0f} ms"
    if importlib.util.find_spec("pygam") is None:
        yield "  pygam is not installed (extra bench): nothing to compare with"
        return
    log_h = strip.log_h
    theirs = _median(lambda: [additive_model(log_h, -strip.readings[c]) for c in LAYERS])
    yield f"  pygam, three fits, no intervals      {1000 * theirs:8.0f} ms"
    yield f"  ratio {ours / theirs:.2f}, with 1000 draws {least / theirs:.2f}"


def _median(run: Callable[[], object]) -> float:
    run()
    times = []
    for _ in range(RUNS):
        start = time.perf_counter()
        run()
        times.append(time.perf_counter() - start)
    return statistics.median(times)
