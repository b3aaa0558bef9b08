"""A copy of the whole farm in one file: made while it is watched, read back, put back.

The file is a ZIP archive: the two databases, the farm's files, and a list of them with
their SHA-256. The ledger is copied before the readings, so that readings are ahead of
what has been judged, as after a restart.
"""

import hashlib
import json
import os
import shutil
import sqlite3
import tempfile
import zipfile
import zlib
from collections.abc import Mapping
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from monitor.clock import SystemClock
from monitor.errors import SchemaNewerError, StoreError
from monitor.phrase import Phrase
from monitor.store.connection import connect_reader, explained, file_id, keep_name
from monitor.store.lock import lock_farm
from monitor.store.migrating import migrations
from monitor.store.outbox import withdraw_all
from monitor.units import iso_utc

DATABASES: Final = {"ledger.db": "ledger", "readings.db": "readings"}
COPYING: Final = ".cormwatch-copy-"
"""The names of folders in which a copy is being made begin so: nobody else's do."""
_LIST: Final = "copy.json"
_FORM: Final = "cormwatch copy 1"
_CHUNK: Final = 1 << 20
_LARGEST_LIST: Final = 1_000_000
_LEAST_ROOM: Final = 32_000_000
_UNREADABLE: Final = (
    zipfile.BadZipFile, zlib.error, KeyError, ValueError, TypeError, EOFError,
    RuntimeError,  # one that is encrypted, or packed by a method that nobody has
)  # fmt: skip
_LOGS: Final = ("-wal", "-journal")
"""What SQLite keeps beside a database and writes into whatever bears its name next."""


@dataclass(frozen=True, slots=True)
class Copied:
    """What a copy holds: rows by table of each database, the farm's files, bytes on disk."""

    path: Path
    at: str
    rows: Mapping[str, Mapping[str, int]]
    files: tuple[str, ...]
    size: int


def make_copy(data: Path, texts: Mapping[str, bytes], to: Path, now_ms: int) -> Copied:
    """Copy a farm's data and files into one archive, and read it back before it counts.

    Parameters
    ----------
    data : Path
        The folder of the databases; a daemon may be writing them.
    texts : Mapping of str to bytes
        The farm's own files by name.
    to : Path
        The archive to write; one that stands there stays until the new one is whole.
    now_ms : int
        Now. [ms]

    Raises
    ------
    StoreError
        If something cannot be read or written, or what was written reads back otherwise.
    """
    partial = to.with_name(f".{to.name}.partial")
    try:
        to.parent.mkdir(parents=True, exist_ok=True)
        _check_room(data, to)
        with tempfile.TemporaryDirectory(prefix=COPYING, dir=to.parent) as folder:
            copies = [_snapshot(data / each, Path(folder) / each) for each in DATABASES]
            _pack(copies, texts, partial, now_ms)
        read_copy(partial)
        partial.replace(to)
        keep_name(to)
    except OSError as failure:
        raise StoreError(_unwritable(to, failure)) from failure
    finally:
        partial.unlink(missing_ok=True)
    return read_copy(to)


def _unwritable(file: Path, failure: OSError) -> str:
    why = failure.strerror or str(failure)
    return Phrase("{file} cannot be written: {why}", file=str(file), why=why)


def _check_room(data: Path, to: Path) -> None:
    """Make sure that copying fills no disk: it may be the one that readings are kept on."""
    size = sum((data / each).stat().st_size for each in DATABASES if (data / each).exists())
    needed, free = 2 * size + _LEAST_ROOM, shutil.disk_usage(to.parent).free
    if free < needed:
        raise StoreError(
            Phrase(
                "{folder} has {free:.0f} MB free, and a copy takes up to {needed:.0f} MB while it "
                "is made: make room, or name another disk",
                folder=str(to.parent),
                free=free / 1e6,
                needed=needed / 1e6,
            )
        )


def _snapshot(source: Path, to: Path) -> Path:
    """Copy one database as it stands at one moment, and look the copy through."""
    with closing(connect_reader(source)) as read, explained(to):
        os.close(os.open(to, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600))
        with closing(sqlite3.connect(to)) as written:
            read.backup(written)
            written.execute("PRAGMA journal_mode = DELETE")
            found = written.execute("PRAGMA quick_check(1)").fetchone()[0]
    if found != "ok":
        raise StoreError(
            Phrase(
                "{file} is damaged ({found}): a copy of it would be no help",
                file=str(source),
                found=found,
            )
        )
    return to


