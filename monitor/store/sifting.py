"""What of a commit is new: repeats, conflicts, and receipt times that collide."""

import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np

from monitor.model import Flag
from monitor.store.coding import decode_one
from monitor.store.columns import Columns
from monitor.store.records import Ints

OWN_TIME: Final = int(Flag.DEVICE_TIME | Flag.IMPORTED)
"""Readings whose time is a fact: the same time again is the same reading again."""


@dataclass(slots=True)
class Sifted:
    """The readings to write, sorted, and what became of the others."""

    kept: Columns
    repeated: int = 0
    conflicts: list[tuple[int, int, float, float, int]] = field(default_factory=list)
    moved: bool = False


def sift(
    connection: sqlite3.Connection,
    arrived: Columns,
    newest_ms: Mapping[int, int],
    *,
    certain: bool = False,
) -> Sifted:
    """Tell new readings from repeats; ``newest_ms`` is the newest time kept per channel.

    Channels whose readings all come after the newest, each at a time of its own, are
    new without a look at the file; the others are looked up one by one. ``certain``
    takes every time as a fact.
    """
    ordered = arrived.in_order()
    doubtful = _doubtful_channels(ordered, newest_ms)
    if not len(doubtful):
        return Sifted(ordered)
    looked = _LookUp(connection, newest_ms, certain=certain)
    times_ms = arrived.at_ms.copy()
    keep = np.ones(len(arrived), dtype=np.bool_)
    for at in np.flatnonzero(np.isin(arrived.channel, doubtful)).tolist():
        place_ms = looked.place(arrived, at)
        if place_ms is None:
            keep[at] = False
        else:
            times_ms[at] = place_ms
    kept = replace(arrived, at_ms=times_ms).chosen(keep).in_order()
    moved = bool((times_ms != arrived.at_ms).any())
    return Sifted(kept, looked.repeated, looked.conflicts, moved)


def _doubtful_channels(ordered: Columns, newest_ms: Mapping[int, int]) -> Ints:
    if not len(ordered):
        return ordered.channel
    begins = np.concatenate(([True], np.diff(ordered.channel) != 0))
    twice = np.concatenate(([False], np.diff(ordered.at_ms) == 0)) & ~begins
    first = ordered.chosen(begins)
    late = [
        number
        for number, at_ms in zip(first.channel.tolist(), first.at_ms.tolist(), strict=True)
        if number in newest_ms and at_ms <= newest_ms[number]
    ]
    return np.union1d(ordered.channel[twice], np.array(late, dtype=np.int64))


class _LookUp:
    """Finds a place for readings one by one, in the order they arrived."""

    def __init__(
        self, connection: sqlite3.Connection, newest_ms: Mapping[int, int], *, certain: bool
    ) -> None:
        self._connection = connection
        self._certain = certain
        self._newest_ms = newest_ms
        self._taken: dict[tuple[int, int], float] = {}
        self._free_ms: dict[tuple[int, int], int] = {}
        self.repeated = 0
        self.conflicts: list[tuple[int, int, float, float, int]] = []

    def place(self, arrived: Columns, at: int) -> int | None:
        """Return the time to keep a reading at, or None where it is not to be kept. [ms]"""
        channel, at_ms = int(arrived.channel[at]), int(arrived.at_ms[at])
        raw = float(arrived.raw[at])
        if self._certain or int(arrived.flags[at]) & OWN_TIME:
            held = self._held(channel, at_ms)
            if held is not None:
                self._again(channel, at_ms, held, raw, int(arrived.received_ms[at]))
                return None
        else:
            at_ms = self._free(channel, at_ms)
        self._taken[channel, at_ms] = raw
        return at_ms

    def _free(self, channel: int, at_ms: int) -> int:
        free_ms = self._free_ms.get((channel, at_ms), at_ms)
        while self._held(channel, free_ms) is not None:
            free_ms += 1
        self._free_ms[channel, at_ms] = free_ms + 1
        return free_ms

    def _again(self, channel: int, at_ms: int, held: float, raw: float, received_ms: int) -> None:
        if held == raw:
            self.repeated += 1
        else:
            self.conflicts.append((channel, at_ms, held, raw, received_ms))

    def _held(self, channel: int, at_ms: int) -> float | None:
        if (channel, at_ms) in self._taken:
            return self._taken[channel, at_ms]
        if at_ms > self._newest_ms.get(channel, -1):
            return None
        row = self._connection.execute(
            "SELECT raw FROM readings WHERE channel = ? AND at_ms = ?", (channel, at_ms)
        ).fetchone()
        return None if row is None else decode_one(row[0])
