"""Replay of stored history: read, calibrated, judged, worded, beside a plain loop.

Run as ``python -m tests.benchmarks.bench_replay [--days N]``. The starter farm is played
by the simulator with doors, defrosts, a dead compressor and a sensor that dies, decoded
and stored as it would have come. Measured is the whole of ``Replay.run``: from SQLite to
the words of each alarm. The reference reads the same series and judges one limit a channel
by a plain loop, keeping nothing else. Rates are by the clock, the best of some rounds.
"""

import argparse
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from itertools import islice
from pathlib import Path
from typing import Final

from monitor.cli.demo_history import as_message
from monitor.daemon.replaying import Replay, span
from monitor.daemon.restoring import specs
from monitor.farm import Farm, load
from monitor.farm.starting import Start, write_starter
from monitor.intake import Decoder, Stamper
from monitor.store import Commit, ReadingReader, ReadingStore
from simulator.farm import Published, SimulatedFarm
from simulator.faults import FaultKind
from simulator.scenarios import fault_at
from tests.benchmarks.table import Row, machine, printed
from tests.watch.plain_loop import PlainLimit

REACH: Final = 100_000
DAYS: Final = 14
_DAY_MS: Final = 86_400_000
_START_MS: Final = 1_773_000_000_000
_PACK: Final = 5_000
_LIMIT_C: Final = 5.5


def history(folder: Path, days: int) -> Farm:
    """Write a starter farm with so many days of simulated readings."""
    write_starter(folder, Start(), {})
    farm = load(folder)
    middle_ms = _START_MS + days * _DAY_MS // 2
    faults = [
        fault_at(farm, FaultKind.COMPRESSOR_DEAD, middle_ms),
        fault_at(farm, FaultKind.SENSOR_DEATH, middle_ms + _DAY_MS // 4),
    ]
    life = SimulatedFarm(farm, 4, _START_MS, faults)
    keep(farm, life.messages(_START_MS + days * _DAY_MS))
    return farm


def keep(farm: Farm, messages: Iterator[Published]) -> None:
    """Store what was published, decoded as it would have come."""
    decoder, stamper = Decoder(farm.sensors.values()), Stamper()
    store = ReadingStore.open(farm.data_dir / "readings.db")
    while pack := list(islice(messages, _PACK)):
        decoded = [decoder.decode(as_message(each)) for each in pack]
        store.commit(Commit(stamper.stamp([each for one in decoded for each in one.readings])))
    store.close()


def _plain(farm: Farm, reader: ReadingReader) -> int:
    """Judge one limit a channel, reading by reading; return how many."""
    count = 0
    for channel in specs(farm):
        series = reader.series(channel, 0)
        limit = PlainLimit(_LIMIT_C, 1_800_000, 0.3, 120_000, 180_000)
        for at_ms, value in zip(series.at_ms.tolist(), series.raw.tolist(), strict=True):
            limit.take(at_ms, value)
        count += len(series.at_ms)
    return count


def _best(work: Callable[[], int], rounds: int) -> tuple[float, int]:
    """Return the best time of some rounds [s], and how many readings each took."""
    spent, count = [], 0
    for _ in range(rounds):
        began_s = time.perf_counter()
        count = work()
        spent.append(time.perf_counter() - began_s)
    return min(spent), count


def measured(days: int, rounds: int) -> Row:
    """Return the row of a replay of so many days."""
    with tempfile.TemporaryDirectory(prefix="bench-replay-") as name:
        farm = history(Path(name) / "farm", days)
        reader = ReadingReader(farm.data_dir / "readings.db")
        since_ms, last_ms = span(reader, specs(farm)) or (0, 0)
        found = 0

        def replay() -> int:
            nonlocal found
            work = Replay(farm, (), reader, since_ms, last_ms + 1)
            found = len(work.run())
            return work.readings

        ours_s, count = _best(replay, rounds)
        plain_s, same = _best(lambda: _plain(farm, reader), rounds)
        reader.close()
    if count != same:
        raise RuntimeError(f"{count} readings were replayed, {same} are stored")
    return Row(
        f"replay of {days} d, {count:,} readings, {found} alarms",
        f">= {REACH:,} readings/s",
        f"{count / ours_s:,.0f} readings/s (best of {rounds})",
        f"plain loop, one limit: {count / plain_s:,.0f} readings/s",
        count / ours_s >= REACH,
    )


def main() -> int:
    """Print the table; return how the run ends."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--days", type=int, default=DAYS)
    parser.add_argument("--rounds", type=int, default=5)
    args = parser.parse_args()
    row = measured(args.days, args.rounds)
    print(machine())
    print(printed([row]))
    return int(row.reached is False)


if __name__ == "__main__":
    sys.exit(main())
