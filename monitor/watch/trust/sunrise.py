"""Sun on a probe that nothing shades: in a tunnel it jumps further than the air beside it.

From where it has risen, within an hour, by six kelvin more than the warmest other sensor
of the tunnel, until it is within three of it again, it is not used for heat. For frost it
is as good as before. It is told once it has happened on two mornings.
"""

from typing import Final

import numpy as np

from monitor.model import PlaceKind, Quantity
from monitor.watch.trust.grid import Bools, Grid, others

_JUMP_K: Final = 6.0
_OVER_K: Final = 3.0
_HOUR: Final = 2
_DAY: Final = 24  # half hours between two mornings, at the least


def sunrise(here: Grid) -> Bools:
    """Return in which half hours the sun, not the air, warms each probe."""
    found = np.zeros(here.mean.shape, dtype=bool)
    if here.kind is not PlaceKind.TUNNEL or here.quantity is not Quantity.TEMPERATURE:
        return found
    if len(here.channels) < _HOUR:
        return found
    at = np.arange(here.mean.shape[1])
    for row in range(len(here.channels)):
        warmest = np.fmax.reduce(others(here.mean, row), axis=0)
        over = here.mean[row] - warmest
        more = np.zeros(over.size)
        more[_HOUR:] = over[_HOUR:] - over[:-_HOUR]
        jumps = (more >= _JUMP_K) & (over >= _JUMP_K)
        begun = np.maximum.accumulate(np.where(jumps, at, -1))
        ended = np.maximum.accumulate(np.where(~(over >= _OVER_K), at, -1))
        found[row] = (begun >= 0) & (begun > ended)
    return found


def mornings(row: Bools) -> int:
    """Return on how many mornings it happened. A row of :func:`sunrise`."""
    starts = np.flatnonzero(row & ~np.append(False, row[:-1]))
    if not starts.size:
        return 0
    return 1 + int((np.diff(starts) >= _DAY).sum())
