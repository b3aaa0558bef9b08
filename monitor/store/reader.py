"""Reading the readings file: a connection of one's own, and short transactions."""

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

import numpy as np

from monitor.model import Channel, Flag, Quantity, Reading, Refusal
from monitor.store import drawing
from monitor.store.coding import decode, decode_one, decode_short
from monitor.store.connection import (
    CACHE_KIB,
    DamagedError,
    connect_reader,
    data_version,
    explained,
    file_id,
)
from monitor.store.migrating import require
from monitor.store.records import (
    Conflict,
    Drawn,
    Gap,
    Ints,
    RefusalCount,
    Series,
    Summaries,
    UnclaimedTopic,
    Width,
)
from monitor.store.summing import MILLIONTHS, TABLES
from monitor.store.thinned import is_thinned, restored, within
from monitor.store.window import KEPT, unpacked

PAGE: Final = 50_000
"""Rows fetched in one short transaction, so that no export holds the write-ahead log."""
LAST: Final = 2**62
"""A time after all others. [ms]"""
_AROUND: Final = 3
"""Rows looked at on either side of a span: one that was thinned, and odd ones beside it."""
_FLAG_BITS: Final = 16
_TIMED: Final = "group_concat(timed)"
_SHORT: Final = "group_concat(CASE typeof(raw) WHEN 'integer' THEN raw END)"
"""A column comes as one text, time and flags in one number: half the time of rows."""
_FURTHEST_MS: Final = 1 << 44
"""Times are told from no later on: with the flags they have 63 bits. The year 2527. [ms]"""
_SET_ASIDE: Final = int(Flag.SUSPECT | Flag.TIME_UNCERTAIN)


