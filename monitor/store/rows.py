"""Writing readings: their rows, their summaries, and the newest of each channel."""

import sqlite3
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from monitor.model import Channel, Flag, Quantity, Reading
from monitor.store import bounded, late, many, summing
from monitor.store.coding import encode
from monitor.store.columns import Columns, columns
from monitor.store.records import Committed
from monitor.store.sifting import sift

_NEWEST: Final = """
UPDATE channels
SET at_ms = new.column2, raw = new.column3, flags = new.column4, received_ms = new.column5
FROM (VALUES {rows}) AS new WHERE channels.id = new.column1
"""
_MARK: Final = """
UPDATE readings SET flags = flags | ?
WHERE channel = ? AND at_ms BETWEEN ? AND ? AND flags & ? = 0 AND flags & ? = 0
"""
_MARK_NEWEST: Final = """
UPDATE channels SET flags = flags | ? WHERE at_ms BETWEEN ? AND ? AND flags & ? = 0
"""


class Rows:
    """Writes readings inside a transaction of the store.

    What it keeps in mind (channels, their newest times) is read from the file, and holds
    as long as nobody else writes and no transaction is taken back.
    """

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._connection = connection
        rows = connection.execute("SELECT id, sensor, quantity, at_ms FROM channels").fetchall()
        self._numbers = {Channel(sensor, Quantity(what)): id_ for id_, sensor, what, _ in rows}
        self._newest_ms = {id_: at_ms for id_, _, _, at_ms in rows if at_ms is not None}

    def keep(self, readings: Sequence[Reading], *, certain: bool = False) -> Committed:
        """Write what is new of some readings, and tell what became of each.

        ``certain`` says that their times are facts, however they were stamped: they come
        from a file of ours, and the same time again is the same reading again.
        """
        arrived = self._columns(readings)
        finite = np.isfinite(arrived.raw)
        sifted = sift(self._connection, arrived.chosen(finite), self._newest_ms, certain=certain)
        if len(sifted.kept):
            self._write(sifted.kept)
        if sifted.conflicts:
            bounded.add_conflicts(self._connection, sifted.conflicts)
        return Committed(
            stored=len(sifted.kept),
            repeated=sifted.repeated,
            conflicting=len(sifted.conflicts),
            not_finite=len(arrived) - int(finite.sum()),
            readings=_as_kept(readings, sifted.kept, moved=sifted.moved),
        )

    def mark(self, flag: Flag, since_ms: int, until_ms: int) -> int:
        """Add a flag to what has no time of its own in a span, until_ms in it; return how many."""
        with_own, span = int(Flag.DEVICE_TIME | Flag.IMPORTED), (since_ms, until_ms)
        marked = 0
        for number in self._numbers.values():
            changed = self._connection.execute(
                _MARK, (int(flag), number, *span, with_own, int(flag))
            )
            if changed.rowcount > 0:
                marked += changed.rowcount
                late.note(self._connection, [(number, *span)])  # who copied them copies anew
        self._connection.execute(_MARK_NEWEST, (int(flag), *span, with_own))
        return marked

    def _columns(self, readings: Sequence[Reading]) -> Columns:
        numbers = self._numbers
        for channel in dict.fromkeys(each.channel for each in readings):
            if channel not in numbers:
                numbers[channel] = self._new_channel(channel)
        return columns(readings, [numbers[each.channel] for each in readings])

    def _new_channel(self, channel: Channel) -> int:
        added = self._connection.execute(
            "INSERT INTO channels (sensor, quantity) VALUES (?, ?)", channel
        )
        return added.lastrowid or 0

    def _write(self, kept: Columns) -> None:
        stored = encode(kept.raw)
        uncounted = summing.uncounted(self._connection, kept)  # as the hours stand before it
        many.write(
            self._connection,
            "INSERT INTO readings VALUES {rows}",
            (kept.channel.tolist(), kept.at_ms.tolist(), stored, kept.flags.tolist()),
        )
        summing.add(self._connection, uncounted)
        if behind := late.spans(kept, self._newest_ms):
            late.note(self._connection, behind)
        self._note_newest(kept, stored)

    def _note_newest(self, kept: Columns, stored: Sequence[int | float]) -> None:
        last = np.flatnonzero(np.append(np.diff(kept.channel) != 0, True))
        newest = self._newest_ms
        rows = [
            (number, at_ms, stored[at], flags, received_ms)
            for at, number, at_ms, flags, received_ms in zip(
                last.tolist(), kept.channel[last].tolist(), kept.at_ms[last].tolist(),
                kept.flags[last].tolist(), kept.received_ms[last].tolist(), strict=True,
            )
            if at_ms > newest.get(number, at_ms - 1)
        ]  # fmt: skip
        if rows:
            newest.update((number, at_ms) for number, at_ms, *_ in rows)
            many.write(self._connection, _NEWEST, tuple(zip(*rows, strict=True)))


def _as_kept(readings: Sequence[Reading], kept: Columns, *, moved: bool) -> Sequence[Reading]:
    """Return the readings that were written, in order of arrival, at the times written."""
    if len(kept) == len(readings) and not moved:
        return readings
    order = np.argsort(kept.position)
    pairs = zip(kept.position[order].tolist(), kept.at_ms[order].tolist(), strict=True)
    return [
        readings[at] if readings[at].at_ms == at_ms else replace(readings[at], at_ms=at_ms)
        for at, at_ms in pairs
    ]
