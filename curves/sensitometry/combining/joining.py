"""Strips of one film, exposed differently, as one strip: each exposure moved to where the curves and the records say.

What the records state of the exposures is known to their errors; the overlap of the curves tells how far one exposure
lies from the next. Both are combined by least squares (JCGM 100 with correlated inputs; the errors of the exposures are
widened by the Birge ratio where the curves contradict the records), and what remains unknown of each exposure against
the others is a source of error of the joined strip, as is what remains unknown of all of them together.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np

from curves.errors import StripError
from curves.sensitometry.analysis.analyse import analyse
from curves.sensitometry.combining.likeness import other_processes, refuse_other_film, refuse_twice
from curves.sensitometry.combining.overlap import LEAST_SPAN, Overlap, exposure_error, linked, overlap
from curves.sensitometry.combining.remarks import joining_remarks
from curves.sensitometry.core.choices import Choices
from curves.sensitometry.core.quantity import NORMAL, Quantity
from curves.sensitometry.core.reader_units import ReaderScale
from curves.sensitometry.core.units import CHANNELS, PATCH_NAMES, STOP, FloatArray, exact_ei
from curves.sensitometry.strip.exposure import Contact, GivenExposure, LogHUnit
from curves.sensitometry.strip.strip import Patch, Patches, Strip
from curves.sensitometry.strip.wedge import Pieces
from curves.sensitometry.uncertainty.results import Analysis
from curves.sensitometry.uncertainty.sources import sources_of, step_uncertainty

Value = TypeVar("Value")


_UNSTATED = 100.0
"""Standard uncertainty of an exposure that counts from nothing known: beyond any film [log10]."""

_SMALL = 1e-5
"""Standard uncertainty that every exposure has besides [log10]."""


@dataclass(frozen=True, eq=False)
class JoinedStrip:
    """Strips of one film as one strip, and what their overlap shows.

    Attributes:
        strip: the joined strip, which is analysed like any other.
        names: what its exposures are called, in the order of the strips.
        moved: by how much each exposure was moved from where its record has it, with what remains unknown of it
            [stops]; without a value where the record states nothing that log H counts from.
        overlaps: pairs of strips that hold all strips together, as far as they overlap.
        remarks: what a reader must know of the joining, each a sentence or two.
    """

    strip: Strip
    names: tuple[str, ...]
    moved: tuple[Quantity, ...]
    overlaps: tuple[Overlap, ...]
    remarks: tuple[str, ...]

    def __repr__(self) -> str:
        return f"JoinedStrip({self.strip!r}, of {', '.join(self.names)})"


def join(
    *strips: Strip, names: Sequence[str] | None = None, title: str | None = None, choices: Choices | None = None
) -> JoinedStrip:
    """Join strips of one film and process that were exposed differently.

    Args:
        strips: two or more, all in lux-seconds or all relative to metered mid-grey, at any index; strips whose log H is
            relative are laid on the others by their overlap.
        names: what to call each exposure; the strips' titles if None.
        title: what to call the joined strip; the film's name and the number of strips if None.
        choices: the choices of the analyses of the strips; the defaults if None.

    Raises:
        StripError: there are fewer than two strips, or two that are one; they are not of one film, not read in one
            density, or count from different exposures; a relative strip overlaps no other.
    """
    called = _checked(strips, names)
    analyses = [analyse(strip, choices) for strip in strips]
    unit, origins = _origins(strips)
    overlaps, links = _links(analyses, origins, called)
    errors, left = _placed(analyses, overlaps, links, unit)
    joined = _one_strip(strips, called, title, unit, origins + errors, left)
    moved = [
        Quantity.missing("its record states nothing that log H counts from; it lies where its curve fits")
        if strip.log_h_unit == "relative"
        else _quantity(errors[place] / STOP, math.sqrt(left[place, place]) / STOP)
        for place, strip in enumerate(strips)
    ]
    remarks = tuple(joining_remarks(strips, called, overlaps))
    strip = replace(joined, notes="\n".join([f"Joined of {', '.join(called)}.", *remarks]))
    return JoinedStrip(strip, called, tuple(moved), tuple(overlaps), remarks)


def _checked(strips: Sequence[Strip], names: Sequence[str] | None) -> tuple[str, ...]:
    """Return the names of the exposures of strips that can be joined.

    Raises:
        StripError: the strips cannot be joined; says which, and why.
    """
    if len(strips) < 2:
        raise StripError("one strip has nothing to be joined with", needed="two strips or more of one film")
    refuse_twice(strips)
    for strip in strips:
        if strip.exposure.pieces is not None:
            raise StripError("it is joined already", where=strip.title, needed="the strips that it was joined of")
    first = strips[0]
    for other in strips[1:]:
        refuse_other_film(first, other)
        for what, one, another in (
            ("density", first.density, other.density),
            ("the factor of specular density", first.callier, other.callier),
            ("the meter's constant", first.meter_constant, other.meter_constant),
        ):
            if one != another:
                raise StripError(
                    f"{what} is {another or 'not given'}, but {one or 'not given'} on {first.title}",
                    where=other.title,
                    needed="strips that were read in one kind of density, for one meter",
                )
    called = tuple(names or (strip.title for strip in strips))
    if len(set(called)) < len(strips):
        raise StripError("two exposures have one name", where=", ".join(called), needed="a name for each strip")
    return called


def _origins(strips: Sequence[Strip]) -> tuple[LogHUnit, FloatArray]:
    """Return the unit of log H of the joined strip, and what is added to each strip's log H to count in it, (n,)."""
    units = {strip.log_h_unit: strip for strip in strips}
    absolute = [unit for unit in units if unit != "relative"]
    if len(absolute) > 1:
        raise StripError(
            f"log H is {'in ' if absolute[1] == 'lux-seconds' else ''}{absolute[1]}, but"
            f" {'in ' if absolute[0] == 'lux-seconds' else ''}{absolute[0]} on {units[absolute[0]].title}",
            where=units[absolute[1]].title,
            needed="strips whose log H counts from one kind of exposure",
            hint="combine their indexes instead of their curves",
        )
    unit: LogHUnit = absolute[0] if absolute else "relative"
    tested = [strip.exposure.ei for strip in strips if strip.exposure.ei is not None]
    return unit, np.array(
        [0.0 if s.exposure.ei is None else math.log10(exact_ei(tested[0]) / exact_ei(s.exposure.ei)) for s in strips]
    )


