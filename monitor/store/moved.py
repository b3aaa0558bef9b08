"""A ledger whose name is gone, or names another file, while it is in use.

Whoever tidies up may remove ``ledger.db`` under a running daemon. SQLite goes on writing to
the file that has no name any more, and all of it would be gone with the last process. What is
open still holds everything, so it is given its name back.
"""

import os
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Final

from monitor.errors import StoreError
from monitor.store.connection import file_id, keep_name, make_private
from monitor.store.damage import set_aside

FileId = tuple[int, int] | None
_RECORD: Final = (
    "SELECT (SELECT coalesce(max(id), 0) FROM entries) + (SELECT coalesce(max(id), 0) FROM alarms)"
)


def log_of(path: Path) -> FileId:
    """Return which file is the write-ahead log of a ledger now."""
    return file_id(path.with_name(path.name + "-wal"))


def put_back(connection: sqlite3.Connection, path: Path, own: FileId, own_log: FileId) -> str:
    """Give an open ledger its name back, inside an empty write transaction; say what was done.

    Where another file bears the name, the one with the longer record keeps it; the other is
    set aside. Nothing that is committed is lost, and whoever has the old file open follows.
    ``own`` is what is open, ``own_log`` its write-ahead log: to another file that is poison.

    Raises
    ------
    StoreError
        If the folder cannot be written.
    """
    if log_of(path) == own_log:
        for suffix in ("-wal", "-shm"):
            path.with_name(path.name + suffix).unlink(missing_ok=True)
    if path.exists():
        if _record_at(path) >= _record(connection):
            return f"{path.name} was replaced while in use: the new one is followed"
        aside = set_aside(path)
        told = f"{path.name} was replaced while in use by a shorter record, kept as {aside.name}"
    else:
        told = f"{path.name} was removed while in use"
    copy = path.with_name(f"{path.name}.back-{os.getpid()}")
    try:
        _copy(connection, copy)
        os.link(copy, path)  # unlike a rename, it takes no other's place
        keep_name(path)
    except FileExistsError:
        return put_back(connection, path, own, own_log)
    except OSError as error:
        message = f"{told} and cannot be put back: {error.strerror}; look at the folder"
        raise StoreError(message) from error
    finally:
        copy.unlink(missing_ok=True)
    return f"{told}: it was put back with all it held"


def is_aside(path: Path, own: FileId) -> bool:
    """Return whether an open ledger was found damaged by another, and mended."""
    return own in {
        file_id(each) for each in path.parent.glob(f"{path.stem}-damaged-*{path.suffix}")
    }


def _copy(connection: sqlite3.Connection, to: Path) -> None:
    to.unlink(missing_ok=True)
    make_private(to)
    with to.open("wb") as file:
        file.write(connection.serialize())  # what is committed, though the name is gone
        file.flush()
        os.fsync(file.fileno())


def _record(connection: sqlite3.Connection) -> int:
    number: int = connection.execute(_RECORD).fetchone()[0]
    return number


def _record_at(path: Path) -> int:
    """Return how long the record in a file is, -1 where it is no ledger."""
    try:
        with closing(sqlite3.connect(path)) as other:
            return _record(other)
    except sqlite3.Error:
        return -1
