"""Connections to the two files: how durable, how private, how patient."""

import os
import sqlite3
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from monitor.clock import monotonic_s
from monitor.errors import BusyError, StoreError
from monitor.phrase import Phrase

BUSY_MS: Final = 10_000
CACHE_KIB: Final = 4_000
_AGAIN_S: Final = 0.02
LOG_CAP_BYTES: Final = 16 * 1024 * 1024
"""The write-ahead log is cut back to this once it has been copied into the file."""
CHECKPOINT_PAGES: Final = 1_000
_BUSY: Final = frozenset({sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED})
_DAMAGED: Final = frozenset({sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB})
_FULL: Final = frozenset({sqlite3.SQLITE_FULL})


class DamagedError(StoreError):
    """A file is no database any more, or part of it is overwritten."""


class FullError(StoreError):
    """The disk has no room left."""


def primary_code(error: sqlite3.Error) -> int:
    """Return SQLite's primary result code of an error, 0 where it has none."""
    code: int = getattr(error, "sqlite_errorcode", None) or 0
    return code & 0xFF


def damaged(path: Path, what: str) -> DamagedError:
    """Return the failure of a damaged file: what is wrong, and what can be done now."""
    return DamagedError(
        Phrase(
            "{file} is damaged ({what}); put back a copy you kept of it, or start cormwatch run: "
            "it sets the file aside, saves what can be read and watches; of batches of which "
            "nothing can be read the record begins anew",
            file=str(path),
            what=what,
        )
    )


def explain(error: sqlite3.Error, path: Path) -> StoreError:
    """Return our own failure for one of SQLite's: what, which file, what to do next."""
    code = primary_code(error)
    if code in _BUSY:
        return BusyError(
            Phrase(
                "{file} is being written by another process; try again in a moment", file=str(path)
            )
        )
    if code in _DAMAGED:
        return damaged(path, str(error))
    if code in _FULL:
        return FullError(
            Phrase(
                "{file} cannot grow: the disk is full ({why}); free some space",
                file=str(path),
                why=str(error),
            )
        )
    return StoreError(
        Phrase(
            "{file} cannot be used: {why}; look at the disk and its permissions",
            file=str(path),
            why=str(error),
        )
    )


@contextmanager
def explained(path: Path) -> Iterator[None]:
    """Turn SQLite's errors inside the block into ours."""
    try:
        yield
    except sqlite3.Error as error:
        raise explain(error, path) from error
    except UnicodeDecodeError as error:  # SQLite quotes a damaged name that is no UTF-8
        raise damaged(path, "a name in it is no text") from error


def file_id(path: Path) -> tuple[int, int] | None:
    """Return which file a path names now, None where there is none."""
    try:
        found = path.stat()
    except FileNotFoundError:
        return None
    return found.st_dev, found.st_ino


def make_private(path: Path) -> None:
    """Create the file if it is missing, readable and writable by its owner alone (0600).

    SQLite gives the write-ahead log the same mode.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        if not path.exists():
            os.close(os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600))
            keep_name(path)
    except OSError as error:
        message = f"{path} cannot be opened: {error.strerror}; look at the folder's permissions"
        raise StoreError(message) from error


def keep_name(path: Path) -> None:
    """Bring a file's name to the disk: a power cut then finds it in its folder."""
    folder = os.open(path.parent, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)


def connect_writer(path: Path) -> sqlite3.Connection:
    """Open a file for writing: write-ahead log, and every commit on the disk when it returns.

    Raises
    ------
    StoreError
        If the file cannot be opened or is damaged.
    """
    make_private(path)
    with explained(path):
        connection = _connect(path)
        try:
            _write_ahead(connection)
            connection.execute("PRAGMA synchronous = FULL")
            connection.execute(f"PRAGMA journal_size_limit = {LOG_CAP_BYTES}")
            connection.execute(f"PRAGMA wal_autocheckpoint = {CHECKPOINT_PAGES}")
            connection.execute("PRAGMA foreign_keys = ON")
        except (sqlite3.Error, UnicodeDecodeError):
            connection.close()
            raise
    return connection


def _write_ahead(connection: sqlite3.Connection) -> None:
    """Turn the write-ahead log on, waiting for another process that does the same.

    SQLite does not wait by itself here: two that open a new file at once would fail.
    """
    until_s = monotonic_s() + BUSY_MS / 1000
    while True:
        try:
            connection.execute("PRAGMA journal_mode = WAL").fetchone()
        except sqlite3.OperationalError as error:
            if primary_code(error) not in _BUSY or monotonic_s() > until_s:
                raise
            threading.Event().wait(_AGAIN_S)
        else:
            return


def connect_reader(path: Path) -> sqlite3.Connection:
    """Open an existing file for reading only; each query is its own short transaction.

    Raises
    ------
    StoreError
        If there is no such file, or it is damaged.
    """
    if not path.exists():
        raise StoreError(f"{path} does not exist yet; start cormwatch run once to make it")
    with explained(path):
        connection = _connect(path)
        connection.execute("PRAGMA query_only = ON")
    return connection


def _connect(path: Path) -> sqlite3.Connection:
    connection = sqlite3.connect(
        path, isolation_level=None, check_same_thread=False, timeout=BUSY_MS / 1000
    )
    connection.execute(f"PRAGMA cache_size = -{CACHE_KIB}")
    return connection


@contextmanager
def writing(connection: sqlite3.Connection) -> Iterator[None]:
    """Run the block in one transaction that holds the write lock from its first line."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        yield
        connection.execute("COMMIT")
    except BaseException:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise


def data_version(connection: sqlite3.Connection) -> int:
    """Return a number that changes when another connection has written the file."""
    version: int = connection.execute("PRAGMA data_version").fetchone()[0]
    return version