def _links(
    analyses: Sequence[Analysis], origins: FloatArray, names: Sequence[str]
) -> tuple[list[Overlap], list[tuple[int, int]]]:
    """Return the overlaps that hold the strips together, widest first, and the places of their strips.

    Raises:
        StripError: a strip whose log H is relative overlaps no other.
    """
    found = []
    for one, other in itertools.combinations(range(len(analyses)), 2):
        both = overlap(analyses[one], analyses[other], (float(origins[one]), float(origins[other])))
        if both is not None:
            found.append((replace(both, first=names[one], second=names[other]), (one, other)))
    kept, group = linked(found, len(analyses))
    _refuse_loose(analyses, group)
    return [both for both, _ in kept], [pair for _, pair in kept]


def _refuse_loose(analyses: Sequence[Analysis], group: Sequence[int]) -> None:
    """Refuse a strip that nothing places: its log H is relative, and no chain of overlaps leads to one that is not."""
    relative = [a.strip.log_h_unit == "relative" for a in analyses]
    firm = {g for g, loose in zip(group, relative, strict=True) if not loose} or {group[0]}
    for analysis, own, loose in zip(analyses, group, relative, strict=True):
        if loose and own not in firm:
            raise StripError(
                f"its log H is relative, and its densities overlap those of no other strip by {LEAST_SPAN:.2f}",
                where=analysis.strip.title,
                needed="an overlap on the steep part of the curve, or what log H counts from",
                hint="expose one more strip between the two",
            )


