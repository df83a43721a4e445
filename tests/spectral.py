"""Film behind filters, from spectra: invented layer sensitivities, daylight and filter glass. Shares no code with the
prediction that it tests.

A layer's exposure is the sum over wavelengths of light times sensitivity times transmittance; what a filter is to the
layer follows from that, and so does everything on a strip exposed through it. Layers overlap, dyes absorb where they
should not, a densitometer reads narrower bands than a layer has, and a meter is no layer at all: so the density of a
stack to a layer is not quite the sum of its filters', and a densitometer's is not quite the film's.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from tests.bench.index_truth import truth_of
from tests.simulate import METERED, STOP, Array, Film, Layer, emulsions

NM: Array = np.arange(380.0, 731.0, 5.0)
"""Wavelengths [nm]."""

LAYER_PEAKS = {"red": (640.0, 30.0), "green": (548.0, 27.0), "blue": (445.0, 32.0)}
"""Invented sensitivities: peak and spread [nm]."""

BANDS = {"red": (620.0, 12.0), "green": (530.0, 12.0), "blue": (442.0, 12.0)}
"""A densitometer's bands: peaks near those of status A (from memory), narrower than a layer [nm]."""

C2 = 1.438776877e7
"""Second radiation constant [nm K]."""

CONSTANT = 10.0**METERED / 0.6516
"""K of the meter that gives mid-grey `METERED` [cd s / m2]."""

TONES = {"white": 0.70, "grey": 0.0, "shadow": -0.90}
LAYERS = ("red", "green", "blue")


def planck(kelvin: float) -> Array:
    """Return a black body's relative light at `NM`."""
    return np.asarray(NM**-5.0 / (np.exp(C2 / (NM * kelvin)) - 1.0))


def bell(centre: float, spread: float) -> Array:
    """Return a bell over wavelength with its peak at one."""
    return np.asarray(np.exp(-0.5 * ((NM - centre) / spread) ** 2))


DAYLIGHT = planck(5500.0)
METER = bell(557.0, 44.0) + 0.06 * bell(660.0, 40.0)
"""A light meter's cell behind its correction filter: near the eye, with a tail in the red."""


@dataclass(frozen=True)
class Glass:
    """A filter: its density at `NM` [density]."""

    name: str
    density: Array

    def to(self, response: Array, light: Array = DAYLIGHT) -> float:
        """Return its density to whatever has this response in this light [density]."""
        seen = light * response
        return float(-np.log10((seen * 10.0**-self.density).sum() / seen.sum()))

    def densitometer(self) -> dict[str, float]:
        """Return what a densitometer reads, by channel [density]."""
        return {c: self.to(bell(*band), np.ones_like(NM)) for c, band in BANDS.items()}


def stacked(glasses: Sequence[Glass]) -> Glass:
    """Return several filters as one."""
    return Glass(" + ".join(g.name for g in glasses), np.asarray(sum((g.density for g in glasses), np.zeros_like(NM))))


_DYES = {
    "cyan": lambda: bell(655.0, 55.0) + 0.08 * bell(540.0, 60.0),
    "magenta": lambda: bell(546.0, 38.0) + 0.12 * bell(430.0, 40.0),
    "yellow": lambda: bell(430.0, 42.0) + 0.04 * bell(530.0, 40.0),
}
_SURFACES = 0.02


def cc(value: float, colour: str, rng: np.random.Generator | None = None) -> Glass:
    """Return a colour-compensating filter; ``rng`` varies its dye a little from batch to batch."""
    parts = {"red": ("magenta", "yellow"), "green": ("cyan", "yellow"), "blue": ("cyan", "magenta")}
    density = sum((_DYES[dye]() for dye in parts.get(colour, (colour,))), np.zeros_like(NM))
    strength = 1.0 if rng is None else 1.0 + 0.04 * rng.standard_normal()
    return Glass(f"{colour} CC{value:02.0f}", np.asarray(value / 100.0 * strength * density + _SURFACES))


def conversion(mired: float, rng: np.random.Generator | None = None) -> Glass:
    """Return a light-balancing filter of so many mired; + is orange. Real dyes ripple about the ideal slope."""
    ideal = math.log10(math.e) * C2 * mired * 1e-6 / NM
    ripple = 0.06 * abs(mired) / 131.0 * (np.sin(NM / 33.0) if rng is None else np.sin(NM / 33.0 + 6.3 * rng.random()))
    density = ideal + ripple
    colour = "orange" if mired > 0 else "blue"
    return Glass(f"{colour} {abs(mired):g} mired", np.asarray(density - density.min() + _SURFACES))


def neutral(density: float) -> Glass:
    """Return a grey filter."""
    return Glass(f"neutral {density:.2f}", np.full_like(NM, density))


def spot_metered(glass: Glass, rng: np.random.Generator) -> float:
    """Return the stops that a filter costs by spot readings of a grey card without and with it.

    Cells differ in what they see of red and deep blue; each reading differs by 0.15 stop (where the spot lies on the
    card, how the card is held, the light: common practice) and shows thirds.
    """
    cell = METER + 0.15 * rng.random() * bell(680.0, 45.0) + 0.08 * rng.random() * bell(430.0, 30.0)
    card = 3.0 * rng.random()
    without, through = (
        round(3.0 * (card - stops + 0.15 * rng.standard_normal())) / 3.0 for stops in (0.0, glass.to(cell) / STOP)
    )
    return without - through


