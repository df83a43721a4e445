"""The population of films: the places where the ends of a curve may lie, as far as the box speed tells.

The ends are those of this package's own numbers. On a reversal film: from the net density at which a highlight loses
its detail (0.04) to the net density of 95 % of the image. On a negative: from the toe, net density 0.04, to 1.50 of
log H beyond the speed point, as far as its contrast is reckoned; a shoulder beyond is a gain and not a need.

Each length has limits that hold 95 % of films: what data sheets and handbooks show of films in general (common
practice), rounded outwards by our own choice. The run from T to S is drawn evenly between its limits; how long an end
takes to flatten is drawn in proportion (a log-normal law), since some films take very long.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np
from scipy.special import ndtri

from curves.errors import StripError
from curves.sensitometry.core.quantity import NORMAL
from curves.sensitometry.core.streams import stream, uniform
from curves.sensitometry.core.units import KINDS, STOP, FloatArray, Kind
from curves.sensitometry.core.values import POSITIVE, Bounds, check_fields, word

Maker = Literal["transparency", "colour negative", "black-and-white negative"]
MAKERS: tuple[Maker, ...] = get_args(Maker)

ASSUMED_OFF = 1.0
"""How far a box speed may be wrong where nothing else is stated: our own choice [stops]."""

OFF = Bounds(least=0.0, most=10.0)
"""How far a speed may be wrong [stops]."""

DRAWS = 10_000
"""Films that a chance is counted over: it then scatters by a third of a per cent at most."""

# Reversal, from M, the mean of the points T and S of ISO 2240.
_T_TO_S = (0.55, 1.25)
"""log H from T to S of transparencies: average gradients of 1.4 to 3.3 [log10]."""

_CLEARING = (0.15, 0.80)
"""log H from T (net density 0.20) to net density 0.04 [log10]."""

_DARKENING = (0.15, 1.00)
"""log H from S (net density 2.00 or the touch of the line from T) to 95 % of the image [log10]."""

# Negative, from the speed point.
_TOE = (0.08, 0.60)
"""log H from net density 0.04 to the speed point, net density 0.10 [log10]."""

BEYOND_SPEED_POINT = 1.50
"""log H that the average gradient of the fractional-gradient method spans [log10]."""


@dataclass(frozen=True)
class Prior:
    """The processed film, as its box speed lets it be expected.

    Attributes:
        anchor: exposure of the curve's anchor, times speed: M of a reversal, a negative's speed point [lux-seconds].
        faster: how much faster the process makes the film, at the middle of what is expected [stops].
        within: how far the process may move the speed either way [stops].
        layers: least and greatest log H between the fastest and the slowest layer of a colour film [log10].
        why: where the numbers come from, as a clause.
    """

    anchor: float
    faster: float
    within: float
    layers: tuple[float, float]
    why: str


_OWN_LAYERS, _OTHER_LAYERS = (0.0, 0.10), (0.05, 0.45)
"""Range of log H between the fastest and the slowest layer, in the film's own process and in another: our own choice
[log10]."""

_REVERSED = (
    "a first developer meant for transparencies develops from about the film's own speed point on, and the middle of"
    " the curve then lies up to three stops beyond where that speed puts a transparency's: our own estimate"
)

PRIORS: dict[tuple[Maker, Kind], Prior] = {
    ("transparency", "reversal"): Prior(10.0, 0.0, 0.0, _OWN_LAYERS, "the film's own process; ISO 2240"),
    ("colour negative", "negative"): Prior(1.1, 0.0, 0.0, _OWN_LAYERS, "the film's own process; ISO 5800, less 0.1"),
    ("black-and-white negative", "negative"): Prior(0.8, 0.0, 0.0, (0.0, 0.0), "the film's own process; ISO 6"),
    ("colour negative", "reversal"): Prior(10.0, -1.5, 1.5, _OTHER_LAYERS, _REVERSED),
    ("black-and-white negative", "reversal"): Prior(10.0, -0.3, 1.0, (0.0, 0.0), _REVERSED),
    ("transparency", "negative"): Prior(
        0.8, -1.0, 1.5, _OTHER_LAYERS,
        "the dense end of a transparency's curve lies a stop beyond where its speed puts a negative's speed point: our"
        " own estimate",
    ),
}  # fmt: skip
"""The priors by what the film was made as and what the process makes of it. The anchors are those of the standards of
speed; shifts and widths for a process that the film was not made for are our own."""


@dataclass(frozen=True)
class FilmGuess:
    """The knowledge of a film before its first strip.

    Attributes:
        kind: what the process makes of it.
        made_as: what the film was made as.
        box: its box speed, or a guess [unitless].
        off_stops: how far that may be wrong, either way [stops]; drawn evenly.
        colour: True if the three layers are read apart.
    """

    kind: Kind
    made_as: Maker
    box: float
    off_stops: float = ASSUMED_OFF
    colour: bool = True

    def __post_init__(self) -> None:
        word(self.kind, KINDS, "kind")
        word(self.made_as, MAKERS, "made_as")
        check_fields(self, box=POSITIVE, off_stops=OFF)

    @property
    def prior(self) -> Prior:
        """The processed film, as its box speed lets it be expected."""
        return PRIORS[self.made_as, self.kind]

    @property
    def own_process(self) -> bool:
        """True if the film goes through the process that it was made for."""
        return self.prior.within == 0.0

    @property
    def anchor(self) -> float:
        """Log H of the anchor at the middle of what is expected [log10 lux-seconds]."""
        return math.log10(self.prior.anchor / self.box) - self.prior.faster * STOP


@dataclass(frozen=True, eq=False)
class CurveEnds:
    """The ends of the curve of each film that may be: what a strip has to hold.

    Attributes:
        least, most: log H of the least and of the most exposed end, (n,) [log10 lux-seconds].
    """

    least: FloatArray
    most: FloatArray

    def chance(self, first: float, last: float) -> float:
        """Return the share of films whose two ends lie between two log H [log10 lux-seconds]."""
        return float(np.mean((self.least >= first) & (self.most <= last)))


def ends_of(guess: FilmGuess, exposure_stops: float, seed: int, longer: float = 1.0) -> CurveEnds:
    """Return the ends of the curves that a guess allows, as an exposure with an error of its own meets them.

    Args:
        guess: what is known of the film.
        exposure_stops: standard uncertainty of the exposure that the strip will get [stops].
        seed: of the draws.
        longer: factor on every length of the curve, to see what the population decides [unitless].
    """
    if not longer > 0.0:
        raise StripError(f"{longer:g} is not a factor of length", where="longer", needed="more than 0")
    rng = stream(seed, "first strip", guess.kind)
    draws = uniform(rng, DRAWS, 7)
    normal = rng.standard_normal(DRAWS)
    off = guess.off_stops * _even(draws[:, 0], (-1.0, 1.0)) + guess.prior.within * _even(draws[:, 1], (-1.0, 1.0))
    anchor = guess.anchor + STOP * (off - exposure_stops * normal)
    apart = _even(draws[:, 2], guess.prior.layers) if guess.colour else np.zeros(DRAWS)
    if guess.kind == "reversal":
        half = _even(draws[:, 3], _T_TO_S) / 2.0
        least = half + _in_proportion(draws[:, 4], _DARKENING)
        most = half + _in_proportion(draws[:, 5], _CLEARING)
    else:
        least, most = _in_proportion(draws[:, 6], _TOE), np.full(DRAWS, BEYOND_SPEED_POINT)
    return CurveEnds(anchor - longer * least - apart / 2.0, anchor + longer * most + apart / 2.0)


def _even(share: FloatArray, ends: tuple[float, float]) -> FloatArray:
    """Return numbers spread evenly between two ends, from shares of the way between them, any shape."""
    return ends[0] + (ends[1] - ends[0]) * share


def _in_proportion(share: FloatArray, ends: tuple[float, float]) -> FloatArray:
    """Return log-normal lengths of which 95 % lie between two limits, from the shares of films that are shorter."""
    low, high = np.log(ends)
    return np.asarray(np.exp((low + high) / 2.0 + (high - low) / (2.0 * NORMAL) * ndtri(share)))


"""Standard deviations to either side that hold 95 % of a normal law."""
