"""Saving what a damaged readings file still holds: newest first, around what is lost."""

import contextlib
import sqlite3
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from monitor.clock import monotonic_s
from monitor.model import Channel, Flag, Quantity, Reading
from monitor.store.coding import decode
from monitor.store.connection import connect_writer
from monitor.store.damage import HEADER, keep_whole_pages
from monitor.store.migrating import migrate
from monitor.store.window import unpacked, whole

SLICE_MS: Final = 86_400_000
LEAST_MS: Final = 900_000
"""What cannot be read in one go is halved down to this, then given up."""
MANY_CHANNELS: Final = 2_000
_KNOWN_FLAGS: Final = 0xFFFF
_SAVING: Final = ".saving"
"""A marker beside the file says that it is not finished, also to the next run."""
_PAGE_AT: Final = slice(16, 18)
_COUNT_AT: Final = slice(28, 32)
_UNREADABLE: Final = (sqlite3.Error, UnicodeDecodeError)
"""SQLite quotes a damaged name, which may be no UTF-8."""
_ROWS: Final = """
SELECT at_ms, raw, flags FROM readings
WHERE channel = ? AND at_ms >= ? AND at_ms < ? AND typeof(at_ms) = 'integer'
AND typeof(raw) IN ('integer', 'real') AND typeof(flags) = 'integer' ORDER BY at_ms
"""


