"""Random numbers that repeat: seeded by what they stand for, and spread evenly so that few of them go a long way.

Every error source draws from a stream of its own, seeded by what the error belongs to. Two strips that were read on
the same instrument, or exposed through the same wedge, draw the same error for it, so a difference between them is free
of it; whatever is not shared draws apart.
"""

from __future__ import annotations

import zlib
from functools import lru_cache
from typing import Literal

import numpy as np
from scipy.special import ndtri

from curves.sensitometry.core.units import FloatArray

BLOCK = 250
"""Draws come in blocks, each spread evenly by itself: scatter between blocks tells how well a result has settled."""

DECIMALS = 6
"""Numbers that agree to so many decimals are one: finer than any density or log H is known, coarser than rounding."""


def stream(seed: int, *belongs_to: str) -> np.random.Generator:
    """Return the random numbers of one source of error.

    Args:
        seed: the analysis's own seed.
        belongs_to: what the error belongs to, such as ("wedge", its densities as text).
    """
    return np.random.default_rng((seed, *(zlib.crc32(word.encode()) for word in belongs_to)))


def identity(values: FloatArray) -> str:
    """Return a text that names numbers, the same on every processor and by every way of computing them.

    Args:
        values: densities or log H of any shape [density or log10]; NaN is a value like any other.
    """
    # Adding zero takes the sign of a rounded zero away; NaN has many patterns of bits, of which one is taken.
    rounded = np.round(values, DECIMALS) + 0.0
    rounded[np.isnan(rounded)] = np.nan
    return rounded.tobytes().hex()


def uniform(rng: np.random.Generator, count: int, columns: int) -> FloatArray:
    """Return ``count`` draws of ``columns`` independent numbers, uniform on (0, 1), as (count, columns).

    Each block holds one number from each of equal intervals, in random order, column by column (Latin hypercube
    sampling; McKay, Beckman and Conover 1979, from memory).
    """
    blocks = []
    for start in range(0, count, BLOCK):
        size = min(BLOCK, count - start)
        order = rng.permuted(np.broadcast_to(np.arange(size)[:, None], (size, columns)), axis=0)
        blocks.append((order + rng.random((size, columns))) / size)
    return np.concatenate(blocks) if blocks else np.empty((0, columns))


def normal(rng: np.random.Generator, count: int, columns: int) -> FloatArray:
    """Return standard normal draws, (count, columns), spread as `uniform` spreads them."""
    return np.asarray(ndtri(uniform(rng, count, columns)))


def beside_estimate(rng: np.random.Generator, rows: int, columns: int) -> FloatArray:
    """Return standard normal draws, (rows, columns), whose row 0, the estimate, is zero."""
    return np.vstack([np.zeros(columns), normal(rng, rows - 1, columns)])


def rectangular(rng: np.random.Generator, count: int, columns: int) -> FloatArray:
    """Return draws of a rectangular distribution of mean 0 and standard deviation 1, (count, columns)."""
    return np.asarray((uniform(rng, count, columns) - 0.5) * np.sqrt(12.0))


Shape = Literal["normal", "rectangular"]
_DRAWN = {"normal": normal, "rectangular": rectangular}


@lru_cache(maxsize=64)
def shared(seed: int, belongs_to: tuple[str, ...], count: int, columns: int, shape: Shape = "normal") -> FloatArray:
    """Return the standardised errors of one source, (count, columns), drawn once for all that shares the source.

    The channels of a strip share most sources, and so do the strips that were exposed through one wedge or read on one
    reader.

    Args:
        seed: the analysis's own seed.
        belongs_to: what the error belongs to, as for `stream`.
        count: number of draws.
        columns: number of errors in each draw.
        shape: their distribution.
    """
    drawn = _DRAWN[shape](stream(seed, *belongs_to), count, columns)
    drawn.flags.writeable = False
    return drawn
