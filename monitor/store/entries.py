"""The batch ledger: entries that are written once and never changed."""

import json
import sqlite3
from collections.abc import Callable, Sequence

from monitor.model import EntryKind, LedgerEntry, NewEntry
from monitor.model.batch import NO_BATCH
from monitor.store.ledger_file import LedgerFile, as_json

_ALL = "SELECT id, group_id, batch, kind, at_ms, recorded_ms, by, data FROM entries"


class EntryTable(LedgerFile):
    """Reads and writes the entries of batches."""

    def entries(self) -> list[LedgerEntry]:
        """Return all entries in the order they were written."""
        with self._reading() as connection:
            return _entries(connection)

    def write_entries(
        self, build: Callable[[Sequence[LedgerEntry]], Sequence[NewEntry]], now_ms: int
    ) -> list[LedgerEntry]:
        """Build entries from those that stand, and write them, in one transaction.

        ``build`` is given every entry and returns new ones; it may raise, and then nothing
        is written. The new ones share a group. Each whose batch is None founds a batch
        with an id that was never used before.
        """
        with self._writing() as connection:
            asked = build(_entries(connection))
            if not asked:
                return []
            group = connection.execute(
                "INSERT INTO groups (recorded_ms) VALUES (?)", (now_ms,)
            ).lastrowid
            return [_write(connection, each, group or 0, now_ms) for each in asked]


def _entries(connection: sqlite3.Connection) -> list[LedgerEntry]:
    rows = connection.execute(f"{_ALL} ORDER BY id").fetchall()
    return [
        LedgerEntry(id_, group, batch, EntryKind(kind), at_ms, recorded_ms, by, json.loads(data))
        for id_, group, batch, kind, at_ms, recorded_ms, by, data in rows
    ]


def _write(connection: sqlite3.Connection, entry: NewEntry, group: int, now_ms: int) -> LedgerEntry:
    batch = entry.batch
    if batch is None:
        founded = connection.execute("INSERT INTO batches (given_ms) VALUES (?)", (now_ms,))
        batch = founded.lastrowid or 0
    if batch == NO_BATCH:
        connection.execute("INSERT OR IGNORE INTO batches (id, given_ms) VALUES (0, ?)", (now_ms,))
    written = connection.execute(
        "INSERT INTO entries (group_id, batch, kind, at_ms, recorded_ms, by, data)"
        " VALUES (?, ?, ?, ?, ?, ?, ?)",
        (group, batch, entry.kind, entry.at_ms, now_ms, entry.by, as_json(dict(entry.data))),
    )
    return LedgerEntry(
        written.lastrowid or 0, group, batch, entry.kind, entry.at_ms, now_ms, entry.by, entry.data
    )