def _pack(copies: list[Path], texts: Mapping[str, bytes], to: Path, now_ms: int) -> None:
    to.unlink(missing_ok=True)
    file = os.open(to, os.O_RDWR | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, 0o600)
    with os.fdopen(file, "wb") as raw:
        with zipfile.ZipFile(raw, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive:
            held = [_add(archive, each.name, each.open("rb")) for each in copies]
            for name, text in sorted(texts.items()):
                archive.writestr(name, text)
                held.append({"name": name, "sha256": hashlib.sha256(text).hexdigest()})
            listed = {
                "form": _FORM,
                "at": iso_utc(now_ms),
                "files": held,
                "schemas": {each: migrations(each)[-1].number for each in DATABASES.values()},
                "rows": {each.name: _rows(each) for each in copies},
            }
            archive.writestr(_LIST, json.dumps(listed, indent=1))
        raw.flush()
        os.fsync(raw.fileno())


def _add(archive: zipfile.ZipFile, name: str, source: Any) -> dict[str, str]:  # noqa: ANN401 - a binary file
    sum_ = hashlib.sha256()
    with source, archive.open(name, "w", force_zip64=True) as member:
        while chunk := source.read(_CHUNK):
            sum_.update(chunk)
            member.write(chunk)
    return {"name": name, "sha256": sum_.hexdigest()}


def _rows(path: Path) -> dict[str, int]:
    with closing(sqlite3.connect(path)) as connection:
        names = connection.execute(
            "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%'"
        ).fetchall()
        return {
            name: connection.execute(f'SELECT count(*) FROM "{name}"').fetchone()[0]
            for (name,) in names
        }


def read_copy(path: Path) -> Copied:
    """Read an archive through and return what it holds.

    Raises
    ------
    StoreError
        If it is no copy of a farm, or a part of it is not what it was when it was made.
    SchemaNewerError
        If a newer version of the program made it.
    """
    try:
        with zipfile.ZipFile(path) as archive:
            listed = _listed(archive, path)
            for each in listed["files"]:
                if _sum(archive, each["name"]) != each["sha256"]:
                    raise StoreError(
                        Phrase(
                            "{file} is damaged: {part} has changed in it",
                            file=str(path),
                            part=each["name"],
                        )
                    )
    except _UNREADABLE as failure:
        raise StoreError(
            Phrase("{file} is no whole copy of a farm: {why}", file=str(path), why=str(failure))
        ) from failure
    except OSError as failure:
        why = failure.strerror or str(failure)
        raise StoreError(
            Phrase("{file} cannot be read: {why}", file=str(path), why=why)
        ) from failure
    files = tuple(each["name"] for each in listed["files"] if each["name"] not in DATABASES)
    return Copied(path, listed["at"], listed["rows"], files, path.stat().st_size)


def _listed(archive: zipfile.ZipFile, path: Path) -> dict[str, Any]:
    if archive.getinfo(_LIST).file_size > _LARGEST_LIST:
        raise ValueError("its list is too large")
    listed: dict[str, Any] = json.loads(archive.read(_LIST))
    if listed["form"] != _FORM:
        raise StoreError(f"{path} is no copy that this version can read: {listed['form']!r}")
    for schema, number in listed["schemas"].items():
        if number > migrations(schema)[-1].number:
            raise SchemaNewerError(
                f"{path} was made by a newer version (schema {number} of {schema}); upgrade first"
            )
    names = [each["name"] for each in listed["files"]]
    if not set(DATABASES) <= set(names) or any(Path(name).name != name for name in names):
        raise ValueError("its list names other files than a farm's")
    return listed


def _sum(archive: zipfile.ZipFile, name: str) -> str:
    sum_ = hashlib.sha256()
    with archive.open(name) as member:
        while chunk := member.read(_CHUNK):
            sum_.update(chunk)
    return sum_.hexdigest()


def put_back(path: Path, directory: Path) -> Copied:
    """Put a copy into an empty farm's folder: all of it, or nothing.

    Raises
    ------
    StoreError
        If the copy is not whole, or something of it stands in the folder already.
    BusyError
        If a daemon watches that folder.
    """
    found = read_copy(path)
    data = directory / "data"
    places = {each: data / each for each in DATABASES}
    places |= {each: directory / each for each in found.files}
    logs = [data / f"{each}{suffix}" for each in DATABASES for suffix in _LOGS]
    taken = [each for each in (*places.values(), *logs) if file_id(each) is not None]
    if taken:
        raise StoreError(
            f"{taken[0]} is there already: a copy is put into a folder of its own, "
            "so name an empty one with --farm"
        )
    try:
        data.mkdir(mode=0o700, parents=True, exist_ok=True)
        with lock_farm(data):
            _unpack(path, places, directory)
    except OSError as failure:
        raise StoreError(_unwritable(directory, failure)) from failure
    return found


def _unpack(path: Path, places: Mapping[str, Path], directory: Path) -> None:
    with tempfile.TemporaryDirectory(prefix=".putting-back-", dir=directory) as folder:
        with zipfile.ZipFile(path) as archive:
            for name in places:
                to = Path(folder) / name
                file = os.open(to, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, 0o600)
                with archive.open(name) as member, os.fdopen(file, "wb") as out:
                    shutil.copyfileobj(member, out, _CHUNK)
                    out.flush()
                    os.fsync(out.fileno())
        _name_anew(Path(folder) / "readings.db")
        _hush(Path(folder) / "ledger.db")
        for name, to in places.items():
            (Path(folder) / name).replace(to)
            keep_name(to)


def _name_anew(readings: Path) -> None:
    """Give readings put back a token of their own: whoever followed the old ones begins anew.

    A file of before there were tokens gets its own when it is opened.
    """
    with explained(readings), closing(sqlite3.connect(readings)) as connection, connection:
        if connection.execute("SELECT 1 FROM sqlite_master WHERE name = 'identity'").fetchone():
            connection.execute("UPDATE identity SET token = lower(hex(randomblob(16)))")


def _hush(ledger: Path) -> None:
    """Drop what waited to be sent: reminders tell of what stands, nobody of what was."""
    with explained(ledger), closing(sqlite3.connect(ledger)) as connection, connection:
        if connection.execute("SELECT 1 FROM sqlite_master WHERE name = 'attempts'").fetchone():
            withdraw_all(connection, SystemClock().now_ms())
