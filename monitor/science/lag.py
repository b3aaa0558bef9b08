"""What the contents feel: a first-order lag behind the air, by its exact update.

References
----------
Newton's law of cooling for a lumped body; the exact discrete solution for an input that
is held, or that runs straight, over each step (from memory; any text on linear systems).
"""

from typing import Final, NamedTuple

import numpy as np

from monitor.science.checking import Figures, Flags, Floats, positive, within
from monitor.science.series import Samples

SETTLED_TAUS: Final = 3.0  # 5 % of an unknown start is left by then
_ANY_C: Final = (-273.15, 1000.0)


def held_step_c(contents_c: Figures, air_c: Figures, step_s: Figures, tau_s: float) -> Floats:
    """Return the contents after a step of constant air temperature. [°C]

    Parameters
    ----------
    contents_c, air_c : float or ndarray
        At the start, and throughout. [°C]
    step_s : float or ndarray
        Not negative. [s]
    tau_s : float
        Time constant, over zero. [s]

    Raises
    ------
    OutOfRangeError
        If a figure lies outside.
    """
    start_c, around_c = within("contents", contents_c, *_ANY_C), within("air", air_c, *_ANY_C)
    left = np.exp(-within("step", step_s, 0.0, np.inf, "s") / positive("tau", tau_s, "s"))
    return np.asarray(around_c + (start_c - around_c) * left)


def linear_step_c(
    contents_c: Figures, air_from_c: Figures, air_to_c: Figures, step_s: Figures, tau_s: float
) -> Floats:
    """Return the contents after a step in which the air runs straight. [°C]

    Parameters
    ----------
    contents_c, air_from_c, air_to_c : float or ndarray
        Contents at the start, air at the start and at the end. [°C]
    step_s : float or ndarray
        Over zero. [s]
    tau_s : float
        Time constant, over zero. [s]

    Raises
    ------
    OutOfRangeError
        If a figure lies outside.
    """
    span_s = within("step", step_s, np.nextafter(0.0, 1.0), np.inf, "s")
    start_c, from_c = within("contents", contents_c, *_ANY_C), within("air", air_from_c, *_ANY_C)
    to_c = within("air", air_to_c, *_ANY_C)
    behind = (to_c - from_c) / span_s * positive("tau", tau_s, "s")
    return np.asarray(to_c - behind + (start_c - from_c + behind) * np.exp(-span_s / tau_s))


class Contents(NamedTuple):
    """Contents at each sample, shape (n,) each.

    ``settled`` is False until three time constants of unbroken record have passed since
    an unknown start: until then the figure still leans on the guess that contents had
    the air's temperature, and may be off by the difference.
    """

    value_c: Floats
    settled: Flags


def _recur(keep: Floats, add: Floats) -> Floats:
    """Return y of y[k] = keep[k] y[k-1] + add[k] from y[-1] = 0, by doubling (log n passes)."""
    keep, out, reach = keep.copy(), add.copy(), 1
    while reach < len(out):
        out[reach:] = out[reach:] + keep[reach:] * out[:-reach]
        keep[reach:] = keep[reach:] * keep[:-reach]
        reach *= 2
    return out


def _since_start_s(at_ms: Floats, start: Flags) -> Floats:
    """Return the time since the latest start at or before each sample. [s]"""
    begins = np.maximum.accumulate(np.where(start, np.arange(len(start)), 0))
    return np.asarray((at_ms - at_ms[begins]) / 1000.0)


def follow(air: Samples, tau_s: float, start_c: float | None = None) -> Contents:
    """Return the contents behind a whole series of air temperatures.

    The air runs straight between samples. After a gap longer than the allowed one the
    contents are unknown again and start from the air.

    Parameters
    ----------
    air : Samples
        Air temperature. [°C]
    tau_s : float
        Time constant, over zero. [s]
    start_c : float, optional
        Contents at the first sample, where known. [°C]

    Raises
    ------
    OutOfRangeError
        If ``tau_s`` is not over zero.
    """
    positive("tau", tau_s, "s")
    if not len(air.at_ms):
        return Contents(np.zeros(0), np.zeros(0, dtype=np.bool_))
    step_s, rise = air.step_s, np.diff(air.value)
    left = np.exp(-step_s / tau_s)
    behind = rise / step_s * tau_s
    gained = air.value[1:] - behind - (air.value[:-1] - behind) * left
    fresh = np.concatenate([[True], ~air.joined])
    keep = np.where(fresh[1:], 0.0, left)
    add = np.where(fresh[1:], air.value[1:], gained)
    first_c = float(air.value[0]) if start_c is None else start_c
    value_c = _recur(np.concatenate([[0.0], keep]), np.concatenate([[first_c], add]))
    lasted_s = _since_start_s(air.at_ms.astype(np.float64), fresh)
    settled = lasted_s >= SETTLED_TAUS * tau_s
    if start_c is not None:
        settled |= np.cumsum(fresh) == 1
    return Contents(value_c, settled)


def time_to_share_s(share: float, tau_s: float) -> float:
    """Return how long a lag takes to cover a share of a step; 0.5 is half cooling. [s]

    Raises
    ------
    OutOfRangeError
        If the share is not from 0 up to under 1, or tau not over zero.

    References
    ----------
    Half cooling 0.693 tau, seven-eighths cooling 2.079 tau.
    """
    done = float(within("share", share, 0.0, np.nextafter(1.0, 0.0)))
    return -positive("tau", tau_s, "s") * float(np.log1p(-done))
