"""An export whose reader has gone to sleep."""

import subprocess
import sys
from pathlib import Path

from monitor.model import Channel, Flag, Quantity, Reading
from monitor.store import Commit, ReadingStore
from monitor.store.connection import CHECKPOINT_PAGES
from monitor.units import iso_utc
from tests.cli.small_farm import small_farm

CHANNEL = Channel("cooler-door", Quantity.TEMPERATURE)
ROWS, T0_MS = 10_000, 1_760_000_000_000  # ten pipes full of lines


def _rows(first: int, count: int) -> list[Reading]:
    times = [T0_MS + number * 1_000 for number in range(first, first + count)]
    return [Reading(CHANNEL, at_ms, 3.21, Flag.DEVICE_TIME, at_ms) for at_ms in times]


def test_a_stalled_export_pins_no_log_and_loses_no_row(tmp_path: Path) -> None:
    """While nobody reads its lines the write-ahead log is copied back as ever."""
    folder = small_farm(tmp_path)
    path = folder / "data" / "readings.db"
    store = ReadingStore.open(path)
    store.commit(Commit(readings=_rows(0, ROWS)))
    command = [
        sys.executable, "-m", "monitor", "export", "readings", "--farm", str(folder),
        "--until", iso_utc(T0_MS + ROWS * 1_000),
    ]  # fmt: skip
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as export:
        assert export.stdout is not None
        lines = [export.stdout.readline()]  # it has begun, and waits to be read on
        log_bytes = []
        for number in range(60):
            store.commit(Commit(readings=_rows(ROWS + number * 5_000, 5_000)))
            log_bytes.append(path.with_name("readings.db-wal").stat().st_size)
        lines += export.stdout.readlines()
    store.close()
    assert export.returncode == 0
    assert max(log_bytes) < 2 * CHECKPOINT_PAGES * 4_096
    assert len(lines) == ROWS + 1
