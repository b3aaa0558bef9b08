"""A file that a power cut has damaged: noticing it, and setting it aside."""

import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from monitor.clock import SystemClock
from monitor.errors import StoreError
from monitor.store.connection import damaged

CHECKED_BYTES: Final = 32 * 1024 * 1024
"""Files up to this size are looked through at every start: a fraction of a second."""
HEADER: Final = b"SQLite format 3\x00"


_BEING_MADE_MS = 10_000


def check(connection: sqlite3.Connection, path: Path) -> None:
    """Look a small file through; a large one shows its damage when it is used.

    Raises
    ------
    DamagedError
        If a page of it is not what it should be.
    """
    pages, of_bytes = (
        connection.execute(f"PRAGMA {each}").fetchone()[0] for each in ("page_count", "page_size")
    )
    if pages * of_bytes > CHECKED_BYTES:
        return
    found = connection.execute("PRAGMA integrity_check(1)").fetchone()[0]
    if found != "ok":
        raise damaged(path, found)


def emptied(path: Path) -> bool:
    """Return whether a file stands there without a byte, and not because it is being made."""
    try:
        found = path.stat()
    except FileNotFoundError:
        return False
    return found.st_size == 0 and SystemClock().now_ms() - found.st_mtime * 1000 > _BEING_MADE_MS


def set_aside(path: Path) -> Path:
    """Rename a damaged file, and its write-ahead log, to a name with the date; return it.

    Raises
    ------
    StoreError
        If the folder cannot be written.
    """
    aside = _free_name(path)
    with _renaming(path):
        _move_log(path, aside)  # first: to a new file of the old name it would be poison
        path.rename(aside)
    return aside


def named_aside(path: Path) -> Path:
    """Give a damaged file a second name with the date, its write-ahead log that name only.

    Raises
    ------
    StoreError
        If the folder cannot be written.
    """
    aside = _free_name(path)
    with _renaming(path):
        os.link(path, aside)
        _move_log(path, aside)
    return aside


def _free_name(path: Path) -> Path:
    when = datetime.fromtimestamp(SystemClock().now_ms() / 1000, UTC)
    stem = f"{path.stem}-damaged-{when:%Y%m%dT%H%M%SZ}"
    aside = path.with_name(f"{stem}{path.suffix}")
    number = 1
    while aside.exists():
        number += 1
        aside = path.with_name(f"{stem}-{number}{path.suffix}")
    return aside


def _move_log(path: Path, aside: Path) -> None:
    _beside(path, "-shm").unlink(missing_ok=True)
    if _beside(path, "-wal").exists():
        _beside(path, "-wal").rename(_beside(aside, "-wal"))


@contextmanager
def _renaming(path: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        message = f"{path} is damaged and cannot be renamed: {error.strerror}; move it by hand"
        raise StoreError(message) from error


def keep_whole_pages(aside: Path, page_bytes: int = 4_096) -> None:
    """Cut the part of a page off the end of a file that was set aside; it is kept beside it.

    SQLite would read zeros in the place of what is missing there, and so values nobody wrote.
    """
    over = aside.stat().st_size % page_bytes
    if not over:
        return
    with aside.open("r+b") as file:
        file.seek(-over, 2)
        beside = _beside(aside, ".tail")
        beside.touch(mode=0o600)
        beside.write_bytes(file.read())
        file.truncate(aside.stat().st_size - over)


def _beside(path: Path, suffix: str) -> Path:
    return path.with_name(path.name + suffix)
