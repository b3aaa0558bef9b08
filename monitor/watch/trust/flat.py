"""Exactly the same value for hours, while the neighbours move or it itself used to.

A driver that repeats its last value after the probe died looks like this. Thresholds err
to quiet (common practice, from memory): three hours and three times its own longest such
run beside a neighbour that moved; six hours and four times without one, by a day of its
own past. A neighbour that hardly moves either says that the air is still. Saturated air is
flat by nature: it is not looked at.

Freezing and melting water holds 0 °C for as long as there are both water and ice (latent
heat of fusion), and a probe rimed or lying in thawing soil says so. There only a neighbour
elsewhere is a sign against it; by its own past alone a flat line of a day is worth a look,
and never keeps it from judging cold. Soil stays at 0 °C for weeks: it is no sign there.
"""

import warnings
from typing import Final

import numpy as np

from monitor.model import Quantity, Side
from monitor.watch.events import Values
from monitor.watch.trust.grid import Bools, Grid, others, run_lengths
from monitor.watch.trust.possible import plausible

LEAST: Final = 6  # half hours
_ALONE: Final = 12
_LEARNED: Final = 24
_DAY: Final = 48
_MOVES: Final = {Quantity.HUMIDITY: (6.0, 2.0)}
_MOVES_K: Final = (2.0, 0.5)  # beside it; and so little is still air
_WET_PCT: Final = 98.0
_MELTS_K: Final = 1.0  # a common probe's ±0.5 K, and a display of whole degrees


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


def bears(here: Grid, row: int, last: int, run: int) -> tuple[frozenset[Side], bool]:
    """Return what a flat line may not judge, and whether it is told.

    Parameters
    ----------
    here, row, last : Grid, int, int
        The flat channel, and the half hour up to which it is looked at.
    run : int
        For how many half hours it has been flat.
    """
    if not _melting(here, row)[last] or _elsewhere(here, row)[last]:
        return frozenset(Side), True
    return frozenset({Side.HIGH}), run >= _DAY


def _flat(here: Grid, row: int, still: Bools) -> Bools:
    run = run_lengths(still)
    start = np.arange(run.size) - run
    before = np.maximum.accumulate(run)[np.maximum(start, 0)]
    learned = np.cumsum(here.known[row])[np.maximum(start, 0)]
    moves, stirs = _MOVES.get(here.quantity, _MOVES_K)
    spans = _spans(here, row)
    alone = (run >= np.maximum(_ALONE, 4 * before)) & (learned >= _LEARNED)
    alone &= np.isnan(spans) | _within(spans >= stirs, start)
    beside = (run >= np.maximum(LEAST, 3 * before)) & _within(spans >= moves, start)
    melting, elsewhere = _melting(here, row), _elsewhere(here, row)
    if here.quantity is Quantity.SOIL_TEMPERATURE:
        alone &= ~melting
    near = ~np.isnan(spans) & ~elsewhere
    found: Bools = still & (alone | beside) & ~(melting & near)
    return found


def _melting(here: Grid, row: int) -> Bools:
    """Return where a temperature is one that melting ice holds."""
    if here.quantity is Quantity.HUMIDITY:
        return np.zeros(here.mean.shape[1], dtype=bool)
    found: Bools = np.abs(here.mean[row]) <= _MELTS_K
    return found


def _near(here: Grid, row: int) -> Values:
    """Return the others of the place, without what no place can be."""
    near = others(here.mean, row)
    return np.where(plausible(here.quantity, near), near, np.nan)


def _elsewhere(here: Grid, row: int) -> Bools:
    """Return where every other sensor that is known says something else than it."""
    off = np.abs(_near(here, row) - here.mean[row])
    found: Bools = (off > _MOVES_K[0]).any(axis=0) & ~(off <= _MOVES_K[0]).any(axis=0)
    return found


def _within(moves: Bools, start: "np.ndarray[tuple[int], np.dtype[np.int64]]") -> Bools:
    """Return where a neighbour has moved since a run began."""
    moved = np.maximum.accumulate(np.where(moves, np.arange(moves.size), -1))
    found: Bools = moved >= start + LEAST - 1
    return found


def _spans(here: Grid, row: int) -> Values:
    """Return how far the neighbour that moved most did in the last three hours; NaN: none."""
    near = _near(here, row)
    found = np.full(here.mean.shape[1], np.nan)
    if near.size and near.shape[1] >= LEAST:
        spans: Values = np.lib.stride_tricks.sliding_window_view(near, LEAST, axis=1)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", RuntimeWarning)
            found[LEAST - 1 :] = np.nanmax(spans.max(axis=2) - spans.min(axis=2), axis=0)
    return found
