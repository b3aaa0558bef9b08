"""How far one small computer goes: file, start, memory, pages and processor by channels and years.

Run as ``python -m tests.benchmarks.bench_scale [20x1 20x5 100x1 ...] [--seconds N]``: channels
times years of one-minute history. A day is written through the store's own commits; the days
before it are the same rows again, a day of every channel in turn, which leaves the file's pages
as commits do. The daemon is the real one in a process of its own, its broker a real mosquitto;
every sensor has two channels and speaks every thirty seconds, and a large farm's places have
about twenty sensors each. Times are the daemon's own processor time, which other programs on
the machine lengthen little, and in brackets by the clock, which they lengthen much.
"""

import argparse
import sqlite3
import sys
import tempfile
import time
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from tests.benchmarks import made_farm, running
from tests.benchmarks.speaking import Speaking
from tests.benchmarks.table import machine
from tests.system.brokers import Mosquitto

SIZES: Final = ("20x1", "20x5", "100x1", "100x5", "1000x0.01")
_TIMES: Final = 10
DAYS_A_YEAR: Final = 365.25
_COLUMNS: Final = (
    "channels", "years", "readings", "file", "bytes a reading", "start to ready",
    "memory", "first page", "place page", "a year drawn, one place",
    "one core carries",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Spent:
    """What something took: processor time of the daemon, and time by the clock. [s]"""

    processor_s: float
    wall_s: float

    def __str__(self) -> str:
        if self.processor_s >= 1:
            return f"{self.processor_s:.1f} s ({self.wall_s:.1f})"
        return f"{self.processor_s * 1000:.0f} ms ({self.wall_s * 1000:.0f})"


@dataclass(frozen=True, slots=True)
class Measured:
    """One line of the table."""

    channels: int
    years: float
    readings: int
    size: int
    start: "Spent"
    memory_mb: float
    pages: tuple["Spent", ...]
    share_pct: float
    filled_s: float

    def cells(self) -> tuple[str, ...]:
        """Return the line as texts."""
        first, place, drawn = (str(each) for each in self.pages)
        carries = self.channels * 100 / self.share_pct if self.share_pct else 0
        return (
            f"{self.channels:,}", f"{self.years:g}", f"{self.readings / 1e6:.1f} M",
            f"{self.size / 1e9:.2f} GB", f"{self.size / max(self.readings, 1):.1f}",
            str(self.start), f"{self.memory_mb:.0f} MB", first,
            place, drawn,
            f"{carries:,.0f} channels ({self.share_pct:.1f} %)",
        )  # fmt: skip


def repeat(path: Path, days: int, now_ms: int) -> None:
    """Write the day that a file holds again for each of the days before it, the oldest first."""
    day_ms = made_farm.DAY_MS
    begin_ms = now_ms - day_ms
    with closing(sqlite3.connect(path, isolation_level=None)) as file:
        file.execute("PRAGMA synchronous = OFF")
        file.execute("PRAGMA cache_size = -200000")
        ids = [each for (each,) in file.execute("SELECT id FROM channels ORDER BY id")]
        _keep_day(file, begin_ms)
        for back in range(days - 1, 0, -1):
            file.execute("BEGIN")
            for number in ids:
                file.execute(
                    "INSERT INTO readings SELECT channel, at_ms - ?, raw, flags FROM day"
                    " WHERE channel = ?", (back * day_ms, number)
                )  # fmt: skip
            for table, width_h in (("hourly", 1), ("eight_hourly", 8)):
                file.execute(
                    f"INSERT OR IGNORE INTO {table} SELECT channel, bucket - ?, n, suspect, total,"
                    f" low, high FROM day_{table}", (back * 24 // width_h,)
                )  # fmt: skip
            file.execute("COMMIT")
        file.execute("INSERT INTO readings SELECT * FROM day")
        file.execute("PRAGMA wal_checkpoint(TRUNCATE)")


def _keep_day(file: sqlite3.Connection, begin_ms: int) -> None:
    """Move the day aside: the days before it are written first, as they would have been."""
    file.execute("PRAGMA temp_store = MEMORY")
    file.execute("CREATE TEMP TABLE day AS SELECT * FROM readings ORDER BY channel, at_ms")
    file.execute("CREATE INDEX temp.day_of ON day (channel, at_ms)")
    for table, width_ms in (("hourly", 3_600_000), ("eight_hourly", 28_800_000)):
        file.execute(
            f"CREATE TEMP TABLE day_{table} AS SELECT * FROM {table} WHERE bucket >= ?",
            (begin_ms // width_ms,),
        )
    file.execute("DELETE FROM readings")


def measured(channels: int, years: float, seconds: float) -> Measured:
    """Fill a farm, start its daemon, and look at it while its sensors speak."""
    days = max(round(years * DAYS_A_YEAR), 1)
    with tempfile.TemporaryDirectory(prefix="bench-scale-") as name:
        folder = Path(name)
        broker = Mosquitto(folder).start()
        try:
            farm = made_farm.write(
                folder / "farm", made_farm.Plan(channels // 2, broker.port, interval="60 s")
            )
            began_s, now_ms = time.monotonic(), time.time_ns() // 1_000_000
            made_farm.fill(farm, 1, now_ms)
            path = farm.data_dir / "readings.db"
            repeat(path, days, now_ms)
            filled_s = time.monotonic() - began_s
            size, readings = path.stat().st_size, channels * 1_440 * days
            with running.daemon(farm.directory) as first:
                start = Spent(running.processor_s(first.pid), first.ready_s)
                pages = _pages(first, min(days, 365))
            with Speaking(broker.port, channels // 2), running.daemon(farm.directory) as daemon:
                before = running.processor_s(daemon.pid)
                time.sleep(seconds)
                share = 100 * (running.processor_s(daemon.pid) - before) / seconds
                _pages(daemon, min(days, 365))
                _, most_mb = running.resident_mb(daemon.pid)
            return Measured(
                channels, years, readings, size, start, most_mb, pages, share, filled_s
            )  # fmt: skip
        finally:
            broker.stop()


def _pages(daemon: running.Running, days: int) -> tuple[Spent, ...]:
    """Return what three pages take; the last draws a place's air over so many days."""
    drawn = f"/api/series?place=place-0&quantity=temperature&since={days * 24}+h+ago&until=now"
    return tuple(_spent(daemon, each) for each in ("/", "/places/place-0", f"{drawn}&points=1000"))


def _spent(daemon: running.Running, path: str) -> Spent:
    """Return what a page takes, the mean of several; the processor counts in steps of 10 ms."""
    daemon.get(path)
    before_s, began_s = running.processor_s(daemon.pid), time.perf_counter()
    for _ in range(_TIMES):
        daemon.get(path)
    wall_s = time.perf_counter() - began_s
    return Spent((running.processor_s(daemon.pid) - before_s) / _TIMES, wall_s / _TIMES)


def main() -> int:
    """Print a line for each size as it is measured."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("sizes", nargs="*", default=list(SIZES), metavar="CHANNELSxYEARS")
    parser.add_argument("--seconds", type=float, default=60.0)
    args = parser.parse_args()
    print(f"{machine()}\n\n| {' | '.join(_COLUMNS)} |\n|{'---|' * len(_COLUMNS)}", flush=True)
    for size in args.sizes:
        channels, _, years = size.partition("x")
        found = measured(int(channels), float(years), args.seconds)
        print(f"| {' | '.join(found.cells())} |", flush=True)
        print(f"{size}: filled in {found.filled_s:.0f} s", file=sys.stderr, flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
