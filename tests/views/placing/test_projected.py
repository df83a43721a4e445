"""The colours of film as projected, against the observer, the light and the screen as the standards have them."""

from __future__ import annotations

import numpy as np
import pytest
from skimage.color import xyz2rgb

from curves.sensitometry.core.units import LAYERS
from curves.views.placing.projected import BANDS_TO_SCREEN, projected_data, screen_colour
from tests.views import sample

# Published: the CIE 1931 standard observer (ISO/CIE 11664-1) and the light D65 (ISO/CIE 11664-2), every 10 nm from 380
# to 780: x, y, z and the light's relative power.
OBSERVER_AND_LIGHT = np.array([
    (0.001368, 0.000039, 0.006450, 49.9755), (0.004243, 0.000120, 0.020050, 54.6482),
    (0.014310, 0.000396, 0.067850, 82.7549), (0.043510, 0.001210, 0.207400, 91.4860),
    (0.134380, 0.004000, 0.645600, 93.4318), (0.283900, 0.011600, 1.385600, 86.6823),
    (0.348280, 0.023000, 1.747060, 104.8650), (0.336200, 0.038000, 1.772110, 117.0080),
    (0.290800, 0.060000, 1.669200, 117.8120), (0.195360, 0.090980, 1.287640, 114.8610),
    (0.095640, 0.139020, 0.812950, 115.9230), (0.032010, 0.208020, 0.465180, 108.8110),
    (0.004900, 0.323000, 0.272000, 109.3540), (0.009300, 0.503000, 0.158200, 107.8020),
    (0.063270, 0.710000, 0.078250, 104.7900), (0.165500, 0.862000, 0.042160, 107.6890),
    (0.290400, 0.954000, 0.020300, 104.4050), (0.433450, 0.994950, 0.008750, 104.0460),
    (0.594500, 0.995000, 0.003900, 100.0000), (0.762100, 0.952000, 0.002100, 96.3342),
    (0.916300, 0.870000, 0.001650, 95.7880), (1.026300, 0.757000, 0.001100, 88.6856),
    (1.062200, 0.631000, 0.000800, 90.0062), (1.002600, 0.503000, 0.000340, 89.5991),
    (0.854450, 0.381000, 0.000190, 87.6987), (0.642400, 0.265000, 0.000050, 83.2886),
    (0.447900, 0.175000, 0.000020, 83.6992), (0.283500, 0.107000, 0.000000, 80.0268),
    (0.164900, 0.061000, 0.000000, 80.2146), (0.087400, 0.032000, 0.000000, 82.2778),
    (0.046770, 0.017000, 0.000000, 78.2842), (0.022700, 0.008210, 0.000000, 69.7213),
    (0.011359, 0.004102, 0.000000, 71.6091), (0.005790, 0.002091, 0.000000, 74.3490),
    (0.002899, 0.001047, 0.000000, 61.6040), (0.001440, 0.000520, 0.000000, 69.8856),
    (0.000690, 0.000249, 0.000000, 75.0870), (0.000332, 0.000120, 0.000000, 63.5927),
    (0.000166, 0.000060, 0.000000, 46.4182), (0.000083, 0.000030, 0.000000, 66.8054),
    (0.000042, 0.000015, 0.000000, 63.3828),
])  # fmt: skip
# Published (IEC 61966-2-1): linear light of the screen from CIE XYZ, by rows.
SCREEN = np.array([[3.2406, -1.5372, -0.4986], [-0.9689, 1.8758, 0.0415], [0.0557, -0.2040, 1.0570]])


def parts_of_the_spectrum() -> np.ndarray:
    """Return XYZ of the light in the red, the green and the blue part of the spectrum, in columns, (3, 3)."""
    at = np.arange(380.0, 781.0)
    every = [np.interp(at, np.arange(380.0, 781.0, 10.0), column) for column in OBSERVER_AND_LIGHT.T]
    weighted = np.array(every[:3]) * every[3]
    weighted /= weighted[1].sum()
    bands = (at >= 580.0, (at >= 490.0) & (at < 580.0), at < 490.0)
    return np.stack([weighted[:, band].sum(axis=1) for band in bands], axis=1)


def test_the_stated_model_gives_the_numbers_of_the_package() -> None:
    assert pytest.approx(SCREEN @ parts_of_the_spectrum(), abs=0.008) == np.array(BANDS_TO_SCREEN)


def test_the_light_of_the_lamp_is_the_white_of_the_screen() -> None:
    assert np.sum(BANDS_TO_SCREEN, axis=1) == pytest.approx(1.0, abs=1e-9)
    assert screen_colour(np.zeros(3)) == "#ffffff"


def test_a_patch_has_the_colour_that_another_code_gives_it() -> None:
    rng = np.random.default_rng(4)
    parts = parts_of_the_spectrum()
    # A film's layers lie within some tenths of each other.
    for densities in rng.uniform(0.0, 2.5, (200, 1)) + rng.uniform(0.0, 0.5, (200, 3)):
        # Oracle: scikit-image from XYZ to sRGB.
        known = np.clip(xyz2rgb(parts @ 10.0**-densities), 0.0, 1.0)
        shown = screen_colour(densities)
        levels = [int(shown[i : i + 2], 16) for i in (1, 3, 5)]
        assert levels == pytest.approx(255.0 * known, abs=3.0)


def test_a_layer_that_is_too_dense_tinges_the_patch_as_its_dye_does() -> None:
    # Common practice: red density is cyan dye, green magenta, blue yellow.
    for layer, dark in enumerate(("cyan", "magenta", "yellow")):
        densities = np.full(3, 0.5)
        densities[layer] += 0.3
        shown = screen_colour(densities)
        levels = [int(shown[i : i + 2], 16) for i in (1, 3, 5)]
        assert levels[layer] == min(levels), dark


def test_only_a_film_to_project_has_patches() -> None:
    assert projected_data(sample.negative()) is None
    colour, grey = projected_data(sample.colour_reversal()), projected_data(sample.relative_reversal())
    assert colour is not None
    assert grey is not None
    assert colour["channels"] == LAYERS
    assert grey["channels"] == ("visual",) * 3
    # From shadow (all the way down) over mid-grey to white.
    assert colour["shares"] == pytest.approx([-1.0, -2 / 3, -1 / 3, 0.0, 1 / 3, 2 / 3, 1.0])
