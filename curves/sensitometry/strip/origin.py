"""The origin of a strip: the plan that it was exposed by, the scan that its densities come from, and their matching.

A plan before the first strip expects the ends of the curve (`PlannedEnds`); a plan after a strip expects a number and
the interval that it will have (`PlannedNumber`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal, get_args

import numpy as np

from curves.errors import StripError
from curves.sensitometry.core.units import Channel, FloatArray
from curves.sensitometry.core.values import POSITIVE, Bounds, check_fields, number, short_repr, store, whole

SHARE = Bounds(least=0.0, most=1.0)
"""A chance [unitless]."""

_LOG_H = Bounds(above=-20.0, below=20.0)
_OFF = Bounds(least=0.0, below=20.0)
_VALUE = Bounds(above=-1e7, below=1e7)
_HALF_WIDTH = Bounds(least=0.0, below=100.0)

MatchedStatus = Literal["status A", "status M"]
"""A densitometer's kind of density that a scan can be matched to."""

MATCHED_STATUSES: tuple[MatchedStatus, ...] = get_args(MatchedStatus)

Expected = tuple[float, float, float]
"""The least, the expected and the greatest value; the outer two hold 95 % of the films that were thought of."""


@dataclass(frozen=True)
class Flag:
    """A remark on a patch, numbered from 1: a code for machines, a clause for people; on one channel, or on all."""

    patch: int
    code: str
    message: str
    channel: Channel | None = None


@dataclass(frozen=True)
class ScanOrigin:
    """The scan of a strip, and the way from its light to density.

    Attributes:
        image: name of the scan.
        by_wedge: True if a calibration wedge tells density, False if clear and dark alone do.
        flags: remarks on single patches, numbered as the rows of the strip's readings, from 1.
        calibration: what tells density is called; scans that share it share its error.
        common: by channel, for each row of the readings, the part of its standard uncertainty that it has in common
            with the others, (rows,) [density]; NaN where it is not known.
        doubts: why the calibration itself is doubtful, each a sentence.
    """

    image: str
    by_wedge: bool
    flags: tuple[Flag, ...] = ()
    calibration: str = ""
    common: Mapping[Channel, FloatArray] = field(default_factory=dict)
    doubts: tuple[str, ...] = ()

    def scale_error(self, channel: Channel, readings: FloatArray, density: FloatArray) -> FloatArray:
        """Return the standard uncertainty of the scan's scale at densities, any shape [density].

        Between the densities of the patches it runs straight, and beyond them it stays.

        Args:
            channel: which one; a channel that was not scanned, such as an estimated one, takes the layers' mean.
            readings: densities of the rows in that channel, (rows,) [density].
            density: where to know it [density].
        """
        if channel in self.common:
            errors = self.common[channel]
        elif self.common:
            errors = np.mean(list(self.common.values()), axis=0)
        else:
            return np.zeros_like(density)
        known = np.isfinite(errors) & np.isfinite(readings)
        if not known.any():
            return np.zeros_like(density)
        order = np.argsort(readings[known])
        return np.asarray(np.interp(density, readings[known][order], errors[known][order]))

    def notes(self, patch: int, channel: Channel) -> str | None:
        """Return the remarks on a patch in a channel, as a clause; None if there are none."""
        found = [f.message for f in self.flags if f.patch == patch and f.channel in (None, channel)]
        return "; ".join(found) or None


@dataclass(frozen=True, eq=False)
class StatusMatch:
    """The matching of a scan's densities to a densitometer's, by patches that both have read.

    Attributes:
        status: the kind of density that the strip's densities are matched to.
        patches: number of patches that both have read.
        residual: root mean square by which the other patches miss each patch [density]; None where too few are left.
        directions: directions of colour, of three, that the patches fix: one where they lie along a grey scale.
        matrix, matrix_error: known on scanned net densities, and its standard uncertainty, (3, 3), a row for each of
            red, green, blue [unitless].
        assumed: True if the uncertainty of the known densities is assumed.
        spread: by channel, the error of each row for standardised draws, (rows, m) [density].
        spread_of_patches: the same for the patches read beside the wedge, by their name and channel, (m,) [density].
        belongs_to: text that identifies the patches: strips with equal texts share the error.
        remarks: limits of the matching, each a sentence.
        doubts: why the patches themselves are doubtful, each a sentence.
        as_scanned: the fields of the strip before it was matched.
    """

    status: MatchedStatus
    patches: int
    residual: float | None
    directions: int
    matrix: FloatArray
    matrix_error: FloatArray
    assumed: bool
    spread: Mapping[Channel, FloatArray]
    spread_of_patches: Mapping[str, Mapping[Channel, FloatArray]]
    belongs_to: str
    remarks: tuple[str, ...]
    doubts: tuple[str, ...]
    as_scanned: Mapping[str, Any]

    @property
    def uncertainty(self) -> float:
        """The median over rows and channels of the standard uncertainty by the matching [density]."""
        return float(np.nanmedian([np.sqrt((each**2).sum(axis=1)) for each in self.spread.values()]))

    @property
    def sentence(self) -> str:
        """The matching in one clause: by how many patches, and how well."""
        how = (
            "too few for a residual: the error comes from the readings and from what is usual alone"
            if self.residual is None
            else f"residual {self.residual:.3f}"
        )
        return f"matched to {self.status} by {self.patches} patches, {how}"


