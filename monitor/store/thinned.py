"""Readings of which some were taken away: told again minute by minute, on straight lines.

A reading flagged THINNED stands for those between it and the next, too: the quantity was
known there, and ran within a stated tolerance of a straight line.
"""

import sqlite3
from collections.abc import Callable
from typing import Final

import numpy as np

from monitor.model import Flag
from monitor.store.coding import decode
from monitor.store.records import Series

STEP_MS: Final = 60_000
NOT_PLAIN: Final = int(Flag.SUSPECT | Flag.TIME_UNCERTAIN)
"""What bears these is no part of the line: it stays, and is passed over."""
_THINNED: Final = int(Flag.THINNED)
Choose = Callable[[Series], Series | None]
"""From a span's rows to those that stay, with their flags; None leaves all as they are."""


def is_thinned(series: Series) -> bool:
    """Return whether something was taken away between these readings."""
    return bool((series.flags & _THINNED).any())


def restored(series: Series) -> Series:
    """Return a series with what was taken away put back each minute, flagged THINNED."""
    plain = (series.flags & NOT_PLAIN) == 0
    at_ms, raw, flags = series.at_ms[plain], series.raw[plain], series.flags[plain]
    open_ = (flags[:-1] & _THINNED) != 0
    counts = np.where(open_, (np.diff(at_ms) - 1) // STEP_MS, 0)
    total = int(counts.sum())
    if not total:
        return series
    which = np.repeat(np.arange(len(counts)), counts)
    nth = np.arange(total) - np.repeat(np.cumsum(counts) - counts, counts) + 1
    times = at_ms[which] + nth * STEP_MS
    new = ~np.isin(times, series.at_ms)
    times, which = times[new], which[new]
    every = np.concatenate([series.at_ms, times])
    order = np.argsort(every, kind="stable")
    values = np.concatenate([series.raw, np.interp(times, at_ms, raw)])
    return Series(every[order], values[order], np.concatenate([series.flags, flags[which]])[order])


def within(series: Series, since_ms: int, until_ms: int) -> Series:
    """Return the part of a series in a span of time. [ms]"""
    part = slice(*np.searchsorted(series.at_ms, (since_ms, until_ms)).tolist())
    return Series(series.at_ms[part], series.raw[part], series.flags[part])


def thin(
    connection: sqlite3.Connection, channel: int, since_ms: int, until_ms: int, choose: Choose
) -> tuple[int, int]:
    """Take rows of a span away, inside a transaction; return how many there were, and are."""
    span = (channel, since_ms, until_ms)
    rows = connection.execute(
        "SELECT at_ms, raw, flags FROM readings WHERE channel = ? AND at_ms >= ? AND at_ms < ?"
        " ORDER BY at_ms", span
    ).fetchall()  # fmt: skip
    if not rows:
        return 0, 0
    at_ms, raw, flags = zip(*rows, strict=True)
    stays = choose(Series(np.array(at_ms, np.int64), decode(raw), np.array(flags, np.int64)))
    if stays is None:
        return len(rows), len(rows)
    kept = dict(zip(stays.at_ms.tolist(), stays.flags.tolist(), strict=True))
    connection.executemany(
        "DELETE FROM readings WHERE channel = ? AND at_ms = ?",
        [(channel, each) for each in at_ms if each not in kept],
    )
    connection.executemany(
        "UPDATE readings SET flags = ? WHERE channel = ? AND at_ms = ?",
        [(flag, channel, each) for each, flag in kept.items()],
    )
    return len(rows), len(kept)
