"""Filter arithmetic against handbooks and Planck's law."""

import numpy as np
import pytest
from scipy import constants

from curves.sensitometry.core.units import LAYERS
from curves.sensitometry.filters.densities import (
    LAYER_WAVELENGTHS,
    SECOND_RADIATION_CONSTANT,
    cc_densities,
    density_of_factor,
    density_of_stops,
    factor_of_density,
    mired_densities,
    stops_of_density,
)

# Published (handbooks' tables of filter factors): the factor, and the stops to open by, to a third.
FACTORS = {1.25: 1 / 3, 1.5: 2 / 3, 2.0: 1.0, 4.0: 2.0, 8.0: 3.0, 10.0: 10 / 3, 100.0: 20 / 3}


@pytest.mark.parametrize(("factor", "stops"), FACTORS.items())
def test_factors_and_stops_agree_with_the_handbooks(factor: float, stops: float) -> None:
    # A table in thirds of a stop is right to half of one.
    assert stops_of_density(density_of_factor(factor)) == pytest.approx(stops, abs=1 / 6)
    assert factor_of_density(density_of_stops(stops)) == pytest.approx(factor, rel=0.12)


def test_density_of_thirty_hundredths_is_a_stop() -> None:
    # Published (handbooks): density 0.30 = factor 1.995 = 0.997 stop.
    assert factor_of_density(0.30) == pytest.approx(1.995, abs=5e-4)
    assert stops_of_density(0.30) == pytest.approx(0.997, abs=5e-4)


def test_a_cc_value_is_a_hundredth_of_density_to_its_own_layer() -> None:
    # Published (convention of colour-compensating filters): CC05 means density 0.05.
    assert cc_densities(5, "magenta").tolist() == [0.0, 0.05, 0.0]
    assert cc_densities(40, "red").tolist() == [0.0, 0.40, 0.40]
    assert cc_densities(40, "yellow").tolist() == (cc_densities(40, "red") - cc_densities(40, "magenta")).tolist()


def test_the_radiation_constant_is_that_of_the_reference() -> None:
    # Published (CODATA, through scipy.constants): c2 = h c / k.
    c2 = constants.h * constants.c / constants.k
    assert pytest.approx(1e6 * c2, rel=1e-6) == SECOND_RADIATION_CONSTANT


@pytest.mark.parametrize(("before", "after"), [(3200.0, 5500.0), (5500.0, 3200.0), (2856.0, 3200.0)])
def test_a_mired_filter_turns_one_black_body_into_another(before: float, after: float) -> None:
    # Published (Planck's law, constants from scipy.constants). Wien's form, which the filter has, is off by under
    # 0.02 density in the visible at these temperatures.
    wavelength = np.array([LAYER_WAVELENGTHS[c] for c in LAYERS]) * 1e-6
    c2 = constants.h * constants.c / constants.k

    def log_light(kelvin: float) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
        return np.asarray(-np.log10(np.expm1(c2 / (wavelength * kelvin))))

    needed = log_light(before) - log_light(after)
    found = mired_densities(1e6 / after - 1e6 / before)  # by the definition of the mired
    assert found - found.mean() == pytest.approx(needed - needed.mean(), abs=0.02)
    assert found.min() == 0.0
