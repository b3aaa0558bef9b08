"""Seeded dice: the same seed gives the same farm, however its time is cut up."""

import zlib
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Times = NDArray[np.int64]

_PAGE: Final = 256  # knots drawn at once


def dice(seed: int, *names: str | int) -> np.random.Generator:
    """Return the random numbers that belong to a seed and a name, and to nothing else."""
    parts = [each if isinstance(each, int) else zlib.crc32(each.encode()) for each in names]
    return np.random.default_rng([seed & 0xFFFFFFFF, *(part & 0xFFFFFFFF for part in parts)])


@lru_cache(maxsize=512)
def _knots(seed: int, name: str, page: int) -> Floats:
    return dice(seed, name, page).standard_normal(_PAGE)


def _knot(seed: int, name: str, numbers: Times) -> Floats:
    pages = numbers // _PAGE
    found = np.empty(numbers.shape)
    for page in np.unique(pages):
        here = pages == page
        found[here] = _knots(seed, name, int(page))[numbers[here] - page * _PAGE]
    return found


def wander(seed: int, name: str, at_ms: Times, knot_s: float) -> Floats:
    """Return a smooth wandering of about unit spread, a pure function of time.

    Independent normal knots stand ``knot_s`` [s] apart; between them a cosine blend,
    scaled so that its variance is one everywhere.
    """
    place = at_ms / (knot_s * 1000.0)
    left = np.floor(place).astype(np.int64)
    weight = 0.5 - 0.5 * np.cos(np.pi * (place - left))
    before, after = _knot(seed, name, left), _knot(seed, name, left + 1)
    blended: Floats = before * (1.0 - weight) + after * weight
    return blended / np.sqrt((1.0 - weight) ** 2 + weight**2)
