"""Weights of a round aperture over square pixels, and what pixels blur of it."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import fft
from scipy.signal import fftconvolve
from skimage.draw import disk

from curves.sensitometry.grain.aperture import aperture_area, aperture_weights, blur_loss


@pytest.mark.parametrize("pixels", [0.4, 1.0, 3.0, 4.5355, 9.071, 18.1417])
def test_weights_are_the_exact_shares_of_the_pixels_and_add_up_to_one(pixels: float) -> None:
    weights = aperture_weights(pixels, 1.0)
    assert weights.sum() == pytest.approx(1.0, abs=1e-12)
    assert (weights >= 0.0).all()
    for turned in (weights[::-1], weights[:, ::-1], weights.T):
        assert turned == pytest.approx(weights, abs=1e-12)


def test_each_weight_is_the_overlap_of_circle_and_square_to_a_millionth() -> None:
    # Oracle: the height of the circle over each column of 20 000 strips, by the midpoint rule.
    diameter, strips = 4.5355, 20_000
    weights = aperture_weights(diameter, 1.0) * aperture_area(diameter)
    for row in range(5):
        left = row - 2.5
        x = left + (np.arange(strips) + 0.5) / strips
        height = np.sqrt(np.maximum((diameter / 2) ** 2 - x**2, 0.0))
        for column in range(5):
            low, high = column - 2.5, column - 1.5
            overlap = np.clip(np.minimum(high, height) - np.maximum(low, -height), 0.0, None).mean()
            assert weights[row, column] == pytest.approx(overlap, abs=1e-6)


def test_a_mean_through_the_weights_agrees_with_a_library_that_draws_discs() -> None:
    # Oracle: scikit-image's disc on a grid 25 times as fine, on which whole pixels are enough.
    rng = np.random.default_rng(1)
    picture = rng.random((11, 11))
    fine = np.kron(picture, np.ones((25, 25)))
    rows, columns = disk((137, 137), 9.071 / 2 * 25, shape=fine.shape)
    seen = fftconvolve(picture, aperture_weights(9.071, 1.0), mode="valid")[0, 0]
    assert seen == pytest.approx(fine[rows, columns].mean(), abs=5e-4)


def test_an_even_picture_stays_as_it_is() -> None:
    assert (0.37 * aperture_weights(48.0, 10.5833)).sum() == pytest.approx(0.37, abs=1e-14)


def test_an_aperture_within_one_pixel_sees_that_pixel_alone() -> None:
    assert aperture_weights(0.9, 1.0).tolist() == [[pytest.approx(1.0)]]


@pytest.mark.parametrize("diameter", [3.0, 4.5355, 9.071])
@pytest.mark.parametrize("length", [0.3, 0.5, 1.0, 2.0])
@pytest.mark.parametrize("gaussian", [False, True])
def test_the_loss_to_blur_is_known_for_grain_of_any_length(diameter: float, length: float, gaussian: bool) -> None:
    # Oracle: the variance that pixels and weights pass, over what a sharp circle passes, integrated on a grid of
    # eighths of a pixel for grain of the given autocorrelation.
    fine, size = 8, 512
    lag = fft.fftfreq(size, 1.0 / size) / fine
    r = np.hypot(lag[:, None], lag[None, :])
    power = fft.fft2(np.exp(-(r**2) / (2.0 * length**2)) if gaussian else np.exp(-r / length)).real

    def passed(kernel: np.ndarray) -> np.ndarray:
        return np.asarray(np.abs(fft.fft2(kernel, (size, size))) ** 2 * power)

    box = np.ones((fine, fine)) / fine**2
    pixels = fft.ifft2(passed(box)).real
    neighbour = float(pixels[fine, 0] / pixels[0, 0])
    lost = 1.0 - passed(np.kron(aperture_weights(diameter, 1.0), box)).mean() / (
        passed(aperture_weights(diameter, 1.0 / fine)).mean()
    )
    assert blur_loss(diameter, 1.0, neighbour) == pytest.approx(lost, abs=0.034)


def test_no_more_than_all_and_no_less_than_nothing_is_lost_whatever_neighbours_do() -> None:
    white = blur_loss(48.0, 10.5833)
    assert blur_loss(48.0, 10.5833, -0.4) == white
    assert blur_loss(48.0, 10.5833, 1.2) == 0.0
    # Regression: computed by this code.
    assert white == pytest.approx(0.1753, abs=1e-4)
