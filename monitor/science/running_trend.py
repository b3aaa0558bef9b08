"""Does the compressor run more than it used to, for the same room outside?

References
----------
Ordinary least squares on daily medians, with its usual standard error (any text on
statistics; from memory).
"""

from math import erf, sqrt
from typing import Final, NamedTuple

import numpy as np

from monitor.errors import OutOfRangeError
from monitor.science.checking import Flags, Floats, Ints, within
from monitor.science.cycle import LEAST_CYCLES, Cycles

LEAST_DAYS: Final = 10


def daily_running_share(of: Cycles, calm: Flags, midnights_ms: Ints) -> Floats:
    """Return the median running share of each day, shape (k-1,).

    Parameters
    ----------
    of : Cycles
        All cycles.
    calm : ndarray of bool
        Which of them are the thermostat's own: no defrost, no door.
    midnights_ms : ndarray of int64, shape (k,)
        The farm's midnights, UTC. [ms]

    Returns
    -------
    ndarray
        NaN where a day has under six such cycles.
    """
    day = np.searchsorted(midnights_ms, of.from_ms, side="right") - 1
    shares = np.full(max(len(midnights_ms) - 1, 0), np.nan)
    for k in range(len(shares)):
        mine = of.running_share[calm & (day == k)]
        if len(mine) >= LEAST_CYCLES:
            shares[k] = float(np.median(mine))
    return shares


class RunningTrend(NamedTuple):
    """The slow change of the running share.

    Per day [1/d], with its standard error; per kelvin of room outside [1/K], None where
    the room is not known or did not vary; and the chance that it truly rises.
    """

    per_day: float
    error_per_day: float
    per_room_k: float | None
    chance_rising: float
    days: int


def running_trend(
    day: Floats, running_share: Floats, room_c: Floats | None = None
) -> RunningTrend | None:
    """Return the trend of daily running shares against the room outside.

    Parameters
    ----------
    day : ndarray, shape (n,)
        Days, increasing. [d]
    running_share : ndarray, shape (n,)
        Median of each day's cycles without defrosts and doors, 0 to 1.
    room_c : ndarray, shape (n,), optional
        Mean room temperature outside on each day. [°C]

    Returns
    -------
    RunningTrend or None
        None under ten days, or where all lie on one.

    Raises
    ------
    OutOfRangeError
        If shapes differ, or a figure lies outside.
    """
    share = within("running share", running_share, 0.0, 1.0)
    days = within("day", day, -1e6, 1e6, "d")
    if days.shape != share.shape or (room_c is not None and room_c.shape != share.shape):
        raise OutOfRangeError("each day needs one running share and one room temperature")
    if len(days) < LEAST_DAYS or float(np.ptp(days)) <= 0.0:
        return None
    columns = [np.ones_like(days), days - days.mean()]
    room = None if room_c is None else within("room", room_c, -40.0, 60.0, "°C")
    if room is not None and float(np.ptp(room)) > 0.0:
        columns.append(room - room.mean())
    matrix = np.stack(columns, axis=1)
    inverse = np.linalg.pinv(matrix.T @ matrix)
    found = inverse @ matrix.T @ share
    rest = share - matrix @ found
    noise = float(rest @ rest) / (len(share) - len(columns))
    error = sqrt(max(noise * float(inverse[1, 1]), 1e-18))
    chance = 0.5 * (1.0 + erf(float(found[1]) / error / sqrt(2.0)))
    per_room = float(found[2]) if len(columns) > 2 else None  # noqa: PLR2004
    return RunningTrend(float(found[1]), error, per_room, chance, len(share))