def _placed(
    analyses: Sequence[Analysis], overlaps: Sequence[Overlap], links: Sequence[tuple[int, int]], unit: LogHUnit
) -> tuple[FloatArray, FloatArray]:
    """Return the error of each exposure as records and curves tell it, (n,), and what remains unknown, (n, n).

    The covariance is of log H [log10 squared]. Of strips that all are relative the first stays where it is.
    """
    count = len(analyses)
    rows = 1 + min(a.draws for a in analyses)
    known = np.zeros((count, count))
    if rows > 2:
        known = np.cov([exposure_error(a, analyses, rows)[1:] for a in analyses])
    known += _SMALL**2 * np.eye(count)
    for place, analysis in enumerate(analyses):
        if analysis.strip.log_h_unit == "relative" and (unit != "relative" or place):
            known[place, place] += _UNSTATED**2
    if not overlaps:
        return np.zeros(count), known
    design = np.zeros((len(links), count))
    for number, (one, other) in enumerate(links):
        design[number, [one, other]] = -1.0, 1.0
    found = np.array([each.rows[0] for each in overlaps])
    scatter = (
        np.atleast_2d(np.cov([each.rows[1:rows] for each in overlaps])) if rows > 2 else np.zeros((len(links),) * 2)
    )
    scatter += _SMALL**2 * np.eye(len(links))
    total = design @ known @ design.T + scatter
    known *= max(1.0, float(found @ np.linalg.solve(total, found)) / len(links))
    gain = known @ design.T @ np.linalg.inv(design @ known @ design.T + scatter)
    return gain @ found, known - gain @ design @ known


def _one_strip(
    strips: Sequence[Strip],
    names: Sequence[str],
    title: str | None,
    unit: LogHUnit,
    moved: FloatArray,
    left: FloatArray,
) -> Strip:
    """Return the joined strip.

    Args:
        strips: the strips.
        names: what their exposures are called.
        title: what the joined strip is called; None for the film's name.
        unit: what its log H counts from.
        moved: what is added to the log H of each strip, (n,) [log10].
        left: covariance of the exposures, (n, n) [log10 squared].
    """
    first, count = strips[0], len(strips)
    film = next((strip.film for strip in strips if strip.film), "")
    apart = left[~np.eye(count, dtype=bool)].mean()
    scales = [_scale(strip) for strip in strips]
    depth = float(np.mean([0.0 if s.wedge is None else s.wedge.density.mean() for s in strips]))
    common = math.sqrt(max(float(apart), 0.0) + (_rms(scales) * depth) ** 2) / STOP
    log_h = np.concatenate([np.round(strip.log_h + place, 4) for strip, place in zip(strips, moved, strict=True)])
    # Rows follow each other as those of one wedge do, the most exposed first.
    order = np.argsort(-log_h, kind="stable")
    of_row = [name for name, strip in zip(names, strips, strict=True) for _ in range(strip.position.size)]
    pieces = Pieces(
        of_row=tuple(of_row[row] for row in order),
        between_stops=round(math.sqrt(max(float(np.trace(left)) / count - float(apart), 0.0)) / STOP, 4),
        step_stops=round(_rms([_rms(np.atleast_1d(step_uncertainty(strip))) for strip in strips]) / STOP, 4),
        scale_uncertainty=round(_rms(scales), 5),
    )
    exposure = GivenExposure(
        unit=unit,
        ei=next((strip.exposure.ei for strip in strips if strip.exposure.ei is not None), None)
        if unit == "relative to metered mid-grey"
        else None,
        uncertainty_stops=None if unit == "relative" else round(common, 4),
        seconds=_same(strips, lambda strip: strip.exposure.seconds),
        meter_uncertainty_stops=_most(_meter(strip) for strip in strips) if unit == "lux-seconds" else None,
        light=_same(strips, lambda strip: strip.exposure.light) or "",
        pieces=pieces,
    )
    channels = [c for c in CHANNELS if any(c in strip.readings for strip in strips)]
    return Strip(
        title=title or f"{film or first.title}, {count} strips joined",
        kind=first.kind,
        density=first.density,
        exposure=exposure,
        position=log_h[order],
        readings={
            c: np.concatenate([s.readings.get(c, np.full(s.position.size, np.nan)) for s in strips])[order]
            for c in channels
        },
        labels=tuple(f"{name}, log H {x:g}" for name, x in zip(pieces.of_row, log_h[order], strict=True)),
        patches=Patches(*(_patch([getattr(s.patches, name) for s in strips]) for name in PATCH_NAMES)),
        repeatability=_scatter(strips),
        reader=_same(strips, lambda strip: strip.reader) or "",
        reader_zero=_most(_zero(strip) for strip in strips),
        reader_scale=_most(strip.reader_scale for strip in strips),
        read_as=_read_as(strips),
        filters=first.filters,
        reciprocity=next((strip.reciprocity for strip in strips if strip.reciprocity is not None), None),
        meter_constant=first.meter_constant,
        callier=first.callier,
        film=film,
        process="; ".join(other_processes(strips)),
        sample=f"{count} strips, joined",
        date=_same(strips, lambda strip: strip.date),
    )


