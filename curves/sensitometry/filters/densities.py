"""A filter: its density to each layer of the film and to the eye, with an uncertainty by how the densities were found.

Where only a name of the filter is known (a CC value and a colour, a mired shift, a factor), the densities follow from
the name and have the uncertainty of such a name.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np

from curves.errors import RecordError
from curves.sensitometry.core.units import LAYERS, STOP, VISUAL_MODEL_RMS, FloatArray, visual_density

DensitySource = Literal["nominal", "densitometer", "camera", "film", "factor"]
DENSITY_SOURCES: tuple[DensitySource, ...] = get_args(DensitySource)

UNCERTAINTY: dict[DensitySource, float] = {
    "nominal": 0.05, "densitometer": 0.04, "camera": 0.06, "film": 0.02, "factor": 0.5 * STOP,
}  # fmt: skip
"""Standard uncertainty of a filter's density to one layer, by the source of the density [density].

"nominal" and "densitometer" are common practice (the tolerance of a name; a densitometer's narrow bands against a
layer's broad band) and hold for a filter of strong colour, see `default_uncertainty`. "factor" is common practice too:
a factor from spot metering a grey card is good to half a stop. "camera", whose bands are broad and overlap, is our own
choice. "film" is our own choice, used where the drawer gives no
uncertainty.
"""

STRONG = 0.5
"""A filter whose densities to the layers differ by this or more has a strong colour: our own choice [density]."""

_WEAKEST = 0.2
"""Least share of the uncertainty of a strong colour that a weak one has: our own choice [unitless]."""

CC_COLOURS: dict[str, tuple[float, float, float]] = {
    "cyan": (1.0, 0.0, 0.0),
    "magenta": (0.0, 1.0, 0.0),
    "yellow": (0.0, 0.0, 1.0),
    "red": (0.0, 1.0, 1.0),
    "green": (1.0, 0.0, 1.0),
    "blue": (1.0, 1.0, 0.0),
}
"""Share of a CC value that each layer (red, green, blue) sees: CC40 magenta has density 0.40 to the green layer."""

SECOND_RADIATION_CONSTANT = 14387.77
"""c2 of Planck's law [um K] (CODATA)."""

LAYER_WAVELENGTHS = {"red": 0.65, "green": 0.55, "blue": 0.44}
"""Wavelength at which each layer is assumed to be most sensitive, for mired shifts: our own round numbers [um]."""


@dataclass(frozen=True)
class Filter:
    """One filter of the drawer.

    Attributes:
        name: name of the filter.
        red, green, blue: density of the filter to each layer [density].
        visual: density of the filter to the eye, and so to a meter [density].
        source: how the densities were found.
        uncertainty: standard uncertainty of each density [density].
        count: number of such filters in the drawer.
        visual_estimated: True if ``visual`` was computed from the layers' densities.
        given: the name that the densities were derived from, such as "CC40 magenta"; empty if densities were given.
    """

    name: str
    red: float
    green: float
    blue: float
    visual: float
    source: DensitySource
    uncertainty: float
    count: int = 1
    visual_estimated: bool = True
    given: str = ""

    @property
    def densities(self) -> FloatArray:
        """Density to the red, green and blue layer, (3,) [density]."""
        return np.array([self.red, self.green, self.blue])

    @property
    def visual_uncertainty(self) -> float:
        """Standard uncertainty of ``visual`` [density]; an estimate has the error of its model as well."""
        return math.hypot(self.uncertainty, VISUAL_MODEL_RMS if self.visual_estimated else 0.0)

    @property
    def warning(self) -> str | None:
        """A warning about the filter, as a sentence, or None."""
        if self.source == "factor":
            return (
                f"'{self.name}' is known by its factor only: it is assumed to be neutral, and its colour is a guess."
                " Measure it on film, or enter its densities."
            )
        return None


def default_uncertainty(densities: Sequence[float], source: DensitySource) -> float:
    """Return the standard uncertainty of a filter's density to one layer where the drawer does not give it [density].

    A name and a densitometer err about a filter's colour, so the uncertainty falls in proportion to the colour, down to
    a fifth: our own choice, confirmed by spectra of filters and layers. A neutral filter is neutral in any band.

    Args:
        densities: density to the red, green and blue layer [density].
        source: how the densities were found.
    """
    if source in ("film", "factor"):
        return UNCERTAINTY[source]
    colour = max(densities) - min(densities)
    return UNCERTAINTY[source] * min(max(colour / STRONG, _WEAKEST), 1.0)


def filter_of(
    name: str,
    densities: Sequence[float],
    source: DensitySource,
    *,
    visual: float | None = None,
    uncertainty: float | None = None,
    count: int = 1,
    given: str = "",
) -> Filter:
    """Return a filter; where they are not given, its visual density is estimated and its uncertainty set by its source.

    Args:
        name: name of the filter.
        densities: density to the red, green and blue layer [density].
        source: how the densities were found.
        visual: density to the eye or the meter [density]; estimated from the layers if None.
        uncertainty: standard uncertainty [density]; set by the source if None.
        count: number of such filters.
        given: the name that the densities were derived from.
    """
    red, green, blue = (float(d) for d in densities)
    return Filter(
        name,
        red,
        green,
        blue,
        float(visual_density(red, green, blue)) if visual is None else visual,
        source,
        default_uncertainty((red, green, blue), source) if uncertainty is None else uncertainty,
        count,
        visual_estimated=visual is None,
        given=given,
    )


def cc_densities(value: float, colour: str) -> FloatArray:
    """Return the nominal densities to the layers of a colour-compensating filter, (3,) [density].

    By the convention of CC filters the value is a hundred times the peak density: CC40 magenta has density 0.40 to
    the layer that magenta holds back; red is magenta with yellow, and so on.

    Args:
        value: CC value, such as 40 [hundredths of density].
        colour: one of cyan, magenta, yellow, red, green, blue.

    Raises:
        RecordError: the colour is none of these.
    """
    if colour not in CC_COLOURS:
        raise RecordError(f"'{colour}' is not a colour of CC filters", needed=" or ".join(CC_COLOURS))
    return value / 100.0 * np.array(CC_COLOURS[colour])


def mired_densities(shift: float) -> FloatArray:
    """Return the densities to the layers of a light-balancing filter, by its mired shift, (3,) [density].

    By Planck's law in Wien's form a filter that shifts colour temperature by M mired has density
    log10(e) * c2 * M * 1e-6 / wavelength + constant. The constant is chosen so that the least density of the three
    is zero: the filter passes one layer's light freely.

    Args:
        shift: + makes light warmer, as an orange filter does [mired].
    """
    wavelength = np.array([LAYER_WAVELENGTHS[c] for c in LAYERS])
    density = math.log10(math.e) * SECOND_RADIATION_CONSTANT * shift * 1e-6 / wavelength
    return np.asarray(density - density.min())


def factor_of_density(density: float) -> float:
    """Return the filter factor, 10**density, by which a filter multiplies the exposure [unitless]."""
    return float(10.0**density)


def density_of_factor(factor: float) -> float:
    """Return the density of a filter factor, log10(factor); factor > 0 [unitless], result [density]."""
    return math.log10(factor)


def stops_of_density(density: float) -> float:
    """Return the exposure that a density costs, density / 0.30103 [stops]."""
    return density / STOP


def density_of_stops(stops: float) -> float:
    """Return the density that costs ``stops``, 0.30103 * stops [density]."""
    return stops * STOP


_SHUTTER = [1 / n for n in (8000, 4000, 2000, 1000, 500, 250, 125, 60, 30, 15, 8, 4, 2)] + [
    1.0, 2.0, 4.0, 8.0, 15.0, 30.0,
]  # fmt: skip


def usual_shutter(seconds: float) -> tuple[str, float]:
    """Return the nearest time on a camera's usual scale of whole stops, and the exposure that is still missing [stops].

    The names of the scale are rounded: 1/15 counts as a whole stop from 1/30 and from 1/8.

    Args:
        seconds: exposure time, > 0 [s].

    Returns:
        The time in words ("1/60 s"), and the missing exposure, + is more [stops].
    """
    exact = 2.0 ** np.arange(-13.0, 6.0)
    nearest = int(np.abs(np.log2(exact / seconds)).argmin())
    named = _SHUTTER[nearest]
    words = f"{named:g} s" if named >= 1 else f"1/{1 / named:.0f} s"
    return words, float(np.log2(seconds / exact[nearest]))
