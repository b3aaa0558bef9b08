"""The daemon with fifty sensors and a long history: start, memory, processor.

Run as ``python -m tests.benchmarks.bench_daemon [--days N] [--seconds N]``. History is
written through the store's own commits, two channels a sensor, a reading a minute each.
The daemon is the real one in a process of its own, its broker a real mosquitto; pages are
fetched, and the first page stays open: it is fetched again when the live stream says so. The
reference for start and memory is an interpreter that imports the same modules and does
nothing, for the processor a bare subscriber. The files are in the system's cache at each start.
"""

import argparse
import contextlib
import statistics
import sys
import tempfile
import threading
import time
import urllib.request
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from monitor.model import Channel
from monitor.store import ReadingReader
from tests.benchmarks import bench_latency, made_farm, running
from tests.benchmarks.speaking import EVERY_S, Speaking
from tests.benchmarks.table import Row, machine, printed
from tests.system.brokers import Mosquitto

SENSORS: Final = 50
START_S: Final = 3.0
STARTS: Final = 3
MEMORY_MB: Final = 120.0
PROCESSOR_PCT: Final = 2.0
YEAR: Final = 365
_PAGES: Final = (
    "/", "/places/place-0", "/places/place-2", "/batches", "/alarms", "/sensors",
    "/api/places", "/api/sensors", "/metrics",
)  # fmt: skip


@contextmanager
def _open_page(address: str) -> Iterator[None]:
    """Keep the first page open as a phone on the table does, fetched again when it is told to."""
    stream = urllib.request.urlopen(address + "/live", timeout=600)  # noqa: S310  # our own

    def read() -> None:
        with contextlib.suppress(OSError):  # the daemon has ended
            while stream.fp is not None and (line := stream.readline()):
                if line.startswith(b"event: changed"):
                    running.fetch(address + "/")

    reader = threading.Thread(target=read, daemon=True)
    reader.start()
    yield
    # The daemon ends the stream when it stops; the thread ends with it.


def _look(daemon: running.Running, days: int) -> float:
    """Fetch every kind of page, and the series of each place over all days. [ms]"""
    for path in _PAGES:
        daemon.get(path)
    began_s = time.perf_counter()
    for place in range(len(made_farm.KINDS)):
        for quantity in ("temperature", "humidity"):
            asked = f"place=place-{place}&quantity={quantity}&since={days * 24}+h+ago&until=now"
            daemon.get(f"/api/series?{asked}&points=1000")
    return (time.perf_counter() - began_s) * 1000


def _add_batch(daemon_folder: Path, days: int) -> None:
    from monitor.cli import main  # noqa: PLC0415  # the commands register themselves there

    words = ["batch", "add", "--crop", "ranunculus", "--cultivar", "Dawn Apricot", "--count", "300",
             "--place", made_farm.LONELY, "--stage", "pre-sprout", "--by", "Rue",
             "--at", f"{days * 24} h ago", "--farm", str(daemon_folder)]  # fmt: skip
    if main(words):
        raise RuntimeError("the batch was refused")


