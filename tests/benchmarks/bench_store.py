"""Bytes a reading, readings a second, and times to read, beside plain SQLite tables.

Run from the top of the checkout: ``python -m tests.benchmarks.bench_store [--year]``.
The reference is what a first attempt would be: a rowid table with an index on channel
and time, values as REAL, no summaries, the same commits with the same durability.
"""

import argparse
import sqlite3
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from monitor.model import Channel, Flag, Quantity, Reading
from monitor.store import Commit, ReadingReader, ReadingStore
from monitor.units import TemperatureUnit, to_celsius
from tests.benchmarks.table import Row

T0_MS = 1_790_000_000_000
MINUTE_MS = 60_000
DAY_MS = 86_400_000
BYTES = 28
DRAWN_MS = 60
Values = Callable[[np.random.Generator, int], Sequence[float]]


def celsius(dice: np.random.Generator, n: int) -> Sequence[float]:
    """Return two-decimal values in °C."""
    values: list[float] = np.round(dice.uniform(1.0, 6.0, n), 2).tolist()
    return values


def fahrenheit(dice: np.random.Generator, n: int) -> Sequence[float]:
    """Return two-decimal °F as they stand inside, in °C: 39.4 °F is 4.111111111111110."""
    values = np.round(dice.uniform(34.0, 43.0, n), 2).tolist()
    return [to_celsius(each, TemperatureUnit.FAHRENHEIT) for each in values]


def humidity(dice: np.random.Generator, n: int) -> Sequence[float]:
    """Return two-decimal values in %."""
    values: list[float] = np.round(dice.uniform(80.0, 99.0, n), 2).tolist()
    return values


def doubles(dice: np.random.Generator, n: int) -> Sequence[float]:
    """Return values with all their bits: no short form fits."""
    values: list[float] = dice.uniform(1.0, 6.0, n).tolist()
    return values


