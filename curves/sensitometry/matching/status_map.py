"""The map from a scan's densities to a densitometer's: a 3 x 3 matrix on net densities, with its error.

A camera's bands are wider than a densitometer's and overlap, so that each of its channels sees all three dyes. Net
densities n of a film, counted from its least dense patch, follow each other nearly by a matrix:

    known_c = a_c + sum over j of M_cj n_j + q_c n_c^2 + e_c u_c(n_c)

a is the base in the densitometer's densities; q, small, is the bend that wide bands make; e u is the error that the
scan's densities share (flare, calibration), of known size u. Patches along a grey scale lie nearly on one line: they
cannot fix nine numbers. So each number has a prior, Gaussian, and what is known afterwards is the Gaussian that the
patches leave of it, in closed form. What they leave open stays as wide as it was assumed.

Errors of the scanned densities are carried into the known ones through the map found so far (effective variance), and
the map is found again. The patches that are left out in turn show how well it foretells: if they miss by more than
their errors allow, every error of the map is made as much greater.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from curves.sensitometry.core.units import LAYERS, FloatArray
from curves.sensitometry.matching.matched_patches import FEWEST_PATCHES, MatchedPatches

GREY_RATIO = (1.07, 0.10)
"""Known over scanned net density of a grey, expected and its standard uncertainty: from simulated dyes, cameras and
densitometers: our own choice [unitless]."""

NEIGHBOUR = (-0.40, 0.45)
"""The part that a layer beside a channel's own in the spectrum has in its known density: less than none, because a
camera's bands overlap and a densitometer's do not. Zero, the part for a scanner of narrow bands, lies within one
standard uncertainty: our own choice, from the same simulation [unitless]."""

FAR = (0.10, 0.20)
"""The part that red has in blue's known density, and blue in red's: our own choice, likewise [unitless]."""

BEND = 0.03
"""Standard uncertainty of the bend q: our own choice, likewise [1 / density]."""

MISFIT, MISFIT_OF_COLOUR = 0.003, 0.05
"""Standard uncertainty by which the densities of a grey miss such a map, and what is added for each density by which
the layers' net densities differ: our own choice, likewise [density], [unitless]."""

_BASE = 1.0
"""Standard uncertainty of the base before any patch is read: nothing is known of it [density]."""

_ROUNDS = 4
"""Times that the map is found, each time with the errors of the scan carried through the last."""

_FIXED = 9.0
"""Share, over that of the prior, from which the patches' own knowledge fixes a direction: a third of the assumed
uncertainty is left: our own choice [unitless]."""


@dataclass(frozen=True, eq=False)
class StatusMap:
    """The map from scanned to known densities, as the patches leave it.

    Attributes:
        patches: the patches that it was found from.
        mean: of each layer, the numbers a, M (3), q, e, (3, 6).
        factor: of each layer, the lower factor of their covariance, (3, 6, 6).
        missed: by how much the others miss each patch, left out in turn, (n, 3) [density]; None where too few are left.
        standardised: the same in its own standard uncertainty, (n, 3) [unitless]; None likewise.
    """

    patches: MatchedPatches
    mean: FloatArray
    factor: FloatArray
    missed: FloatArray | None = None
    standardised: FloatArray | None = None

    @property
    def inflation(self) -> float:
        """The factor on every error of the map: above one where patches left out are missed by more than expected."""
        return 1.0 if self.standardised is None else max(1.0, float(np.sqrt(np.mean(self.standardised**2))))

    @property
    def residual(self) -> float | None:
        """The root mean square by which patches are missed [density]; None where too few are left."""
        return None if self.missed is None else float(np.sqrt(np.mean(self.missed**2)))

    @property
    def matrix(self) -> FloatArray:
        """The matrix M on net densities, (3, 3): a row for each known channel, red, green, blue [unitless]."""
        return self.mean[:, 1:4]

    @property
    def matrix_error(self) -> FloatArray:
        """The standard uncertainty of each number of the matrix, (3, 3) [unitless]."""
        return np.asarray(self.inflation * np.sqrt((self.factor[:, 1:4, :] ** 2).sum(axis=2)))

    def density(self, scanned: FloatArray, common: FloatArray) -> FloatArray:
        """Return known densities of scanned ones, (rows, 3) [density].

        Args:
            scanned: the scan's densities, (rows, 3) [density].
            common: the error that they share, of the same shape [density].
        """
        basis = _basis(self.patches, scanned, common)
        return np.column_stack([basis[c] @ self.mean[c] for c in range(len(LAYERS))])

    def spread(self, scanned: FloatArray, common: FloatArray) -> FloatArray:
        """Return the error of known densities for standardised draws of the map, (3, rows, 7) [density].

        The last column is the misfit. The root of the sum of squares is the standard uncertainty.

        Args:
            scanned, common: as for `density`.
        """
        basis, missed = _basis(self.patches, scanned, common), _misfit(self.patches, scanned)[:, None]
        return self.inflation * np.array([np.hstack([basis[c] @ self.factor[c], missed]) for c in range(len(LAYERS))])

    def gain(self, scanned: FloatArray) -> FloatArray:
        """Return by how much each layer's scatter of readings grows in the map, (3,) [unitless].

        Args:
            scanned: densities at whose middle the gain is taken, (rows, 3) [density].
        """
        net = np.nanmedian(scanned, axis=0) - self.patches.scanned[self.patches.thinnest]
        slopes = self.matrix + np.diag(2.0 * self.mean[:, 4] * net)
        return np.asarray(np.sqrt((slopes**2).sum(axis=1)))

    @property
    def directions(self) -> int:
        """The number of directions of colour, of three, that the patches fix: one where they lie on one line."""
        net = self.patches.scanned - self.patches.scanned.mean(axis=0)
        least = 0
        for c in range(len(LAYERS)):
            weight = 1.0 / _variance(self.patches, self.mean)[:, c]
            prior = np.linalg.cholesky(_prior(c)[1][1:4, 1:4])
            known = prior.T @ (net.T * weight) @ net @ prior
            fixed = int((np.linalg.eigvalsh(known) > _FIXED).sum())
            least = fixed if c == 0 else min(least, fixed)
        return least


