"""Rows that arrive behind the newest of their channel: noted as they are written.

Whoever copies readings elsewhere follows each channel by time, which needs no mark on a
row that arrives in order. A row behind the newest would be passed over, so its span is
noted in the same transaction: a *late* row costs some bytes, any other nothing. The table
is bounded; a follower that finds its place dropped begins anew (``ArrivalReader``).
"""

import sqlite3
from collections.abc import Mapping
from typing import Final

import numpy as np

from monitor.store.columns import Columns

LATE_KEPT: Final = 50_000
"""Spans kept: a day of sensors that are always late, and about a megabyte."""


def spans(kept: Columns, newest_ms: Mapping[int, int]) -> list[tuple[int, int, int]]:
    """Return (channel, from, to) of what lies behind the newest of each channel. [ms]

    Parameters
    ----------
    kept : Columns
        What is written, by channel and time.
    newest_ms : mapping
        The newest time of each channel before it is. [ms]
    """
    begins = np.flatnonzero(np.append(True, np.diff(kept.channel) != 0)).tolist()
    found = []
    for at, end in zip(begins, [*begins[1:], len(kept)], strict=True):
        number, first_ms = int(kept.channel[at]), int(kept.at_ms[at])
        head_ms = newest_ms.get(number, first_ms)
        if first_ms < head_ms:
            behind = at + int(np.searchsorted(kept.at_ms[at:end], head_ms))
            found.append((number, first_ms, int(kept.at_ms[behind - 1])))
    return found


def note(connection: sqlite3.Connection, found: list[tuple[int, int, int]]) -> None:
    """Keep the spans, inside a transaction; the oldest make room."""
    connection.executemany("INSERT INTO late (channel, from_ms, to_ms) VALUES (?, ?, ?)", found)
    connection.execute("DELETE FROM late WHERE id <= (SELECT max(id) FROM late) - ?", (LATE_KEPT,))
