"""Saving what a damaged ledger still holds: a new file without a hole in its records.

The record of batches is kept up to the first line that cannot be read, for what came later
rests on it; of alarms, notices and the rest all that can be read from either end is kept.
Where nothing can be read, of batches above all, the file stays as it is.
"""

import contextlib
import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Final, NamedTuple

from monitor.errors import StoreError
from monitor.store.connection import connect_writer, damaged, explained, keep_name, writing
from monitor.store.damage import keep_whole_pages, set_aside
from monitor.store.migrating import migrate

_WHOLE: Final = frozenset({"batches", "groups", "entries"})
_UNREADABLE: Final = (sqlite3.Error, UnicodeDecodeError)
_TABLES: Final = (
    "SELECT name FROM sqlite_master WHERE type = 'table'"
    " AND name NOT LIKE 'sqlite%' AND name <> 'migrations' ORDER BY rowid"
)

Row = tuple[object, ...]


class _Copied(NamedTuple):
    """How many rows were saved, and the names of the tables that could not be read to the end."""

    rows: int
    torn: list[str]
    entries: int

    @property
    def worth(self) -> bool:
        """Return whether it holds more than a new ledger would: of batches, above all."""
        return self.rows > 0 and (self.entries > 0 or "entries" not in self.torn)


def mend(path: Path) -> str:
    """Set a damaged ledger aside, save what can be read into a new one; say what was done.

    Raises
    ------
    DamagedError
        If nothing can be read of it: then it stands where it stood.
    StoreError
        If the folder cannot be written.
    """
    fresh = path.with_name(f"{path.name}.mending-{os.getpid()}")
    aside = set_aside(path)
    try:
        copied = _saved(aside, fresh)
        if not copied.worth:
            _back(aside, path)
            raise damaged(path, "no record can be read of it")
        os.link(fresh, path)
        keep_name(path)
    except OSError as error:
        message = f"{path} is damaged and cannot be mended: {error.strerror}; look at the folder"
        raise StoreError(message) from error
    finally:
        for suffix in ("", "-wal", "-shm"):
            fresh.with_name(fresh.name + suffix).unlink(missing_ok=True)
    torn = f"; {', '.join(copied.torn)} could not be read to the end" if copied.torn else ""
    return (
        f"{path.name} was found damaged and set aside as {aside.name}: {copied.rows:,} lines were "
        f"saved{torn}; see whether a batch, an alarm or a notice is missing, and keep that file"
    )


def _saved(aside: Path, fresh: Path) -> _Copied:
    with closing(connect_writer(fresh)) as target:
        migrate(target, "ledger", fresh)
        keep_whole_pages(aside)
        with explained(fresh), closing(sqlite3.connect(aside, isolation_level=None)) as source:
            with contextlib.suppress(*_UNREADABLE):
                source.execute("PRAGMA writable_schema = ON")  # reads a file that was cut short
            return _copied(source, target)


def _copied(source: sqlite3.Connection, target: sqlite3.Connection) -> _Copied:
    rows, torn, entries = 0, list[str](), 0
    tables = [name for (name,) in target.execute(_TABLES)]
    with writing(target):
        for table in tables:
            names = [each[1] for each in target.execute(f'PRAGMA table_info("{table}")')]
            put = f'INSERT INTO "{table}" VALUES ({", ".join("?" * len(names))})'
            reading = _Reading(source, table, names)
            for row in reading.rows():
                if not _put(target, put, row):
                    reading.torn = True
                    if table in _WHOLE:
                        break
                    continue
                rows += 1
                entries += table == "entries"
            if reading.torn:
                torn.append(table)
    return _Copied(rows, torn, entries)


def _put(target: sqlite3.Connection, put: str, row: Row) -> bool:
    """Write a row; return False where it rests on one that is lost, or stands there already."""
    try:
        target.execute(put, row)
    except sqlite3.IntegrityError:
        return False
    return True


class _Reading:
    """The rows of one table, from its beginning and, behind what is torn, from its end."""

    def __init__(self, source: sqlite3.Connection, table: str, names: list[str]) -> None:
        self._source, self._table, self._names = source, table, names
        self.torn = False

    def rows(self) -> Iterator[Row]:
        """Yield what can be read."""
        last: object = None
        for row in self._one_way(""):
            last = row[0]
            yield row
        if not self.torn or self._table in _WHOLE:
            return
        for row in self._one_way("DESC"):
            if row[0] == last:
                return
            yield row

    def _one_way(self, order: str) -> Iterator[Row]:
        columns = ", ".join(f'"{each}"' for each in self._names)
        asked = f'SELECT {columns} FROM "{self._table}" ORDER BY "{self._names[0]}" {order}'
        try:
            for row in self._source.execute(asked):
                if any(isinstance(each, str) and "\0" in each for each in row):
                    self.torn = True  # a text that runs on into a page of nothing
                    return
                yield row
        except _UNREADABLE:
            self.torn = True


def _back(aside: Path, path: Path) -> None:
    """Give a file that was set aside its name back."""
    tail = aside.with_name(aside.name + ".tail")
    if tail.exists():
        with aside.open("ab") as file:
            file.write(tail.read_bytes())
        tail.unlink()
    for suffix in ("-wal", ""):
        old = aside.with_name(aside.name + suffix)
        if old.exists():
            old.rename(path.with_name(path.name + suffix))
    aside.with_name(aside.name + "-shm").unlink(missing_ok=True)
