"""What every part of the ledger shares: one connection, one lock, short transactions."""

import json
import sqlite3
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final, Self

from monitor.store.connection import (
    connect_writer,
    damaged,
    data_version,
    explained,
    writing,
)
from monitor.store.damage import check, emptied
from monitor.store.migrating import migrate

_JUDGED_TO: Final = "judged_to_ms"


class LedgerFile:
    """A connection to ``ledger.db``; its methods may be called from any thread.

    Each write is one short transaction that reads, judges and writes while it holds the
    write lock, so several processes may write. A damaged ledger is never replaced by an
    empty one: opening it fails, and names what to do.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        if emptied(path) and _holds_history(path):
            raise damaged(path, "it is empty")
        self._lock = threading.RLock()
        self._connection = connect_writer(path)
        try:
            migrate(self._connection, "ledger", path)
            with explained(path):
                check(self._connection, path)
        except BaseException:
            self._connection.close()
            raise

    @classmethod
    def open(cls, path: Path) -> Self:
        """Open the ledger, making or migrating it.

        Raises
        ------
        SchemaNewerError
            If a newer version of the program wrote it.
        StoreError
            If it is damaged, or its folder cannot be written.
        """
        return cls(path)

    def close(self) -> None:
        """Close the file."""
        with self._lock:
            self._connection.close()

    def data_version(self) -> int:
        """Return a number that changes when another process or ledger object has written."""
        with self._reading() as connection:
            return data_version(connection)

    def judged_to(self) -> int | None:
        """Return the time up to which readings have been judged, or None. [ms]"""
        value: int | None = self.get(_JUDGED_TO)
        return value

    def set_judged_to(self, at_ms: int) -> None:
        """Note that readings have been judged up to a time. [ms]"""
        with self._writing() as connection:
            self._note_judged(connection, at_ms)

    def get(self, key: str) -> Any:  # noqa: ANN401 - whatever JSON was put
        """Return the JSON value kept under a key, or None."""
        with self._reading() as connection:
            row = connection.execute("SELECT value FROM state WHERE key = ?", (key,)).fetchone()
        return None if row is None else json.loads(row[0])

    def put(self, key: str, value: Any) -> None:  # noqa: ANN401 - whatever JSON can hold
        """Keep a JSON value under a key."""
        with self._writing() as connection:
            put(connection, key, value)

    def append(self, key: str, value: Any) -> None:  # noqa: ANN401 - whatever JSON can hold
        """Add a JSON value to the list kept under a key; what stands there stays."""
        self.alter(key, lambda kept: [*(kept or []), value])

    def alter(self, key: str, change: Callable[[Any], Any]) -> None:
        """Change the JSON value kept under a key, None at first, in one transaction.

        ``change`` may raise, and then nothing is written.
        """
        with self._writing() as connection:
            row = connection.execute("SELECT value FROM state WHERE key = ?", (key,)).fetchone()
            put(connection, key, change(None if row is None else json.loads(row[0])))

    @contextmanager
    def _reading(self) -> Iterator[sqlite3.Connection]:
        with self._lock, explained(self.path):
            yield self._connection

    @contextmanager
    def _writing(self) -> Iterator[sqlite3.Connection]:
        with self._lock, explained(self.path), writing(self._connection):
            yield self._connection

    @staticmethod
    def _note_judged(connection: sqlite3.Connection, at_ms: int | None) -> None:
        if at_ms is not None:
            put(connection, _JUDGED_TO, at_ms)


def _holds_history(path: Path) -> bool:
    """Return whether the readings beside a ledger say that the farm has been watched."""
    readings = path.with_name("readings.db")
    return readings.exists() and readings.stat().st_size > 0


def as_json(value: object) -> str:
    """Return JSON text; an infinite number is refused."""
    return json.dumps(value, ensure_ascii=True, allow_nan=False, separators=(",", ":"))


def put(connection: sqlite3.Connection, key: str, value: object) -> None:
    """Keep a JSON value under a key, inside a transaction."""
    connection.execute(
        "INSERT INTO state VALUES (?, ?) ON CONFLICT (key) DO UPDATE SET value = excluded.value",
        (key, as_json(value)),
    )
