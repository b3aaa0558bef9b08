"""Hourly and 8-hourly summaries of the readings of one commit."""

import sqlite3
from typing import Final

import numpy as np

from monitor.model import Flag
from monitor.store import many
from monitor.store.columns import Columns
from monitor.store.records import Width

MILLIONTHS: Final = 1e6
_LARGEST: Final = 1e8
"""A larger value counts as this much in the mean, so that no total overflows."""
TABLES: Final = {Width.HOUR: "hourly", Width.EIGHT_HOURS: "eight_hourly"}
_ADD: Final = """
INSERT INTO {table} VALUES {{rows}}
ON CONFLICT (channel, bucket) DO UPDATE SET
    n = n + excluded.n, suspect = suspect + excluded.suspect, total = total + excluded.total,
    low = min(low, excluded.low), high = max(high, excluded.high)
"""

_HOUR: Final = Width.HOUR.value
_UNTIMED: Final = int(Flag.TIME_UNCERTAIN)
_GONE: Final = f"""
SELECT h.n > (
    SELECT count(*) FROM readings r WHERE r.channel = h.channel AND r.flags & {_UNTIMED} = 0
    AND r.at_ms >= h.bucket * {_HOUR} AND r.at_ms < (h.bucket + 1) * {_HOUR}
) FROM hourly h WHERE h.channel = ? AND h.bucket = ?
"""


def uncounted(connection: sqlite3.Connection, kept: Columns) -> Columns:
    """Return what no summary counts yet of readings that are to be stored.

    An hour that counts more readings than stand in it was thinned: what is brought back into
    it was counted when it was first heard.
    """
    brought = (kept.flags & int(Flag.IMPORTED)) != 0
    if not brought.any():
        return kept
    hours = np.stack((kept.channel, kept.at_ms // _HOUR), axis=1)
    which, of = np.unique(hours, axis=0, return_inverse=True)
    found = (connection.execute(_GONE, pair).fetchone() for pair in which.tolist())
    thinned = np.array([row is not None and bool(row[0]) for row in found])
    return kept.chosen(~(brought & thinned[of.reshape(-1)]))


def add(connection: sqlite3.Connection, kept: Columns) -> None:
    """Add newly stored readings, sorted by channel and time, to both summaries.

    A total is a whole number of millionths, so that the order of arrival leaves no
    trace. Readings with an uncertain time belong to no hour.
    """
    timed = kept.chosen((kept.flags & _UNTIMED) == 0)
    if not len(timed):
        return
    for width, table in TABLES.items():
        columns = tuple(zip(*summed(timed, width), strict=True))
        many.write(connection, _ADD.format(table=table), columns)


def summed(timed: Columns, width: Width) -> list[tuple[int, int, int, int, int, float, float]]:
    """Return one summary row per channel and bucket of sorted readings."""
    buckets = timed.at_ms // width.value
    begins = np.flatnonzero(
        np.concatenate(([True], (np.diff(buckets) != 0) | (np.diff(timed.channel) != 0)))
    )
    total = np.rint(np.clip(timed.raw, -_LARGEST, _LARGEST) * MILLIONTHS).astype(np.int64)
    suspect = ((timed.flags & int(Flag.SUSPECT)) != 0).astype(np.int64)
    sums = (
        timed.channel[begins],
        buckets[begins],
        np.diff(np.append(begins, len(timed))),
        np.add.reduceat(suspect, begins),
        np.add.reduceat(total, begins),
        np.minimum.reduceat(timed.raw, begins),
        np.maximum.reduceat(timed.raw, begins),
    )
    return list(zip(*(each.tolist() for each in sums), strict=True))
