"""Exactly the same value for hours, while the neighbours move or it itself used to.

A driver that repeats its last value after the probe died looks like this. Thresholds err
to quiet (common practice, from memory): three hours and three times its own longest such
run beside a neighbour that moved; six hours and four times without one, by a day of its
own past. Saturated air is flat by nature: it is not looked at.
"""

from typing import Final

import numpy as np

from monitor.model import Quantity
from monitor.watch.events import Values
from monitor.watch.trust.grid import Bools, Grid, others, run_lengths

LEAST: Final = 6  # half hours
_ALONE: Final = 12
_LEARNED: Final = 24
_MOVES: Final = {Quantity.HUMIDITY: 6.0}
_MOVES_K: Final = 2.0
_WET_PCT: Final = 98.0


def flat(here: Grid) -> Bools:
    """Return in which half hours each channel is flat though it should not be."""
    found = np.zeros(here.mean.shape, dtype=bool)
    still = same(here)
    for row in np.flatnonzero(still.any(axis=1)):
        found[row] = _flat(here, int(row), still[row])
    return found


def same(here: Grid) -> Bools:
    """Return in which half hours a channel said only what it had said in the one before."""
    still: Bools = here.low == here.high
    still[:, 1:] &= here.low[:, 1:] == here.low[:, :-1]
    still[:, 0] = False
    if here.quantity is Quantity.HUMIDITY:
        still &= here.low < _WET_PCT
    return still


def _flat(here: Grid, row: int, still: Bools) -> Bools:
    run = run_lengths(still)
    at = np.arange(run.size)
    start = at - run
    before = np.maximum.accumulate(run)[np.maximum(start, 0)]
    learned = np.cumsum(here.known[row])[np.maximum(start, 0)]
    alone = (run >= np.maximum(_ALONE, 4 * before)) & (learned >= _LEARNED)
    moved = np.maximum.accumulate(np.where(_moving(here, row), at, -1))
    beside = (run >= np.maximum(LEAST, 3 * before)) & (moved >= start + LEAST - 1)
    found: Bools = still & (alone | beside)
    return found


def _moving(here: Grid, row: int) -> Bools:
    """Return where a neighbour moved by more than is needed in the last three hours."""
    near = others(here.mean, row)
    found = np.zeros(here.mean.shape[1], dtype=bool)
    if not near.size or near.shape[1] < LEAST:
        return found
    spans: Values = np.lib.stride_tricks.sliding_window_view(near, LEAST, axis=1)
    moves = spans.max(axis=2) - spans.min(axis=2) >= _MOVES.get(here.quantity, _MOVES_K)
    found[LEAST - 1 :] = moves.any(axis=0)
    return found
