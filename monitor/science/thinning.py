"""Fewer samples that tell the same: extremes of each hour, and what a straight line would miss."""

from typing import Final, NamedTuple

import numpy as np

from monitor.science.checking import Flags, Floats, Ints

HOUR_MS: Final = 3_600_000


class Thinned(NamedTuple):
    """Which samples stay, and which of those have lost what lay between them and the next."""

    stays: Flags
    joined: Flags


def thin(at_ms: Ints, value: Floats, tolerance: float, gap_s: float) -> Thinned:
    """Choose the samples that stay.

    The first of each hour stays, its least and its greatest, both ends and both sides of a
    gap; and as many more as keep a straight line between those that stay within the tolerance
    of every sample. So extremes and gaps are exact, and no moment is off by more than that.

    Parameters
    ----------
    at_ms : ndarray of int64, shape (n,)
        UTC, strictly increasing. [ms]
    value : ndarray of float64, shape (n,)
        Finite.
    tolerance : float
        In the unit of the value.
    gap_s : float
        Longest step across which the value is known. [s]

    Returns
    -------
    Thinned
        Two masks, shape (n,).

    References
    ----------
    Refinement where the deviation from the chord is greatest: Douglas and Peucker, 1973, with
    the deviation taken along the value (from memory).
    """
    stays = np.zeros(at_ms.shape, dtype=np.bool_)
    if len(at_ms):
        stays[[0, -1]] = True
        apart = np.flatnonzero(np.diff(at_ms) > gap_s * 1000.0)
        stays[apart] = stays[apart + 1] = True
        stays[_of_hours(at_ms // HOUR_MS, value)] = True
        while _refined(at_ms, value, stays, tolerance):
            pass
    last = np.flatnonzero(stays)
    joined = np.zeros(at_ms.shape, dtype=np.bool_)
    joined[last[:-1][np.diff(last) > 1]] = True
    return Thinned(stays, joined)


def _of_hours(hour: Ints, value: Floats) -> Ints:
    """Return the first, the least and the greatest sample of each hour."""
    begins = np.flatnonzero(np.append(True, np.diff(hour) != 0))
    group = np.repeat(np.arange(len(begins)), np.diff(np.append(begins, len(hour))))
    order = np.lexsort((value, group))
    ends = np.append(begins[1:], len(hour)) - 1
    return np.concatenate([begins, order[begins], order[ends]])


def _refined(at_ms: Ints, value: Floats, stays: Flags, tolerance: float) -> bool:
    """Let the farthest sample of each stretch stay where it is off; return whether any was."""
    kept = np.flatnonzero(stays)
    off = np.abs(value - np.interp(at_ms, at_ms[kept], value[kept]))
    off[kept] = 0.0
    far = np.flatnonzero(off > tolerance)
    if not len(far):
        return False
    stretch = np.searchsorted(kept, far)
    order = np.lexsort((-off[far], stretch))
    first = np.append(True, np.diff(stretch[order]) != 0)
    stays[far[order[first]]] = True
    return True
