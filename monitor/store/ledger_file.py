"""What every part of the ledger shares: one connection, one lock, short transactions."""

import json
import logging
import sqlite3
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final, Self

from monitor.errors import StoreError
from monitor.store.connection import (
    connect_writer,
    damaged,
    data_version,
    explained,
    file_id,
    make_private,
    writing,
)
from monitor.store.damage import check, emptied
from monitor.store.mending import mend
from monitor.store.migrating import migrate
from monitor.store.moved import is_aside, log_of, put_back

log = logging.getLogger("cormwatch")

_JUDGED_TO: Final = "judged_to_ms"
_FOLLOWED: Final = 20


class LedgerFile:
    """A connection to ``ledger.db``; its methods may be called from any thread.

    Each write is one short transaction that reads, judges and writes while it holds the
    write lock, so several processes may write. A damaged ledger is never replaced by opening
    it: that fails, and names what to do, until ``mend`` has saved what can be read of it. One
    that loses its name while it is open gets it back; ``told`` says so. ``lost`` says that
    ``mend`` found no record of batches in it just now.
    """

    def __init__(self, path: Path) -> None:
        self.path, self.told, self.lost = path, "", False
        if emptied(path) and _holds_history(path):
            raise damaged(path, "it is empty")
        self._lock = threading.RLock()
        self._connection = self._connected()

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

    def _connected(self) -> sqlite3.Connection:
        make_private(self.path)
        opened = file_id(self.path)
        connection = connect_writer(self.path)
        try:
            migrate(connection, "ledger", self.path)
            with explained(self.path):
                check(connection, self.path)
        except BaseException:
            connection.close()
            raise
        # Where another bears the name by now nobody knows which of the two is open.
        same = opened is not None and file_id(self.path) == opened
        self._file, self._log = (opened, log_of(self.path)) if same else (None, None)
        return connection

    def mend(self) -> None:
        """Go on in a new file with what can be read of one that is found damaged in use.

        Raises
        ------
        StoreError
            If nothing can be written.
        """
        with self._lock:
            if self._named():  # else another has mended it
                self.told, self.lost = mend(self.path)
                log.error("%s", self.told)
            self._follow()

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
            if not self._named():
                with self._settled():
                    pass
            yield self._connection

    @contextmanager
    def _writing(self) -> Iterator[sqlite3.Connection]:
        with self._lock, explained(self.path), self._settled() as connection:
            yield connection

    @contextmanager
    def _settled(self) -> Iterator[sqlite3.Connection]:
        """One write transaction in the file that bears the name; one without it gets it back."""
        for _ in range(_FOLLOWED):
            if not self._named() and is_aside(self.path, self._file):
                self.told = (
                    f"{self.path.name} was found damaged and mended: the new one is followed"
                )
                self._follow()  # of the damaged one nothing could be asked
            with writing(self._connection):
                # Whoever waited for the lock may have waited on a file that lost its name.
                if self._named():
                    yield self._connection
                    return
                self.told = put_back(self._connection, self.path, self._file, self._log)
                log.warning("%s", self.told)
            self._follow()
        raise StoreError(f"{self.path} is replaced again and again; leave it alone, or stop first")

    def _named(self) -> bool:
        """Return whether what is open bears the name; it may have lost it while it was opened."""
        return self._file is not None and file_id(self.path) == self._file

    def _follow(self) -> None:
        old, self._connection = self._connection, self._connected()
        old.close()

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