def match(patches: MatchedPatches) -> StatusMap:
    """Return the map that the patches leave, its errors as great as patches left out in turn ask for."""
    found, count = _posterior(patches), len(patches.names)
    if count <= FEWEST_PATCHES:
        return found
    missed, uncertainty = np.zeros((count, 3)), np.zeros((count, 3))
    for at in range(count):
        others = _posterior(patches, but=at)
        scanned, common = patches.scanned[[at]], patches.common_error[[at]]
        missed[at] = (patches.known[[at]] - others.density(scanned, common))[0]
        own = _reading_variance(patches, others.mean)[at]
        uncertainty[at] = np.sqrt((others.spread(scanned, common) ** 2).sum(axis=2)[:, 0] + own)
    return replace(found, missed=missed, standardised=missed / uncertainty)


def _posterior(patches: MatchedPatches, but: int | None = None) -> StatusMap:
    """Return the map that priors and patches make together, all of them or all but one."""
    basis = _basis(patches, patches.scanned, patches.common_error)
    mean = np.array([_prior(c)[0] for c in range(len(LAYERS))])
    mean[:, 0] = patches.known[patches.thinnest]
    start, factor = mean.copy(), np.zeros((3, 6, 6))
    for _ in range(_ROUNDS):
        variance = _variance(patches, mean)
        if but is not None:
            variance[but] = np.inf
        for c in range(len(LAYERS)):
            prior = np.linalg.inv(_prior(c)[1])
            weighted = basis[c].T / variance[:, c]
            covariance = np.linalg.inv(prior + weighted @ basis[c])
            mean[c] = covariance @ (prior @ start[c] + weighted @ patches.known[:, c])
            factor[c] = np.linalg.cholesky(0.5 * (covariance + covariance.T))
    return StatusMap(patches, mean, factor)


def _prior(channel: int) -> tuple[FloatArray, FloatArray]:
    """Return the prior of one layer's numbers a, M (3), q, e: mean (6,) and covariance (6, 6).

    The ratio for a grey, the sum of the matrix's row, is known better than its parts: sum and off-diagonal parts are
    independent, and the diagonal part is what is left of the sum.
    """
    others = [at for at in range(3) if at != channel]
    parts = {at: NEIGHBOUR if abs(at - channel) == 1 else FAR for at in others}
    mean, covariance = np.zeros(6), np.diag([_BASE**2, 0.0, 0.0, 0.0, BEND**2, 1.0])
    # Columns: the sum, then the two parts.
    turned = np.zeros((3, 3))
    turned[channel] = [1.0, -1.0, -1.0]
    for column, at in enumerate(others, start=1):
        turned[at, column] = 1.0
    expected, spread = np.array([GREY_RATIO, *parts.values()]).T
    mean[1:4] = turned @ expected
    covariance[1:4, 1:4] = (turned * spread**2) @ turned.T
    return mean, covariance


def _basis(patches: MatchedPatches, scanned: FloatArray, common: FloatArray) -> FloatArray:
    """Return the factors of each layer's numbers at densities, (3, rows, 6)."""
    net = scanned - patches.scanned[patches.thinnest]
    ones = np.ones(scanned.shape[0])
    return np.array([np.column_stack([ones, net, net[:, c] ** 2, common[:, c]]) for c in range(len(LAYERS))])


def _misfit(patches: MatchedPatches, scanned: FloatArray) -> FloatArray:
    """Return the standard uncertainty by which densities miss the map, (rows,) [density]."""
    net = scanned - patches.scanned[patches.thinnest]
    return np.asarray(np.hypot(MISFIT, MISFIT_OF_COLOUR * np.ptp(net, axis=1)))


def _reading_variance(patches: MatchedPatches, mean: FloatArray) -> FloatArray:
    """Return the variance of the patches by both readings, the scan's carried through a map, (n, 3) [density^2]."""
    net = patches.scanned - patches.scanned[patches.thinnest]
    found = np.zeros(net.shape)
    for c in range(len(LAYERS)):
        slope = np.tile(mean[c, 1:4], (net.shape[0], 1))
        slope[:, c] += 2.0 * mean[c, 4] * net[:, c]
        found[:, c] = patches.known_error**2 + ((slope * patches.scanned_error) ** 2).sum(axis=1)
    return found


def _variance(patches: MatchedPatches, mean: FloatArray) -> FloatArray:
    """Return the variance of the patches about a map, (n, 3) [density^2]: of both readings, and of the misfit."""
    return np.asarray(_reading_variance(patches, mean) + _misfit(patches, patches.scanned)[:, None] ** 2)