class ReadingReader:
    """Reads ``readings.db`` from one thread; make one for each.

    Times ``since_ms`` are inside a span, ``until_ms`` are not. A channel that has never
    been heard gives empty answers.
    """

    def __init__(self, path: Path, on_damage: Callable[[str], None] | None = None) -> None:
        self.path = path
        self._on_damage = on_damage
        self._connection: sqlite3.Connection | None = None
        self._file: tuple[int, int] | None = None
        self._numbers: dict[Channel, int] = {}

    def channels(self) -> list[Channel]:
        """Return every channel that has been heard."""
        with self._reading() as connection:
            rows = connection.execute("SELECT sensor, quantity FROM channels ORDER BY id")
            return [Channel(sensor, Quantity(quantity)) for sensor, quantity in rows.fetchall()]

    def series(
        self, channel: Channel, since_ms: int, until_ms: int = LAST, page: int = PAGE
    ) -> Series:
        """Return a channel's readings in a span of time; thinned ones are told by the minute."""
        parts, start_ms = list[Series](), since_ms
        while not parts or len(parts[-1].at_ms) == page:
            parts.append(self.page(channel, start_ms, until_ms, page))
            start_ms = int(parts[-1].at_ms[-1]) + 1 if len(parts[-1].at_ms) else until_ms
        found = parts[0] if len(parts) == 1 else _joined(parts)
        before = self.series_before(channel, since_ms, _AROUND) if since_ms > 0 else found
        if not (is_thinned(found) or is_thinned(before)):
            return found
        after = self.page(channel, until_ms, LAST, _AROUND)
        around = [before, found, after] if since_ms > 0 else [found, after]
        return within(restored(_joined(around)), since_ms, until_ms)

    def page(self, channel: Channel, since_ms: int, until_ms: int, rows: int) -> Series:
        """Return at most so many of a channel's first readings in a span of time."""
        return self._series(
            channel, since_ms, "at_ms >= ? AND at_ms < ? ORDER BY at_ms LIMIT ?",
            since_ms, until_ms, rows,
        )  # fmt: skip

    def series_before(self, channel: Channel, at_ms: int, n: int) -> Series:
        """Return the last ``n`` readings before a time, in order of time."""
        return self._series(channel, at_ms, "at_ms < ? ORDER BY at_ms DESC LIMIT ?", at_ms, n)

    def newest(self) -> dict[Channel, Reading]:
        """Return the reading with the newest time of each channel."""
        with self._reading() as connection:
            rows = connection.execute(
                "SELECT sensor, quantity, at_ms, raw, flags, received_ms FROM channels"
                " WHERE at_ms IS NOT NULL"
            ).fetchall()
        found = (
            Reading(Channel(sensor, Quantity(what)), at_ms, decode_one(raw), Flag(flags), heard_ms)
            for sensor, what, at_ms, raw, flags, heard_ms in rows
        )
        return {each.channel: each for each in found}

    def first_at(self, channel: Channel) -> int | None:
        """Return the time of a channel's first reading, or None. [ms]"""
        with self._reading() as connection:
            at_ms: int | None = connection.execute(
                "SELECT min(at_ms) FROM readings WHERE channel = ?", (self._number(channel),)
            ).fetchone()[0]
        return at_ms

    def summaries(
        self, channel: Channel, since_ms: int, until_ms: int, width: Width = Width.HOUR
    ) -> Summaries:
        """Return the summaries whose hour (or 8 hours) touches a span of time."""
        first, last = since_ms // width.value, (until_ms - 1) // width.value
        with self._reading() as connection:
            rows = connection.execute(
                f"SELECT bucket, n, suspect, total, low, high FROM {TABLES[width]}"
                " WHERE channel = ? AND bucket >= ? AND bucket <= ? ORDER BY bucket",
                (self._number(channel), first, last),
            ).fetchall()
        table = np.array(rows, dtype=np.float64).reshape(-1, 6)
        whole = table[:, :3].astype(np.int64)
        mean = table[:, 3] / MILLIONTHS / np.maximum(table[:, 1], 1)
        start_ms = whole[:, 0] * width.value
        return Summaries(start_ms, whole[:, 1], whole[:, 2], mean, table[:, 4], table[:, 5])

    def drawn(self, channel: Channel, since_ms: int, until_ms: int, points: int) -> Drawn:
        """Return what a chart of about so many points draws (at most half as many more).

        It comes from the readings, the hourly or the 8-hourly summaries, whichever is
        the finest that a span needs. Values are raw: a calibration applies to low, high
        and mean alike.
        """
        width = drawing.summary_for(since_ms, until_ms, points)
        if width is None:
            series = self.series(channel, since_ms, until_ms)
            return drawing.from_series(series, since_ms, until_ms, points)
        rows = self.summaries(channel, since_ms, until_ms, width)
        return drawing.from_summaries(rows, width, until_ms - since_ms, points)

    def counted(self, since_ms: int) -> int:
        """Return how many readings were kept from about a time on, by the 8-hourly summaries."""
        with self._reading() as connection:
            connection.execute("PRAGMA cache_size = -200")  # it reads much, and none of it again
            n: int | None = connection.execute(
                f"SELECT sum(n) FROM {TABLES[Width.EIGHT_HOURS]} WHERE bucket >= ?",
                (since_ms // Width.EIGHT_HOURS.value,),
            ).fetchone()[0]
            connection.execute(f"PRAGMA cache_size = -{CACHE_KIB}")
        return n or 0

    def last_between(
        self, channel: Channel, before_ms: int, *, above: float, below: float, since_ms: int = 0
    ) -> int | None:
        """Return the time of the last believed reading with ``above < raw < below``. [ms]

        Believed: neither suspect nor of uncertain time. Hours whose extremes rule it out
        are passed over unread, so months of a value outside cost little. An excursion
        that still runs began after this time; None: it has been out since ``since_ms``.
        """
        hour_ms = Width.HOUR.value
        bucket = (before_ms - 1) // hour_ms + 1
        while True:
            found = self._hour_between(channel, bucket, above, below)
            if found is None or (found + 1) * hour_ms <= since_ms:
                return None
            bucket = found
            start_ms, end_ms = max(bucket * hour_ms, since_ms), (bucket + 1) * hour_ms
            series = self.series(channel, start_ms, min(end_ms, before_ms))
            fits = (series.raw > above) & (series.raw < below)
            at = np.flatnonzero(fits & ((series.flags & _SET_ASIDE) == 0))
            if len(at):
                return int(series.at_ms[at[-1]])

    def heard(self) -> dict[str, int]:
        """Return when each sensor was last heard. [ms]"""
        with self._reading() as connection:
            return dict(connection.execute("SELECT sensor, received_ms FROM heard").fetchall())

    def window(self) -> list[tuple[int, int]]:
        """Return the recently committed (message id, checksum) pairs, oldest first."""
        with self._reading() as connection:
            rows = connection.execute("SELECT pairs FROM recent_messages ORDER BY id").fetchall()
        return unpacked(rows)[-KEPT:]

    def refusals(self, limit: int = 100) -> list[Refusal]:
        """Return the newest refusals, newest first."""
        with self._reading() as connection:
            rows = connection.execute(
                "SELECT received_ms, topic, sensor, quantity, reason, detail, payload"
                " FROM refusals ORDER BY id DESC LIMIT ?", (limit,)
            ).fetchall()  # fmt: skip
        return [
            Refusal(at_ms, topic, sensor, Quantity(what) if what else None, why, detail, payload)
            for at_ms, topic, sensor, what, why, detail, payload in rows
        ]

    def refusal_counts(self) -> list[RefusalCount]:
        """Return how often each reason was met, per sensor, latest first."""
        with self._reading() as connection:
            rows = connection.execute(
                "SELECT sensor, reason, n, last_ms FROM refusal_counts ORDER BY last_ms DESC"
            ).fetchall()
        return [RefusalCount(*row) for row in rows]

    def unclaimed(self) -> list[UnclaimedTopic]:
        """Return the topics no sensor claims, latest first."""
        with self._reading() as connection:
            rows = connection.execute("SELECT * FROM unclaimed ORDER BY last_ms DESC").fetchall()
        return [UnclaimedTopic(*row) for row in rows]

    def conflicts(self, limit: int = 100) -> list[Conflict]:
        """Return the newest sample times that came with two values, newest first."""
        with self._reading() as connection:
            rows = connection.execute(
                "SELECT sensor, quantity, c.at_ms, kept, refused, c.received_ms FROM conflicts c"
                " JOIN channels ON channels.id = c.channel ORDER BY c.id DESC LIMIT ?", (limit,)
            ).fetchall()  # fmt: skip
        return [Conflict(Channel(one, Quantity(two)), *row) for one, two, *row in rows]

    def gaps(self, since_ms: int = 0) -> list[Gap]:
        """Return the spans in which readings were heard but not kept."""
        with self._reading() as connection:
            rows = connection.execute(
                "SELECT from_ms, to_ms, why, n FROM gaps WHERE to_ms >= ? ORDER BY id", (since_ms,)
            ).fetchall()
        return [Gap(*row) for row in rows]

    def data_version(self) -> int:
        """Return a number that changes when the file has been written."""
        with self._reading() as connection:
            return data_version(connection)

    def close(self) -> None:
        """Close the connection."""
        if self._connection is not None:
            self._connection.close()
            self._connection = None

    @contextmanager
    def _reading(self) -> Iterator[sqlite3.Connection]:
        """Give the connection; a file that was set aside is left for the new one."""
        try:
            with explained(self.path):
                yield self._current()
        except DamagedError as error:
            self._file = None
            if self._on_damage is not None:
                self._on_damage(str(error))
            raise

    def _current(self) -> sqlite3.Connection:
        file = file_id(self.path)
        if self._connection is None or file != self._file:
            self.close()
            connection = connect_reader(self.path)
            try:
                require(connection, "readings", self.path)
            except BaseException:
                connection.close()
                raise
            self._connection, self._file, self._numbers = connection, file, {}
        return self._connection

    def _number(self, channel: Channel) -> int:
        """Return a channel's number, 0 where it has never been heard."""
        if channel not in self._numbers:
            with self._reading() as connection:
                row = connection.execute(
                    "SELECT id FROM channels WHERE sensor = ? AND quantity = ?", channel
                ).fetchone()
            if row is None:
                return 0
            self._numbers[channel] = row[0]
        return self._numbers[channel]

    def _series(self, channel: Channel, base_ms: int, condition: str, *values: int) -> Series:
        """Return the rows that fit, in order of time; times come as told from ``base_ms`` on."""
        base_ms = min(max(base_ms, 0), _FURTHEST_MS)
        asked = (base_ms, self._number(channel), *values)
        rows = (
            f"(SELECT at_ms - ? << {_FLAG_BITS} | flags AS timed, raw FROM readings"
            f" WHERE channel = ? AND {condition})"
        )
        with self._reading() as connection:
            found = connection.execute(f"SELECT {_TIMED}, {_SHORT} FROM {rows}", asked).fetchone()
            timed, short = (_numbers(each) for each in found)
            if len(timed) == len(short):
                raw = decode_short(short)
            else:  # some value has no short form
                plain = connection.execute(f"SELECT timed, raw FROM {rows}", asked).fetchall()
                columns = list(zip(*plain, strict=True))
                timed, raw = np.array(columns[0], np.int64), decode(columns[1])
        order = np.argsort(timed, kind="stable")  # nearly free where they are in order
        timed, raw = timed[order], raw[order]
        return Series((timed >> _FLAG_BITS) + base_ms, raw, timed & (1 << _FLAG_BITS) - 1)

    def _hour_between(
        self, channel: Channel, before: int, above: float, below: float
    ) -> int | None:
        with self._reading() as connection:
            row = connection.execute(
                "SELECT bucket FROM hourly WHERE channel = ? AND bucket < ? AND high > ?"
                " AND low < ? ORDER BY bucket DESC LIMIT 1",
                (self._number(channel), before, above, below),
            ).fetchone()
        return None if row is None else int(row[0])


def _numbers(text: str | None) -> Ints:
    return np.fromstring(text or "", np.int64, sep=",")


def _joined(parts: list[Series]) -> Series:
    return Series(
        np.concatenate([part.at_ms for part in parts]),
        np.concatenate([part.raw for part in parts]),
        np.concatenate([part.flags for part in parts]),
    )