def _scale(strip: Strip) -> float:
    """Return the standard uncertainty of the scale of a strip's log H, by wedge and light, as a fraction [unitless]."""
    sources = sources_of(strip)
    by_wedge = sources["wedge scale"].u if "wedge scale" in sources else 0.0
    uneven = 0.0
    if "evenness" in sources and strip.wedge is not None:
        # A straight fall-off whose standard deviation over the wedge is that of the light.
        uneven = (sources["evenness"].u or 0.0) * STOP * math.sqrt(12.0) / float(np.ptp(strip.wedge.density))
    return math.hypot(by_wedge or 0.0, uneven)


def _meter(strip: Strip) -> float | None:
    """Return the standard uncertainty of the meter that an index is meant for [stops]; None if not given."""
    exposure = strip.exposure
    return exposure.meter_uncertainty_stops if isinstance(exposure, Contact | GivenExposure) else None


def _scatter(strips: Sequence[Strip]) -> float | None:
    """Return the standard deviation of a reading over all strips [density]; None where a record does not give it."""
    known = [strip.repeatability for strip in strips if strip.repeatability is not None]
    return round(_rms(known), 4) if len(known) == len(strips) else None


def _zero(strip: Strip) -> float | None:
    """Return the standard uncertainty of the reader's zero [density]; None if not given.

    The scale of a scan, or what its matching to a densitometer leaves open, counts with it.
    """
    sources = sources_of(strip)
    scanned = [sources[key].u or 0.0 for key in ("scan", "match") if key in sources]
    return math.hypot(sources["zero"].u or 0.0, *scanned) if scanned else strip.reader_zero


def _read_as(strips: Sequence[Strip]) -> ReaderScale:
    """Return the scale of the densities: flare is taken out of them already, its error is not."""
    flares = [s.read_as.flare_size for s in strips if s.read_as.by_meter or s.read_as.flare is not None]
    return ReaderScale(flare=0.0, flare_uncertainty=max(flares)) if flares else ReaderScale()


def _patch(patches: Sequence[Patch]) -> Patch:
    """Return the mean of one patch over the strips, by channel [density]."""
    read = {c: [patch[c] for patch in patches if c in patch] for c in CHANNELS}
    return {c: round(float(np.mean(densities)), 4) for c, densities in read.items() if densities}


def _same(strips: Sequence[Strip], part: Callable[[Strip], Value]) -> Value | None:
    """Return a part of all strips, or None where they differ."""
    parts = [part(strip) for strip in strips]
    return parts[0] if all(each == parts[0] for each in parts) else None


def _most(sizes: Iterable[float | None]) -> float | None:
    """Return the greatest of the sizes that are given; None where none is."""
    return max((size for size in sizes if size is not None), default=None)


def _rms(values: Sequence[float] | FloatArray) -> float:
    """Return the root of the mean of squares."""
    return float(np.sqrt(np.mean(np.square(values))))


def _quantity(value: float, u: float) -> Quantity:
    """Return a quantity with the 95 % interval of a normal distribution."""
    return Quantity(value, value - NORMAL * u, value + NORMAL * u, u=u)
