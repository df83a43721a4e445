"""A strip whose densities come from a scan, matched to those of a densitometer."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from curves.errors import StripError
from curves.sensitometry.core.streams import identity
from curves.sensitometry.core.units import LAYERS, PATCH_NAMES, Channel, FloatArray, PatchName
from curves.sensitometry.curve.mean_steps import ASSUMED_REPEATABILITY
from curves.sensitometry.matching.matched_patches import MatchedPatches
from curves.sensitometry.matching.status_map import StatusMap, match
from curves.sensitometry.strip.origin import MatchedStatus, StatusMatch
from curves.sensitometry.strip.strip import Patches, Strip

BEYOND = 0.10
"""Distance from the patches from which a remark says so: our own choice [density]."""

POOR = 2.0
"""Times its uncertainty by which patches left out are missed, from which the patches are doubted: our own choice."""


@dataclass(frozen=True)
class MatchReader:
    """The densitometer that the known densities come from.

    Attributes:
        name: what it is called; strips matched by one densitometer share the errors of its zero and its scale.
        zero: standard uncertainty of its zero [density]; None if not given.
        scale: standard uncertainty of its scale, as a fraction of density [unitless]; None if not given.
    """

    name: str
    zero: float | None
    scale: float | None


def matched(
    strip: Strip, patches: MatchedPatches, status: MatchedStatus, reader: MatchReader, *, assumed: bool
) -> Strip:
    """Return a strip with its densities matched to a densitometer's.

    Args:
        strip: the strip as scanned.
        patches: the patches that both have read.
        status: the densitometer's kind of density.
        reader: the densitometer.
        assumed: True if the uncertainty of the known densities is assumed.

    Raises:
        StripError: the strip was not scanned in red, green and blue.
    """
    if strip.density != "scan" or strip.channels != LAYERS:
        raise StripError(
            f"the densities are {strip.density}, {' '.join(strip.channels)}",
            where=strip.title,
            needed="a scan's own densities in red, green and blue, to match them",
        )
    # 1. The map, and the densities of every row by it.
    found = match(patches)
    scanned = np.column_stack([strip.readings[c] for c in LAYERS])
    densities = found.density(scanned, common_of(strip, scanned))
    # 2. The patches beside the wedge, where all three layers were read.
    pieces = {name: dict(getattr(strip.patches, name)) for name in PATCH_NAMES}
    read = {name: np.array([[of[c] for c in LAYERS]]) for name, of in pieces.items() if all(c in of for c in LAYERS)}
    values = {name: found.density(at, common_of(strip, at))[0].tolist() for name, at in read.items()}
    # 3. The scatter of a reading grows as the map unmixes the channels.
    grown = float(np.sqrt(np.mean(found.gain(scanned) ** 2)))
    return replace(
        strip,
        density=status,
        readings=_by_layer(densities.T),
        patches=Patches(**{name: dict(zip(LAYERS, each, strict=True)) for name, each in values.items()}),
        repeatability=round((strip.repeatability or ASSUMED_REPEATABILITY) * grown, 4),
        repeatability_assumed=strip.repeatability is None or strip.repeatability_assumed,
        reader=reader.name,
        reader_zero=reader.zero,
        reader_scale=reader.scale,
        match=_origin(strip, found, status, scanned, pieces, read, assumed=assumed),
    )


def _origin(
    strip: Strip,
    found: StatusMap,
    status: MatchedStatus,
    scanned: FloatArray,
    pieces: Mapping[PatchName, Mapping[Channel, float]],
    read: Mapping[PatchName, FloatArray],
    *,
    assumed: bool,
) -> StatusMatch:
    """Return the matching as a strip keeps it.

    Args:
        strip, found, status, assumed: as for `matched`, and the map.
        scanned: the scan's densities of every row, (rows, 3) [density].
        pieces: the patches beside the wedge, by name and channel [density].
        read: those of them that were read in all layers, (1, 3) each [density].
    """
    patches = found.patches
    spreads = {name: found.spread(at, common_of(strip, at))[:, 0] for name, at in read.items()}
    names = [*strip.labels, *(name.replace("_", " ") for name in read)]
    places = np.vstack([scanned, *read.values()])
    fields = (
        "density", "readings", "patches", "repeatability", "repeatability_assumed",
        "reader", "reader_zero", "reader_scale",
    )  # fmt: skip
    return StatusMatch(
        status=status,
        patches=len(patches.names),
        residual=found.residual,
        directions=found.directions,
        matrix=found.matrix,
        matrix_error=found.matrix_error,
        assumed=assumed,
        spread=_by_layer(found.spread(scanned, common_of(strip, scanned))),
        spread_of_patches={name: _by_layer(each) for name, each in spreads.items()},
        belongs_to=identity(np.hstack([patches.known, patches.scanned])),
        remarks=(*limits_of(found), *beyond(patches, names, places), *_unread(scanned, pieces, read)),
        doubts=tuple(doubts_on(found)),
        as_scanned={name: getattr(strip, name) for name in fields},
    )


def as_scanned(strip: Strip) -> Strip:
    """Return a strip with the scan's own densities; a strip that was not matched as it is."""
    return strip if strip.match is None else replace(strip, match=None, **strip.match.as_scanned)


