"""The light on the wedge: as a lux meter shows it, as an exposure meter shows it, or from a reading elsewhere.

An exposure meter of ISO 2720 asks for N^2 / t = E S / C where it measures the light that falls on it (E in lux), and
for N^2 / t = L S / K where it looks at a surface (L in cd/m2). An exposure value EV says N^2 / t = 2^EV,
here at S = 100.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from curves.errors import StripError
from curves.sensitometry.core.values import POSITIVE, STOPS, Bounds, check_fields, number, text
from curves.sensitometry.strip.metering import USUAL_CONSTANT
from curves.sensitometry.uncertainty.sources import ASSUMED_LIGHT

INCIDENT_CONSTANT = 250.0
"""C of a meter with a flat receptor: ISO 2720 and common practice [lux s]."""

SPEED = 100.0
"""The index that exposure values are given at [unitless]."""

GREY_CARD = 0.18
"""Reflectance of a grey card: common practice [unitless]."""

INCIDENT_STOPS = 0.25
"""Standard uncertainty of lux by a meter for incident light: its constant C and its dial, our own choice [stops]."""

REFLECTED_STOPS = 0.30
"""Standard uncertainty of lux by a meter that looks at a card: K, the card and its glare, our own choice [stops]."""

PER_STOP_OF_DISTANCE = 0.10
"""Standard uncertainty that the law of the inverse square adds for each stop of change. A condenser, a lens near its
subject and light walls all break the law: our own choice [unitless]."""

EXPOSURE_VALUE = Bounds(least=-20.0, most=30.0)
"""No exposure meter reads outside these [EV at 100]."""

REFLECTANCE = Bounds(above=0.0, most=1.0)
"""A surface returns some light, and no more than it gets [unitless]."""


@dataclass(frozen=True)
class Illuminance:
    """The light on the wedge.

    Attributes:
        lux: illuminance [lux].
        uncertainty_stops: its standard uncertainty together with that of the time [stops].
        origin: how it is known, as a clause.
        approximations: what the number rests on that may not hold, each a sentence.
    """

    lux: float
    uncertainty_stops: float = ASSUMED_LIGHT
    origin: str = "as a lux meter shows"
    approximations: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        check_fields(self, lux=POSITIVE, uncertainty_stops=STOPS)
        text(self.origin, "Illuminance, origin")


def exposure_value(aperture: float, seconds: float, ei: float) -> float:
    """Return the exposure value at 100 that a meter shows as aperture and time at an index [EV].

    Args:
        aperture: f-number N [unitless].
        seconds: time t [s].
        ei: index that the meter is set to [unitless].
    """
    for name, value in (("aperture", aperture), ("seconds", seconds), ("ei", ei)):
        number(value, name, POSITIVE)
    return math.log2(aperture**2 / seconds * SPEED / ei)


def by_incident_meter(ev: float) -> Illuminance:
    """Return the light that a meter for incident light reads at the wedge's place: E = C 2^EV / 100.

    Args:
        ev: its reading [EV at 100].
    """
    lux = INCIDENT_CONSTANT * 2.0 ** number(ev, "incident", EXPOSURE_VALUE) / SPEED
    return Illuminance(lux, INCIDENT_STOPS, f"from an incident reading of EV {ev:g} at 100, C = {INCIDENT_CONSTANT:g}")


def luminance(ev: float, constant: float = USUAL_CONSTANT) -> float:
    """Return the luminance of a surface that a meter reads: L = K 2^EV / 100 [cd/m2].

    Args:
        ev: its reading [EV at 100].
        constant: K of the meter [cd s / m2].
    """
    return float(constant * 2.0 ** number(ev, "reflected", EXPOSURE_VALUE) / SPEED)


def by_card(ev: float, reflectance: float, constant: float = USUAL_CONSTANT) -> Illuminance:
    """Return the light on a matt card that a meter reads: E = pi L / reflectance.

    Args:
        ev: the meter's reading of the card, which lies where the wedge will lie [EV at 100].
        reflectance: of the card [unitless].
        constant: K of the meter [cd s / m2].
    """
    lux = math.pi * luminance(ev, constant) / number(reflectance, "card", REFLECTANCE)
    origin = f"from a reading of EV {ev:g} at 100 off a card that returns {100 * reflectance:g} %, K = {constant:.3g}"
    return Illuminance(lux, REFLECTED_STOPS, origin)


def at_distance(light: Illuminance, read_at: float, distance: float) -> Illuminance:
    """Return the light of a lamp or an enlarger at another distance, by the law of the inverse square.

    Args:
        light: the light as it was read.
        read_at: distance from lamp or lens at which it was read, in any unit.
        distance: distance from lamp or lens to the wedge, in the same unit.
    """
    change = 2.0 * math.log2(number(read_at, "read_at", POSITIVE) / number(distance, "distance", POSITIVE))
    if abs(change) > _FAR:
        raise StripError(
            f"the light would change by {abs(change):.1f} stops from {read_at:g} to {distance:g}",
            where="distance",
            needed=f"a change of at most {_FAR:g} stops; beyond, the inverse square says little",
            hint="measure the light nearer to the wedge's place",
            settings=("distance",),
        )
    u = math.hypot(light.uncertainty_stops, PER_STOP_OF_DISTANCE * change)
    note = (
        f"The light at {distance:g} is computed from the reading at {read_at:g} by the inverse square: an"
        " approximation, since a condenser, a lens close to its subject and light walls break the law. Measure at the"
        " wedge's place if the meter can."
    )
    moved = light.lux * 2.0**change
    return replace(light, lux=moved, uncertainty_stops=u, approximations=(*light.approximations, note))


_FAR = 7.0
"""The furthest that the inverse square is trusted: our own choice [stops]."""
