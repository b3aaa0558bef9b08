"""The batch ledger: entries that are written once and never changed."""

import json
import sqlite3
from collections.abc import Callable, Iterable, Sequence
from typing import Any

from monitor.errors import LedgerRuleError
from monitor.model import EntryKind, LedgerEntry, NewEntry
from monitor.model.batch import NO_BATCH, Slip
from monitor.store.ledger_file import LedgerFile, as_json

_ALL = "SELECT id, group_id, batch, kind, at_ms, recorded_ms, by, data FROM entries"


class EntryTable(LedgerFile):
    """Reads and writes the entries of batches."""

    def entries(self) -> list[LedgerEntry]:
        """Return all entries in the order they were written."""
        with self._reading() as connection:
            return _entries(connection)

    def write_entries(
        self, build: Callable[[Sequence[LedgerEntry]], Sequence[NewEntry]], now_ms: int,
        slip: Slip | None = None,
    ) -> list[LedgerEntry]:  # fmt: skip
        """Build entries from those that stand, and write them, in one transaction.

        ``build`` is given every entry and returns new ones; it may raise, and then nothing
        is written. The new ones share a group. Each whose batch is None founds a batch
        with an id that was never used before.

        What came by the same slip before is not written again: its entries are returned.

        Raises
        ------
        LedgerRuleError
            If the slip's token stands for something else that was written.
        """
        with self._writing() as connection:
            if slip is not None and (kept := _by_token(connection, slip.token)):
                return _known(connection, kept, slip)
            asked = build(_entries(connection))
            if not asked:
                return []
            group = connection.execute(
                "INSERT INTO groups (recorded_ms, token, digest) VALUES (?, ?, ?)",
                (now_ms, *(slip or (None, None))),
            ).lastrowid
            return [_write(connection, each, group or 0, now_ms) for each in asked]

    def entries_by_token(self, token: str) -> list[LedgerEntry]:
        """Return what was written by a slip of this token, or nothing."""
        with self._reading() as connection:
            kept = _by_token(connection, token)
            return _of_group(connection, kept[0]) if kept else []


def _by_token(connection: sqlite3.Connection, token: str) -> tuple[int, str] | None:
    """Return the group that a token wrote, with what stands for what it asked."""
    found: tuple[int, str] | None = connection.execute(
        "SELECT id, digest FROM groups WHERE token = ?", (token,)
    ).fetchone()
    return found


def _known(connection: sqlite3.Connection, kept: tuple[int, str], slip: Slip) -> list[LedgerEntry]:
    group, digest = kept
    if digest != slip.digest:
        raise LedgerRuleError(
            "this form has been recorded already, with something else in it: "
            "load the page again for another entry, or undo the first"
        )
    return _of_group(connection, group)


def _of_group(connection: sqlite3.Connection, group: int) -> list[LedgerEntry]:
    return _read(connection.execute(f"{_ALL} WHERE group_id = ? ORDER BY id", (group,)))


def _entries(connection: sqlite3.Connection) -> list[LedgerEntry]:
    return _read(connection.execute(f"{_ALL} ORDER BY id"))


def _read(rows: Iterable[Sequence[Any]]) -> list[LedgerEntry]:
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
