"""Patches whose densities are known twice: from a densitometer, in status A or M, and from a scan."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy

from curves.errors import StripError
from curves.sensitometry.core.units import FloatArray

FEWEST_PATCHES = 3
"""Patches below which nothing is matched: our own choice [unitless]."""

LEAST_RANGE = 0.30
"""Least range of the patches' densities, in the mean of the layers, that shows how one density follows the other: our
own choice [density]."""

_TOGETHER = 1e4
"""Weight that makes shares add to one [unitless]."""


@dataclass(frozen=True, eq=False)
class MatchedPatches:
    """Patches of one film, read by a densitometer and by a scanner or a camera.

    Attributes:
        names: name of each patch, such as "step 3".
        known: the densitometer's densities, (n, 3): red, green, blue [density].
        scanned: the scan's densities, same shape [density].
        known_error: standard uncertainty of one known density, (n,) [density].
        scanned_error: standard uncertainty of each scanned density, without what all patches share, (n, 3) [density].
        common_error: standard uncertainty that the scanned densities share, at each of them, (n, 3) [density].

    Raises:
        StripError: there are too few patches, they are alike, or known densities fall where scanned ones rise.
    """

    names: tuple[str, ...]
    known: FloatArray
    scanned: FloatArray
    known_error: FloatArray
    scanned_error: FloatArray
    common_error: FloatArray

    def __post_init__(self) -> None:
        count = len(self.names)
        if count < FEWEST_PATCHES:
            raise StripError(
                f"only {count} {'patch has' if count == 1 else 'patches have'} known densities",
                where="patches to match",
                needed=f"at least {FEWEST_PATCHES}: a thin, a middle and a dense one; five tell how well they match",
                hint="have more steps of the strip read, or leave the densities as the scan's own",
            )
        known, scanned = self.known.mean(axis=1), self.scanned.mean(axis=1)
        if min(np.ptp(known), np.ptp(scanned)) < LEAST_RANGE:
            raise StripError(
                f"the patches are alike: their densities range over {min(np.ptp(known), np.ptp(scanned)):.2f} only",
                where="patches to match",
                needed=f"densities that range over {LEAST_RANGE:.2f} at least",
                hint="take a thin, a middle and a dense patch",
            )
        if np.corrcoef(known, scanned)[0, 1] < 0.0:
            raise StripError(
                "known densities fall where the scan's rise",
                where="patches to match",
                needed="each row's densities beside the step that they were read on; step 1 is the wedge's clear end",
                hint="number the steps from the other end",
            )

    @property
    def thinnest(self) -> int:
        """The place of the least dense patch, from which net densities count."""
        return int(self.scanned.mean(axis=1).argmin())

    def beyond(self, scanned: FloatArray) -> FloatArray:
        """Return the distance of densities from the nearest mixture of the patches, (rows,) [density].

        Zero inside the hull of the patches. Of three layers the greatest distance counts, for the nearest mixture by
        least squares.

        Args:
            scanned: the scan's densities, (rows, 3) [density]; NaN gives NaN.
        """
        corners = np.vstack([self.scanned.T, np.full(len(self.names), _TOGETHER)])
        found = np.full(scanned.shape[0], np.nan)
        for row in np.flatnonzero(np.isfinite(scanned).all(axis=1)):
            shares, _ = scipy.optimize.nnls(corners, np.append(scanned[row], _TOGETHER))
            found[row] = np.abs(self.scanned.T @ shares - scanned[row]).max()
        return found
