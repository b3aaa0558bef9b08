"""Saving what a damaged ledger still holds: a new file without a hole in its records.

At no moment is there no ledger, and the damaged file has a name whenever the power goes.

The record of batches is kept up to the first line that cannot be read, for what came later
rests on it; of alarms, notices and the rest all that can be read from either end is kept.
Where nothing can be read, of batches above all, the record begins anew, and the new file says
so: a farm that is watched without its record is better off than one that is not watched.
"""

import contextlib
import json
import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Final, NamedTuple

from monitor.errors import StoreError
from monitor.store.connection import connect_writer, explained, file_id, keep_name, writing
from monitor.store.damage import keep_whole_pages, named_aside
from monitor.store.migrating import migrate

LOST: Final = "lost_record"
"""The key of the new ledger's state under which it says that the record begins anew."""
_MENDING: Final = ".mending-"
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


class Mended(NamedTuple):
    """What was done, in a sentence, and whether the record of batches begins anew."""

    told: str
    lost: bool


def mend(path: Path) -> Mended:
    """Keep a damaged ledger under a second name, and put in its place what can be read of it.

    Raises
    ------
    StoreError
        If the folder cannot be written: then the damaged file stands where it stood.
    """
    aside = named_aside(path)
    fresh = path.with_name(f"{path.name}{_MENDING}{os.getpid()}")
    try:
        copied = _replaced(path, aside, fresh)
    except OSError as error:
        message = f"{path} is damaged and cannot be mended: {error.strerror}; look at the folder"
        raise StoreError(message) from error
    finally:
        _clear(fresh)
    if not copied.worth:
        return Mended(
            f"{path.name} was found damaged and set aside as {aside.name}: no record of batches "
            "can be read of it, so it begins anew; keep that file, and put back a copy you have",
            lost=True,
        )
    torn = f"; {', '.join(copied.torn)} could not be read to the end" if copied.torn else ""
    return Mended(
        f"{path.name} was found damaged and set aside as {aside.name}: {copied.rows:,} lines were "
        f"saved{torn}; see whether a batch, an alarm or a notice is missing, and keep that file",
        lost=False,
    )


def resume(path: Path) -> None:
    """Take back what a mending that was cut short left: a second name of the damaged file.

    Raises
    ------
    StoreError
        If the folder cannot be written.
    """
    try:
        for fresh in path.parent.glob(f"{path.name}{_MENDING}*[0-9]"):
            _clear(fresh)
        for aside in path.parent.glob(f"{path.stem}-damaged-*{path.suffix}"):
            if file_id(aside) == file_id(path):
                _back(aside, path)
    except OSError as error:
        message = f"{path} was being mended: {error.strerror}; look at its folder"
        raise StoreError(message) from error


def _clear(file: Path) -> None:
    for suffix in ("", "-wal", "-shm"):
        file.with_name(file.name + suffix).unlink(missing_ok=True)


def _replaced(path: Path, aside: Path, fresh: Path) -> _Copied:
    try:
        copied = _saved(aside, fresh)
        for suffix in ("-wal", "-shm"):  # whoever looked at the damaged file may have made them
            path.with_name(path.name + suffix).unlink(missing_ok=True)
        fresh.replace(path)
        keep_name(path)
    except BaseException:
        _back(aside, path)
        raise
    return copied


def _saved(aside: Path, fresh: Path) -> _Copied:
    with closing(connect_writer(fresh)) as target:
        migrate(target, "ledger", fresh)
        keep_whole_pages(aside)
        with explained(fresh), closing(sqlite3.connect(aside, isolation_level=None)) as source:
            with contextlib.suppress(*_UNREADABLE):
                source.execute("PRAGMA writable_schema = ON")  # reads a file that was cut short
            copied = _copied(source, target)
        if not copied.worth:
            with explained(fresh), writing(target):
                told = LOST, json.dumps(aside.name)
                target.execute("INSERT OR REPLACE INTO state VALUES (?, ?)", told)
        return copied


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
    """Take the second name from a damaged file, and give it back what was moved with it."""
    tail = aside.with_name(aside.name + ".tail")
    if tail.exists():
        with aside.open("ab") as file:
            file.write(tail.read_bytes())
        tail.unlink()
    log = aside.with_name(aside.name + "-wal")
    if log.exists():
        log.rename(path.with_name(path.name + "-wal"))
    aside.with_name(aside.name + "-shm").unlink(missing_ok=True)
    aside.rename(path) if file_id(aside) != file_id(path) else aside.unlink()