def common_of(strip: Strip, scanned: FloatArray) -> FloatArray:
    """Return the error that a scan's densities share, at densities (rows, 3), of the same shape [density]."""
    if strip.scan is None:
        return np.zeros_like(scanned)
    by_row = strip.readings
    return np.column_stack([strip.scan.scale_error(c, by_row[c], scanned[:, at]) for at, c in enumerate(LAYERS)])


def limits_of(found: StatusMap) -> Iterator[str]:
    """Yield the limits of a map, each a sentence: the colours that the patches do not show."""
    if found.directions < 2:
        yield (
            "The matched patches lie on one line, so only the grey scale is mapped: off it, the part of each channel in"
            " the others is assumed, with an error as wide as is usual."
        )
    elif found.directions == 2:
        yield (
            "The matched patches lie in one plane of colours: what leaves it is mapped by what is usual, with an error"
            " as wide."
        )


def doubts_on(found: StatusMap) -> Iterator[str]:
    """Yield the doubts about the patches of a map, each a sentence: patches that disagree."""
    if found.missed is not None and found.standardised is not None and found.inflation > POOR:
        worst = int(np.abs(found.standardised).max(axis=1).argmax())
        by = float(np.abs(found.missed[worst]).max())
        yield (
            f"The matched patches disagree: the others miss {found.patches.names[worst]} by {by:.2f}. Check its"
            f" densities and its place; until then every error of the matching counts {found.inflation:.1f} times."
        )


def beyond(patches: MatchedPatches, names: Sequence[str], scanned: FloatArray) -> Iterator[str]:
    """Report places on the film that lie beyond the matched patches, in a sentence; nothing if none does.

    Args:
        patches: the matched patches.
        names: what to call each place, such as "step 3".
        scanned: the scan's densities of the places, (places, 3) [density].
    """
    far = [(name, float(by)) for name, by in zip(names, patches.beyond(scanned), strict=True) if by > BEYOND]
    if far:
        listed = ", ".join(name for name, _ in far) if len(far) <= 4 else f"{far[0][0]} and {len(far) - 1} others"
        yield (
            f"Beyond the matched patches, by up to {max(by for _, by in far):.2f}: {listed}. Their densities go on by"
            " the map, and their error grows; have these read too."
        )


def _unread(
    scanned: FloatArray, pieces: Mapping[PatchName, Mapping[Channel, float]], read: Mapping[PatchName, FloatArray]
) -> Iterator[str]:
    """Report steps and patches without a matched density, because a layer was not read."""
    partly = np.isfinite(scanned).any(axis=1) & ~np.isfinite(scanned).all(axis=1)
    left = [f"{int(partly.sum())} step{'' if partly.sum() == 1 else 's'}"] if partly.any() else []
    left += [f"the {name.replace('_', ' ')} piece" for name, of in pieces.items() if of and name not in read]
    if left:
        yield f"Not matched, because red, green and blue were not all read: {', '.join(left)}."


def _by_layer(values: FloatArray) -> dict[Channel, FloatArray]:
    """Return values by layer, those of red first."""
    return dict(zip(LAYERS, values, strict=True))
