"""Where a quantity is likely to be an hour from now, by what it did in the last day.

How much of the last half hour's change goes on is fitted to the past by least squares,
through the origin; what then still differed, without the tenth at either end, is the
width. Nothing is known here of doors, weather or machines: a steady room gets a narrow
answer, a restless one a wide one.

References
----------
Least squares through the origin, and empirical quantiles of the residuals as a prediction
interval: any text on regression (from memory). The spans are our own.
"""

from typing import Final, NamedTuple

import numpy as np

from monitor.science.checking import positive
from monitor.science.series import Samples, value_at

SHARE: Final = 0.8
"""How often the interval should hold what comes."""
_STEPS: Final = 6  # of the grid in the time ahead
_BEFORE: Final = 3  # steps over which the present change is taken
_LEAST: Final = 24  # moments of the past to judge by
_ON_AT_MOST: Final = _STEPS / _BEFORE  # a straight line


class Heading(NamedTuple):
    """The likely value and the ends of the interval, in the quantity's unit."""

    low: float
    middle: float
    high: float


def heading(past: Samples, ahead_s: float = 3600.0) -> Heading | None:
    """Return where the newest sample is heading, or None where too little is known.

    Parameters
    ----------
    past : Samples
        A day or so, the newest last.
    ahead_s : float
        How far ahead, over zero. [s]

    Raises
    ------
    OutOfRangeError
        If ``ahead_s`` is not over zero.
    """
    positive("the time ahead", ahead_s, "s")
    if not len(past.at_ms):
        return None
    step_ms = round(ahead_s * 1000 / _STEPS)
    last_ms = int(past.at_ms[-1])
    count = (last_ms - int(past.at_ms[0])) // step_ms
    grid = value_at(past, last_ms - np.arange(count, -1, -1, dtype=np.int64) * step_ms)
    if grid.size <= _BEFORE + _STEPS:
        return None
    trend = grid[_BEFORE:] - grid[:-_BEFORE]
    known, change = trend[:-_STEPS], grid[_BEFORE + _STEPS :] - grid[_BEFORE:-_STEPS]
    both = np.isfinite(known) & np.isfinite(change)
    if both.sum() < _LEAST or not np.isfinite(trend[-1]):
        return None
    known, change = known[both], change[both]
    spread = float(known @ known)
    goes_on = min(max(float(known @ change) / spread, 0.0), _ON_AT_MOST) if spread > 0.0 else 0.0
    low, high = np.quantile(change - goes_on * known, [(1.0 - SHARE) / 2, (1.0 + SHARE) / 2])
    middle = float(grid[-1] + goes_on * trend[-1])
    return Heading(middle + min(float(low), 0.0), middle, middle + max(float(high), 0.0))