class Plain:
    """The reference: rows with an index, nothing else."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._connection = sqlite3.connect(path, isolation_level=None)
        self._connection.execute("PRAGMA journal_mode = WAL")
        self._connection.execute("PRAGMA synchronous = FULL")
        self._connection.execute(
            "CREATE TABLE readings (channel INTEGER, at_ms INTEGER, raw REAL, flags INTEGER)"
        )
        self._connection.execute("CREATE INDEX by_time ON readings (channel, at_ms)")
        self._numbers: dict[Channel, int] = {}

    def commit(self, readings: Sequence[Reading]) -> None:
        """Write some readings in one durable transaction."""
        numbers = self._numbers
        rows = [
            (numbers.setdefault(each.channel, len(numbers)), each.at_ms, each.raw, int(each.flags))
            for each in readings
        ]
        self._connection.execute("BEGIN IMMEDIATE")
        self._connection.executemany("INSERT INTO readings VALUES (?, ?, ?, ?)", rows)
        self._connection.execute("COMMIT")

    def close(self) -> None:
        """Close the file."""
        self._connection.close()


def rounds(values: Values, sensors: int, steps: int, step_ms: int) -> list[list[Reading]]:
    """Return interleaved readings, one of every sensor a round."""
    dice = np.random.default_rng(7)
    names = [Channel(f"sensor-{k}", Quantity.TEMPERATURE) for k in range(sensors)]
    return [
        [
            Reading(name, at_ms + 37 * k, value, Flag.NONE, at_ms)
            for k, (name, value) in enumerate(zip(names, values(dice, sensors), strict=True))
        ]
        for at_ms in range(T0_MS, T0_MS + steps * step_ms, step_ms)
    ]


def bytes_a_reading(folder: Path, values: Values, sensors: int, days: int) -> tuple[float, float]:
    """Return bytes a reading, ours and plain: one a minute, five minutes to a commit."""
    work = rounds(values, sensors, days * 1440, MINUTE_MS)
    n = sum(len(each) for each in work)
    store, plain = ReadingStore.open(folder / "ours.db"), Plain(folder / "plain.db")
    for at in range(0, len(work), 5):
        part = [each for step in work[at : at + 5] for each in step]
        store.commit(Commit(readings=part))
        plain.commit(part)
    store.close()
    plain.close()
    ours, theirs = (path.stat().st_size / n for path in (store.path, plain.path))
    for path in (store.path, plain.path):
        path.unlink()
    return ours, theirs


def size(folder: Path, values: Values, sensors: int, days: int) -> None:
    """Print bytes a reading."""
    ours, theirs = bytes_a_reading(folder, values, sensors, days)
    name = f"{values.__name__}, {sensors} channels, {days} d"
    print(f"bytes a reading    {name:34} {ours:10.1f}   plain {theirs:8.1f}")


def speed(folder: Path, messages: int, commits: int) -> None:
    """Print readings a second for commits of two-channel messages, fsync included."""
    work = rounds(celsius, 100, commits * messages // 100, MINUTE_MS)
    store, plain = ReadingStore.open(folder / "ours.db"), Plain(folder / "plain.db")
    took = {"ours": 0.0, "plain": 0.0}
    for at in range(commits):
        first = [each for step in work[at * messages // 100 :][: messages // 100] for each in step]
        other = [
            replace(each, channel=Channel(each.channel.sensor, Quantity.HUMIDITY)) for each in first
        ]
        both = [reading for pair in zip(first, other, strict=True) for reading in pair]
        heard = {each.channel.sensor: each.at_ms for each in first}
        window = [(k, k * 7_919) for k in range(messages)]
        begin_s = time.perf_counter()
        store.commit(Commit(readings=both, heard=heard, window=window))
        took["ours"] += time.perf_counter() - begin_s
        begin_s = time.perf_counter()
        plain.commit(both)
        took["plain"] += time.perf_counter() - begin_s
    store.close()
    plain.close()
    n = commits * messages * 2
    name = f"commits of {messages:,} messages x 2"
    print(
        f"readings/s         {name:34} {n / took['ours']:10,.0f}   plain {n / took['plain']:8,.0f}"
    )
    for path in (store.path, plain.path):
        path.unlink()


def small_commits(folder: Path, commits: int) -> None:
    """Print the time of a commit of one message, fsync included."""
    store = ReadingStore.open(folder / "ours.db")
    work = rounds(celsius, 50, -(-commits // 50), MINUTE_MS)
    flat = [each for step in work for each in step]
    begin_s = time.perf_counter()
    for number, each in enumerate(flat):
        heard = {each.channel.sensor: each.at_ms}
        store.commit(Commit(readings=[each], heard=heard, window=[(number, number)]))
    spent_s = time.perf_counter() - begin_s
    store.close()
    store.path.unlink()
    print(f"ms a commit        {'one message':34} {spent_s / len(flat) * 1000:10.2f}")


def best_ms(action: Callable[[], object]) -> float:
    """Return the best of five runs. [ms]"""
    spent = []
    for _ in range(5):
        begin_s = time.perf_counter()
        action()
        spent.append(time.perf_counter() - begin_s)
    return min(spent) * 1000


def drawn(folder: Path, step_ms: int) -> tuple[float, float]:
    """Return the time to draw a year of 20 channels, ours and SQL over every reading. [ms]"""
    store = ReadingStore.open(folder / "ours.db")
    per_commit = 500
    steps = 365 * DAY_MS // step_ms
    for at in range(0, steps, per_commit):
        work = rounds(celsius, 20, min(per_commit, steps - at), step_ms)
        moved = [replace(each, at_ms=each.at_ms + at * step_ms) for step in work for each in step]
        store.commit(Commit(readings=moved))
    reader = store.reader()
    channels = reader.channels()
    until_ms = T0_MS + 365 * DAY_MS
    ours = best_ms(lambda: [reader.drawn(each, T0_MS, until_ms, 1_000) for each in channels])
    reader.close()
    store.close()
    return ours, _by_sql(store.path, until_ms)


def reading(folder: Path, step_ms: int) -> None:
    """Print the time to draw a year of 20 channels, beside SQL over every reading."""
    ours, sql = drawn(folder, step_ms)
    name = f"a year, 20 channels, every {step_ms // 1000} s"
    print(f"ms to draw         {name:34} {ours:10.1f}   SQL {sql:10.1f}")
    _fortnight(folder)
    size_mb = (folder / "ours.db").stat().st_size / 1e6
    print(f"MB on disk         {name:34} {size_mb:10.1f}")


def measured(sensors: int, days: int, step_ms: int) -> list[Row]:
    """Return the rows of a store: bytes of so many days, and a year drawn. [ms]"""
    with tempfile.TemporaryDirectory(prefix="bench-store-") as name:
        folder = Path(name)
        ours, plain = bytes_a_reading(folder, fahrenheit, sensors, days)
        ours_ms, sql_ms = drawn(folder, step_ms)
    minutes = step_ms // MINUTE_MS
    return [
        Row(
            f"disk, {sensors} channels, {days} d of minutes, two-decimal °F",
            f"<= {BYTES} bytes a reading",
            f"{ours:.1f} bytes, summaries included",
            f"plain rows with an index: {plain:.1f}",
            ours <= BYTES,
        ),
        Row(
            f"a year, 20 channels, every {minutes} min, 1000 points each",
            f"<= {DRAWN_MS} ms",
            f"{ours_ms:.0f} ms (best of 5)",
            f"SQL over every reading: {sql_ms:,.0f} ms",
            ours_ms <= DRAWN_MS,
        ),
    ]


def _by_sql(path: Path, until_ms: int) -> float:
    """Return the time of one grouped query over all readings. [ms]"""
    connection = sqlite3.connect(path)
    width_ms = (until_ms - T0_MS) // 1_000
    begin_s = time.perf_counter()
    connection.execute(
        "SELECT channel, at_ms / ?, min(raw), max(raw), avg(raw) FROM readings GROUP BY 1, 2",
        (width_ms,),
    ).fetchall()
    spent_ms = (time.perf_counter() - begin_s) * 1000
    connection.close()
    return spent_ms


def _fortnight(folder: Path) -> None:
    store = ReadingStore.open(folder / "fortnight.db")
    for values in (celsius, doubles):
        work = [each for step in rounds(values, 1, 20_160, MINUTE_MS) for each in step]
        name = Channel(values.__name__, Quantity.TEMPERATURE)
        store.commit(Commit(readings=[replace(each, channel=name) for each in work]))
        reader: ReadingReader = store.reader()
        spent = best_ms(lambda name=name, reader=reader: reader.series(name, 0))  # type: ignore[misc]
        print(f"ms to fetch        {'14 d of minutes, ' + values.__name__:34} {spent:10.1f}")
    store.close()


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--year", action="store_true", help="draw 10.5 million readings (minutes)")
    args = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="bench-store-") as name:
        folder = Path(name)
        for values in (celsius, fahrenheit, humidity, doubles):
            size(folder, values, 100, 4)
        size(folder, celsius, 20, 18)
        speed(folder, 2_000, 30)
        small_commits(folder, 500)
        reading(folder, MINUTE_MS if args.year else 10 * MINUTE_MS)


if __name__ == "__main__":
    main()