@dataclass(frozen=True)
class SpectralFilm:
    """An invented colour film: its layers' curves, and their sensitivities at `NM`."""

    film: Film
    sensitivities: Mapping[str, Array]

    def sees(self, glass: Glass) -> dict[str, float]:
        """Return the density of a filter to each layer [density]."""
        return {c: glass.to(s) for c, s in self.sensitivities.items()}

    def behind(self, glass: Glass) -> Film:
        """Return the film as it answers to the light in front of a filter."""
        seen = self.sees(glass)
        layers = {
            c: replace(layer, emulsions=tuple(replace(e, centre=e.centre + seen[c]) for e in layer.emulsions))
            for c, layer in self.film.layers.items()
        }
        return Film(self.film.kind, layers)


def sensitivities(rng: np.random.Generator | None = None) -> dict[str, Array]:
    """Return three overlapping sensitivities; ``rng`` varies them from film to film."""
    found = {}
    for channel, (peak, spread) in LAYER_PEAKS.items():
        shift, wider = (0.0, 1.0) if rng is None else (5.0 * rng.standard_normal(), float(rng.uniform(0.85, 1.2)))
        main = bell(peak + shift, spread * wider)
        # What of other light a layer sees: dyes that sensitise it have a tail, and silver sees blue.
        tail = 0.02 if rng is None else float(rng.uniform(0.0, 0.04))
        found[channel] = main + tail * (bell(450.0, 35.0) + bell(peak - 60.0, 40.0))
    return found


def random_film(rng: np.random.Generator) -> SpectralFilm:
    """Return an invented film whose layers lie apart, each with a contrast, a Dmin and a Dmax of its own.

    Half of the films clear to their base, half keep a veil.
    """
    centre, apart, spread = -0.2, rng.uniform(0.6, 0.9), rng.uniform(0.45, 0.60)
    base, veil = ((0.04, 0.10), (0.01, 0.07)) if rng.random() < 0.5 else ((0.08, 0.25), (0.10, 0.35))
    layers = {}
    for channel in LAYERS:
        layers[channel] = Layer(
            base=float(rng.uniform(*base)),
            veil=float(rng.uniform(*veil)),
            ceiling=float(rng.uniform(2.8, 3.5)),
            emulsions=emulsions(
                centre + float(rng.normal(0.0, 0.15)), apart + rng.normal(0.0, 0.03), spread * rng.normal(1.0, 0.03)
            ),
        )
    return SpectralFilm(Film("reversal", layers), sensitivities(rng))


def grey_place(bare: Film, filtered: Film) -> float:
    """Return the true log H of mid-grey [log10 lux-seconds] behind a filter, by the rule of the index.

    The film keeps the densities that the rule looks for on the bare one, so that a filter costs the exposure that
    brings the same brightness back.
    """
    truth = truth_of(lambda x: bare.density("visual", x), CONSTANT, lambda x: filtered.density("visual", x))
    return METERED - math.log10(truth.index)


def true_casts(filtered: Film, grey: float, *, net: bool = True) -> dict[str, dict[str, float]]:
    """Return each layer's density less the mean of the three at white, grey and shadow [density]."""
    found = {}
    for tone, place in TONES.items():
        x = np.array([grey + place])
        densities = {c: float(filtered.density(c, x)[0]) for c in LAYERS}
        if net:
            densities = {c: d - filtered.patch("fully_exposed", c) for c, d in densities.items()}
        mean = sum(densities.values()) / 3.0
        found[tone] = {c: d - mean for c, d in densities.items()}
    return found


def cast_left(casts: Mapping[str, Mapping[str, float]]) -> float:
    """Return the casts of the tones as one number: root mean square of their strengths, grey counting double."""
    weight = {"white": 0.25, "grey": 0.50, "shadow": 0.25}
    return math.sqrt(sum(w * 1.5 * sum(v**2 for v in casts[t].values()) for t, w in weight.items()))


def readings(
    film: Film, log_h: Array, rng: np.random.Generator, *, noise: float = 0.01
) -> tuple[dict[str, Array], dict[str, dict[str, float]]]:
    """Return one set of readings of a strip by channel, and of its patches, scattered and rounded to 0.01 [density]."""

    def read(true: Array) -> Array:
        return np.round(true + noise * rng.standard_normal(true.shape), 2)

    channels = (*LAYERS, "visual")
    strip = {c: read(film.density(c, log_h)) for c in channels}
    patches = {
        name: {c: float(read(np.array(film.patch(name, c)))) for c in channels}
        for name in ("unexposed", "fully_exposed")
    }
    return strip, patches


def index(grey: float) -> float:
    """Return the index that a log H of mid-grey stands for [unitless]: 10 lux-seconds at index 1."""
    return float(10.0 ** (METERED - grey))


SCANNER = {"red": (628.0, 22.0), "green": (536.0, 22.0), "blue": (452.0, 20.0)}
"""A scanner's bands, wider than a densitometer's and elsewhere [nm]."""

_DYE_OF = {"red": "cyan", "green": "magenta", "blue": "yellow"}


def scanned(film: Film, log_h: Mapping[str, Array]) -> dict[str, Array]:
    """Return the densities that a scanner sees where the layers of a film got different exposures, (n,) each.

    A layer's own density is taken as the amount of its dye, whose peak has density 1 for each 1 of amount; the dyes
    absorb beside their own bands, so that each of the scanner's channels sees all three.
    """
    dyes = {c: _DYES[name]() / _DYES[name]().max() for c, name in _DYE_OF.items()}
    spectrum = sum(film.density(c, log_h[c])[:, None] * dyes[c] for c in LAYERS)
    bands = {c: bell(*band) for c, band in SCANNER.items()}
    return {c: -np.log10((10.0**-spectrum * band).sum(axis=1) / band.sum()) for c, band in bands.items()}