def measured(days: int, seconds: float, starts: int = STARTS) -> list[Row]:
    """Return the rows of a farm with so many days of history, watched for so long. [s]"""
    with tempfile.TemporaryDirectory(prefix="bench-daemon-") as name:
        folder = Path(name)
        broker = Mosquitto(folder).start()
        try:
            farm = made_farm.write(folder / "farm", made_farm.Plan(SENSORS, broker.port))
            count = made_farm.fill(farm, days, time.time_ns() // 1_000_000)
            _add_batch(farm.directory, min(days, 14))
            size = (farm.data_dir / "readings.db").stat().st_size
            said = f"{count / 1e6:.1f} M readings, {size / 1e6:.0f} MB"
            took = [_start(farm.directory) for _ in range(starts - 1)]
            with Speaking(broker.port, SENSORS), running.daemon(farm.directory) as daemon:
                took.append((daemon.pages_s, daemon.ready_s))
                place = (farm.data_dir, broker.port)
                return [_start_row(took, said), *_watched(daemon, place, days, seconds)]
        finally:
            broker.stop()


def _start(folder: Path) -> tuple[float, float]:
    with running.daemon(folder) as daemon:
        return daemon.pages_s, daemon.ready_s


def _start_row(starts: list[tuple[float, float]], said: str) -> Row:
    alone_s = statistics.median(running.bare(f"import {running.MODULES}")[0] for _ in starts)
    ready_s = statistics.median(each[1] for each in starts)
    spread = f"{min(each[1] for each in starts):.2f} to {max(each[1] for each in starts):.2f}"
    return Row(
        f"start to ready, {said}",
        f"<= {START_S:g} s",
        f"{ready_s:.2f} s (median of {len(starts)}, {spread})",
        f"imports alone {alone_s:.2f} s",
        ready_s <= START_S,
    )


def _took_ms(daemon: running.Running, path: str) -> float:
    began_s = time.perf_counter()
    daemon.get(path)
    return (time.perf_counter() - began_s) * 1000


def _readings_ms(data: Path, days: int) -> float:
    """Return the time to read two channels of so many days, and nothing else. [ms]"""
    reader = ReadingReader(data / "readings.db")
    since_ms = time.time_ns() // 1_000_000 - days * made_farm.DAY_MS
    began_s = time.perf_counter()
    for quantity in made_farm.BOTH:
        reader.series(Channel(f"s{len(made_farm.KINDS) - 1}", quantity), since_ms)
    spent_ms = (time.perf_counter() - began_s) * 1000
    reader.close()
    return spent_ms


def _shares(pids: Sequence[int], seconds: float) -> list[float]:
    """Return how much of a core each process uses over some time. [%]"""
    before = [running.processor_s(pid) for pid in pids]
    began_s = time.perf_counter()
    time.sleep(seconds)
    spent_s = time.perf_counter() - began_s
    after = [running.processor_s(pid) for pid in pids]
    return [100 * (now - then) / spent_s for then, now in zip(before, after, strict=True)]


def _watched(
    daemon: running.Running, place: tuple[Path, int], days: int, seconds: float
) -> list[Row]:
    data, port = place
    with _open_page(daemon.address), bench_latency.subscriber(port, data) as other:
        series_ms = _look(daemon, days)
        ours_pct, other_pct = _shares((daemon.pid, other.pid), seconds)
        _look(daemon, days)
        batch_ms = [_took_ms(daemon, "/api/batches/1") for _ in range(7)]
        now_mb, most_mb = running.resident_mb(daemon.pid)
        _, imports_mb = running.bare(f"import {running.MODULES}")
        heard = len(daemon.json("/api/sensors"))
        alone_ms = _readings_ms(data, min(days, 14))
    return [
        Row(
            f"memory, {SENSORS} sensors x 2, {days} d of minutes, pages open",
            f"<= {MEMORY_MB:g} MB",
            f"{now_mb:.0f} MB (at most {most_mb:.0f})",
            f"imports alone {imports_mb:.0f} MB",
            most_mb <= MEMORY_MB,
        ),
        Row(
            f"processor, {heard} sensors every {EVERY_S:g} s, the first page open",
            f"<= {PROCESSOR_PCT:g} % of a core",
            f"{ours_pct:.2f} % over {seconds:.0f} s",
            f"bare subscriber {other_pct:.2f} %",
            ours_pct <= PROCESSOR_PCT,
        ),
        Row(f"all series of the farm, {days} d, over HTTP", "", f"{series_ms:.0f} ms", "", None),
        Row(
            f"batch of {min(days, 14)} d over HTTP, and three sites of ten sensors to plant into",
            "",
            f"{statistics.median(batch_ms):.0f} ms (median of 7; the first {batch_ms[0]:.0f})",
            f"the batch's readings alone: {alone_ms:.0f} ms",
            None,
        ),
    ]  # fmt: skip


def main() -> int:
    """Print the table; return how the run ends."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--days", type=int, default=YEAR)
    parser.add_argument("--seconds", type=float, default=120.0)
    args = parser.parse_args()
    rows = measured(args.days, args.seconds)
    print(machine())
    print(printed(rows))
    return int(any(row.reached is False for row in rows))


if __name__ == "__main__":
    sys.exit(main())
