"""A known wedge on the set-up that reads the strip; truth by the definition of flare, by other arithmetic."""

import numpy as np
import pytest

from curves.errors import StripError
from curves.sensitometry.core.reader_units import KnownWedge, ReaderScale
from curves.sensitometry.core.units import FloatArray

KNOWN = np.arange(0.05, 3.1, 0.30)


def shown(density: FloatArray, flare: float, stretch: float) -> FloatArray:
    """Return stops below the open gate: stray light f beside the gate's 1, of which a patch passes 10^-D."""
    passed = (np.power(10.0, -density) + flare) / (1.0 + flare)
    return np.asarray(-np.log2(passed) * stretch)


def test_flare_and_stretch_are_found_from_exact_readings() -> None:
    scale, _ = KnownWedge(KNOWN.tolist(), shown(KNOWN, 0.002, 1.03).tolist()).measured(ReaderScale("stops"), "wedge")
    assert scale.flare == pytest.approx(0.002, rel=1e-3)
    assert scale.stretch == pytest.approx(1.03, rel=1e-4)
    assert scale.by_wedge
    strip = np.array([0.2, 1.0, 2.4])
    found = [scale.density(r, "step") for r in shown(strip, 0.002, 1.03)]
    assert found == pytest.approx(strip.tolist(), abs=1e-3)


def test_a_set_up_without_flare_is_found_to_have_none() -> None:
    scale, u = KnownWedge(KNOWN.tolist(), shown(KNOWN, 0.0, 1.0).tolist()).measured(ReaderScale("stops"), "wedge")
    assert scale.flare == pytest.approx(0.0, abs=1e-6)
    assert 0.0 < u < 0.05


def test_true_flare_and_stretch_lie_within_two_uncertainties_nineteen_times_of_twenty() -> None:
    held = []
    for seed in range(200):
        rng = np.random.default_rng((41, seed))
        readings = shown(KNOWN, 0.003, 0.98) + rng.normal(0.0, 0.03, KNOWN.size) / np.log10(2.0)
        stated = KNOWN + rng.normal(0.0, 0.02, KNOWN.size)
        scale, u = KnownWedge(stated.tolist(), readings.tolist()).measured(ReaderScale("stops"), "wedge")
        assert scale.flare is not None
        assert scale.flare_uncertainty is not None
        held.append(abs(scale.flare - 0.003) <= 2 * scale.flare_uncertainty)
        held.append(abs(scale.stretch - 0.98) <= 2 * u * scale.stretch)
    # The binomial law: 400 counts of 0.95 scatter by 0.011.
    assert 0.92 <= np.mean(held) <= 0.98


@pytest.mark.parametrize(
    ("known", "readings", "why"),
    [
        ([0.05, 1.0, 2.0], [0.2, 3.3, 6.6], "do not tell"),
        ([0.05, 0.2, 0.4, 0.6], [0.2, 0.7, 1.3, 2.0], "do not tell"),
        ([0.05, 0.65, 1.25, 1.85], [0.2, 4.1, 2.2, 6.1], "from what the known densities would show"),
    ],
)
def test_readings_that_show_nothing_are_refused(known: list[float], readings: list[float], why: str) -> None:
    with pytest.raises(StripError, match=why):
        KnownWedge(known, readings).measured(ReaderScale("stops"), "wedge")