class Salvage:
    """Reads a file that was set aside, a day of a channel at a time."""

    def __init__(self, aside: Path) -> None:
        self._aside = aside
        self._saved = 0
        self._lost = 0
        self._connection: sqlite3.Connection | None = None
        self._finished = False
        _marker(aside).touch(mode=0o600)
        try:
            keep_whole_pages(aside)
            self._channels = self._opened()
        except (*_UNREADABLE, OSError):
            self._channels = {}
        self._slices = self._all_slices()

    def parts(self, budget_s: float) -> Iterator[list[Reading]]:
        """Yield readings, newest days first, until the time [s] is used up or all is read."""
        deadline_s = monotonic_s() + budget_s
        while monotonic_s() < deadline_s:
            found = next(self._slices, None)
            if found is None:
                self._finished = True
                _marker(self._aside).unlink(missing_ok=True)
                return
            if found:
                self._saved += len(found)
                yield found

    def heard(self) -> dict[str, int]:
        """Return when each sensor was last heard, as far as it can be read. [ms]"""
        rows = self._few("SELECT sensor, received_ms FROM heard")
        return {
            sensor: at_ms
            for sensor, at_ms in rows
            if isinstance(sensor, str) and isinstance(at_ms, int)
        }

    def window(self) -> list[tuple[int, int]]:
        """Return the recently committed messages, as far as they can be read."""
        rows = self._few("SELECT pairs FROM recent_messages ORDER BY id")
        return unpacked([(pairs,) for (pairs,) in rows if whole(pairs)])

    def told(self) -> str | None:
        """Return what came of it, or None while it is not finished."""
        if not self._finished:
            return None
        lost = f"; {self._lost} stretches could not be read" if self._lost else ""
        kept = "keep that file, or delete it once you miss nothing"
        return f"{self._saved:,} readings were saved from {self._aside.name}{lost}; {kept}"

    def close(self) -> None:
        """Let go of the file."""
        if self._connection is not None:
            with contextlib.suppress(*_UNREADABLE):
                self._connection.close()

    def _opened(self) -> dict[int, Channel]:
        try:
            return self._look()
        except _UNREADABLE:
            self.close()
            _give_first_page(self._aside)
            return self._look()

    def _look(self) -> dict[int, Channel]:
        self._connection = sqlite3.connect(
            self._aside, isolation_level=None, check_same_thread=False
        )
        # Lets SQLite read a file that is shorter than its header says.
        self._connection.execute("PRAGMA writable_schema = ON")
        self._connection.execute("SELECT count(*) FROM sqlite_master").fetchone()
        named: dict[int, Channel] = {}
        for number in range(1, MANY_CHANNELS):
            with contextlib.suppress(*_UNREADABLE, ValueError):
                row = self._connection.execute(
                    "SELECT sensor, quantity FROM channels WHERE id = ?", (number,)
                ).fetchone()
                if row is not None:
                    named[number] = Channel(row[0], Quantity(row[1]))
        return named

    def _few(self, query: str) -> list[tuple[object, ...]]:
        rows: list[tuple[object, ...]] = []
        if self._connection is not None:
            with contextlib.suppress(*_UNREADABLE):
                rows.extend(self._connection.execute(query))
        return rows

    def _all_slices(self) -> Iterator[list[Reading]]:
        ends = {number: self._ends(number) for number in self._channels}
        days = sorted(
            (
                (day, number)
                for number, (first, last) in ends.items()
                for day in range(first // SLICE_MS, last // SLICE_MS + 1)
            ),
            reverse=True,
        )
        for day, number in days:
            yield self._slice(number, day * SLICE_MS, (day + 1) * SLICE_MS)

    def _ends(self, number: int) -> tuple[int, int]:
        """Return the first and last time of a channel that the summaries tell of. [ms]"""
        ask = "SELECT {}(bucket) FROM {} WHERE channel = ?"
        widths = {"eight_hourly": 28_800_000, "hourly": 3_600_000}
        found: list[int] = []
        for table, width_ms in widths.items():
            for side, more in (("min", 0), ("max", 1)):
                with contextlib.suppress(*_UNREADABLE):
                    bucket = self._row(ask.format(side, table), number)
                    if isinstance(bucket, int):
                        found.append((bucket + more) * width_ms)
        for side in ("min", "max"):
            with contextlib.suppress(*_UNREADABLE):
                at_ms = self._row(f"SELECT {side}(at_ms) FROM readings WHERE channel = ?", number)
                if isinstance(at_ms, int):
                    found.append(at_ms)
        return (min(found), max(found)) if found else (0, -1)

    def _row(self, query: str, number: int) -> object:
        if self._connection is None:
            return None
        return self._connection.execute(query, (number,)).fetchone()[0]

    def _slice(self, number: int, since_ms: int, until_ms: int) -> list[Reading]:
        if self._connection is None:
            return []
        try:
            rows = self._connection.execute(_ROWS, (number, since_ms, until_ms)).fetchall()
        except _UNREADABLE:
            if until_ms - since_ms <= LEAST_MS:
                self._lost += 1
                return []
            middle_ms = (since_ms + until_ms) // 2
            late = self._slice(number, middle_ms, until_ms)
            return self._slice(number, since_ms, middle_ms) + late
        channel = self._channels[number]
        values = decode([row[1] for row in rows]).tolist()
        return [
            Reading(channel, at_ms, value, Flag(flags & _KNOWN_FLAGS), at_ms)
            for (at_ms, _, flags), value in zip(rows, values, strict=True)
        ]


def unfinished(path: Path) -> Salvage | None:
    """Return the saving of a damaged file that is not finished, from this run or an earlier."""
    for marker in sorted(path.parent.glob(f"{path.stem}-damaged-*{path.suffix}{_SAVING}")):
        aside = marker.with_suffix("")
        if aside.exists():
            return Salvage(aside)
        marker.unlink()
    return None


def _marker(aside: Path) -> Path:
    return aside.with_name(aside.name + _SAVING)


def _give_first_page(aside: Path) -> None:
    """Give a file whose first page is lost that of a new file: tables begin where they did.

    The lost page stays beside it, as ``….page1``.
    """
    with tempfile.TemporaryDirectory() as folder:
        fresh = Path(folder) / "fresh.db"
        connection = connect_writer(fresh)
        migrate(connection, "readings", fresh)
        connection.close()
        whole = fresh.read_bytes()
    size = int.from_bytes(whole[_PAGE_AT], "big")
    page = bytearray(whole[:size])
    page[_COUNT_AT] = (aside.stat().st_size // size).to_bytes(4, "big")
    with aside.open("r+b") as file:
        lost = file.read(size)
        if lost.startswith(HEADER) and len(lost) == size and lost[100] in (5, 13):
            return
        beside = aside.with_name(aside.name + ".page1")
        beside.touch(mode=0o600)
        beside.write_bytes(lost)
        file.seek(0)
        file.write(page)