@dataclass(frozen=True)
class PlannedEnds:
    """The ends of a curve as a plan expected them before the strip was exposed.

    Attributes:
        thin, dense: log H of the two ends, on the strip's own scale: least, expected, greatest [log10].
        chance: the chance that all strips of the plan together hold both ends [unitless].
        alone: the chance that this strip holds both ends by itself [unitless].
        strip, strips: number of this strip among those of the plan, the most exposed first, and how many there are.
        box: box speed that the plan began with [unitless].
        off_stops: how far that might be wrong, either way [stops].

    Raises:
        StripError: a number is out of range, or the three values of an end do not rise.
    """

    thin: Expected
    dense: Expected
    chance: float
    alone: float
    strip: int
    strips: int
    box: float
    off_stops: float
    __repr__ = short_repr

    def __post_init__(self) -> None:
        for name in ("thin", "dense"):
            _store_rising(self, name, _LOG_H)
        check_fields(self, chance=SHARE, alone=SHARE, box=POSITIVE, off_stops=_OFF)
        store(self, "strips", whole(self.strips, "PlannedEnds, strips", least=1))
        store(self, "strip", whole(self.strip, "PlannedEnds, strip", least=1))
        if self.strip > self.strips:
            raise StripError(
                f"strip {self.strip} is not one of {self.strips}",
                where="PlannedEnds, strip",
                needed=f"a number from 1 to {self.strips}",
            )


@dataclass(frozen=True)
class PredictedInterval:
    """A number and the width of its interval as simulated films foretell them: of each the ends and the median.

    Attributes:
        value: the number, in its own unit.
        half_width: half the width of its 95 % interval [stops] for an index, else in the number's unit.

    Raises:
        StripError: three values do not rise, or a half width is negative.
    """

    value: Expected
    half_width: Expected
    __repr__ = short_repr

    def __post_init__(self) -> None:
        for name, bounds in (("value", _VALUE), ("half_width", _HALF_WIDTH)):
            _store_rising(self, name, bounds)


@dataclass(frozen=True)
class PlannedNumber:
    """The interval of a number as a plan after a strip expected it, before this further strip was exposed.

    Attributes:
        after: title of the strip that the plan was made from.
        number: JSON name of the number, "ei" or that of a measure.
        channel: channel of a measure; None for an index.
        films: simulated films that the prediction rests on.
        own: the number by this strip alone; None where too few films gave one.
        both: the number by the two strips together.

    Raises:
        StripError: a number is out of range.
    """

    after: str
    number: str
    channel: Channel | None
    films: int
    own: PredictedInterval | None
    both: PredictedInterval
    __repr__ = short_repr

    def __post_init__(self) -> None:
        store(self, "films", whole(self.films, "PlannedNumber, films", least=2))
        if (self.channel is None) != (self.number == "ei"):
            raise StripError(
                f"{self.number!r} has {'no' if self.channel is None else 'a'} channel",
                where="PlannedNumber, channel",
                needed="a channel for a measure, and none for the index",
            )

    @property
    def chance(self) -> float:
        """The chance that what comes lies between the ends, as one film more would, if the strip is as known."""
        return (self.films - 1) / (self.films + 1)


def _store_rising(of: object, name: str, bounds: Bounds) -> None:
    """Check that a field holds three numbers that rise, and store them.

    Raises:
        StripError: it does not.
    """
    where = f"{type(of).__name__}, {name}"
    values = tuple(number(x, where, bounds) for x in getattr(of, name))
    if len(values) != 3 or sorted(values) != list(values):
        raise StripError(
            f"{values} are not the ends of an interval with the value expected",
            where=where,
            needed="three numbers that rise: least, expected, greatest",
        )
    store(of, name, values)
