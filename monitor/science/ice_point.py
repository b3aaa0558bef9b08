"""A sensor in melting ice: is it steady, and how far is it off? Pure."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

STEADY_K: Final = 0.2
"""Readings this close together are steady: two steps of a common sensor (common practice). [K]"""
LEAST: Final = 3
_LEAST_S: Final = 300.0
_INTERVALS: Final = 3.5
_OLD_INTERVALS: Final = 2.5


@dataclass(frozen=True, slots=True)
class IcePoint:
    """What the last minutes say: the median as read, how far apart, whether that is steady.

    ``over_s`` is how far back was looked; ``fresh`` says that the newest is of now.
    """

    median_c: float
    spread_k: float
    n: int
    over_s: float
    fresh: bool

    @property
    def steady(self) -> bool:
        """Return whether an offset may be taken from it."""
        return self.fresh and self.n >= LEAST and self.spread_k <= STEADY_K


def ice_point(
    at_ms: NDArray[np.int64], read_c: NDArray[np.float64], now_ms: int, interval_s: float
) -> IcePoint | None:
    """Return what the last minutes of a sensor say, None where there is no reading.

    Parameters
    ----------
    at_ms : ndarray
        Sample times in order. [ms since 1970]
    read_c : ndarray
        As read, of the same shape. [°C]
    now_ms : int
        The moment. [ms]
    interval_s : float
        How often the sensor speaks. [s]

    References
    ----------
    Melting ice and water at ordinary pressure stand at 0.00 °C: NIST, Ice Melting Point
    Validation Method for Digital Data Logging Thermometers.
    """
    over_s = max(_LEAST_S, _INTERVALS * interval_s)
    near = (at_ms > now_ms - over_s * 1000) & (at_ms <= now_ms) & np.isfinite(read_c)
    if not near.any():
        return None
    last, times = read_c[near], at_ms[near]
    fresh = now_ms - int(times[-1]) <= _OLD_INTERVALS * interval_s * 1000
    return IcePoint(
        float(np.median(last)), float(last.max() - last.min()), int(last.size), over_s, fresh
    )
