"""How warm what is kept in a place is, by the air of its last hours, and where that leads."""

from typing import Final

from monitor.errors import OutOfRangeError
from monitor.science import lag, warm_up
from monitor.science.series import Samples
from monitor.watch.state import Track

SURE: Final = 0.5
"""The chance from which on a forecast is told."""
_ROOM_C, _ROOM_SD_K = 20.0, 6.0  # outside the place: not known, so a wide range
_LEAST_NOISE_K: Final = 0.05
_GAP_S: Final = 1800.0


def kept_now_c(track: Track, lag_s: float) -> float:
    """Return how warm what is kept there is at the newest sample. [°C]

    Parameters
    ----------
    track : Track
        Of the air, with one sample at least.
    lag_s : float
        How slowly what is kept there follows it, over zero. [s]
    """
    air = Samples(track.tail_ms, track.tail_value, _GAP_S)
    return float(lag.follow(air, lag_s).value_c[-1])


def fitted(track: Track, from_ms: int, noise_k: float) -> warm_up.Fits | None:
    """Return how the air warms since a time, or None where that cannot be told.

    Parameters
    ----------
    track : Track
        Of the air.
    from_ms : int
        Where it began to rise. [ms]
    noise_k : float
        Of one reading, as far as it is known. [K]
    """
    since = track.tail_ms >= from_ms
    try:
        air = Samples(track.tail_ms[since], track.tail_value[since], _GAP_S)
        return warm_up.fit(air, _ROOM_C, max(noise_k, _LEAST_NOISE_K), _ROOM_SD_K)
    except OutOfRangeError:
        return None
