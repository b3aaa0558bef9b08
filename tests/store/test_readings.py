"""What a commit keeps, moves, and refuses."""

import math
import os
import signal
import sqlite3
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from monitor.errors import StoreError
from monitor.model import Channel, Flag, Quantity
from monitor.store import Commit, Committed, Conflict, FullError, ReadingStore
from monitor.store.window import KEPT
from tests.store.making import AIR, DAMP, T0_MS, reading


@pytest.fixture
def store(tmp_path: Path) -> ReadingStore:
    """Return an empty store, in a folder that is made for it."""
    return ReadingStore.open(tmp_path / "data" / "readings.db")


def test_colliding_receipt_times_move_on_by_a_millisecond(store: ReadingStore) -> None:
    """Of a burst received at one time, in one commit or several, none is lost."""
    values = [1.0, 1.0, 2.0, 3.0]
    store.commit(Commit(readings=[reading(T0_MS, value) for value in values]))
    store.commit(Commit(readings=[reading(T0_MS + 2, 4.0), reading(T0_MS, 5.0)]))
    series = store.reader().series(AIR, 0)
    assert series.at_ms.tolist() == [T0_MS + k for k in range(6)]
    assert series.raw.tolist() == [1.0, 1.0, 2.0, 3.0, 4.0, 5.0]


def test_a_device_time_is_kept_once(store: ReadingStore) -> None:
    """The same sample again is one row, in one commit or across two."""
    again = [reading(T0_MS, 4.1, flags=Flag.DEVICE_TIME)] * 2
    assert store.commit(Commit(readings=again)) == Committed(1, 1, 0, 0)
    assert store.commit(Commit(readings=again[:1])) == Committed(0, 1, 0, 0)
    assert store.reader().series(AIR, 0).raw.tolist() == [4.1]


def test_a_commit_tells_what_it_stored_and_at_what_times(store: ReadingStore) -> None:
    """Repeats are left out, moved ones carry their new time, the order is that of arrival."""
    own = reading(T0_MS, 90.0, DAMP, Flag.DEVICE_TIME)
    plain = [reading(T0_MS + 1, 2.0), own, reading(T0_MS, 3.0)]
    assert store.commit(Commit(readings=plain)).readings is plain
    told = store.commit(Commit(readings=[reading(T0_MS, 4.0), own, reading(T0_MS + 9, 5.0)]))
    moved = replace(reading(T0_MS, 4.0), at_ms=T0_MS + 2)
    assert told.readings == [moved, reading(T0_MS + 9, 5.0)]


def test_another_value_for_a_device_time_is_a_conflict(store: ReadingStore) -> None:
    """The first value stands; the second is recorded beside it."""
    first = reading(T0_MS, 4.1, flags=Flag.DEVICE_TIME)
    second = reading(T0_MS, 4.7, flags=Flag.DEVICE_TIME)
    assert store.commit(Commit(readings=[first, second])).conflicting == 1
    reader = store.reader()
    assert reader.series(AIR, 0).raw.tolist() == [4.1]
    assert reader.conflicts() == [Conflict(AIR, T0_MS, 4.1, 4.7, T0_MS)]


def test_an_older_sample_never_moves_the_newest(store: ReadingStore) -> None:
    """The newest reading is that of the newest time, whenever it arrived."""
    new = reading(T0_MS + 60_000, 4.5)
    store.commit(Commit(readings=[new]))
    store.commit(Commit(readings=[reading(T0_MS, 9.9, flags=Flag.DEVICE_TIME)]))
    assert store.reader().newest() == {AIR: new}


def test_what_is_no_finite_number_is_refused_alone(store: ReadingStore) -> None:
    """An infinite or missing value is counted; its neighbours are kept."""
    work = Commit(
        readings=[reading(T0_MS, math.inf), reading(T0_MS, math.nan), reading(T0_MS, 4.0, DAMP)]
    )
    assert store.commit(work) == Committed(1, 0, 0, 2)
    assert store.reader().series(DAMP, 0).raw.tolist() == [4.0]
    assert store.reader().newest().keys() == {DAMP}


def test_an_infinite_value_in_the_file_takes_down_no_reader(store: ReadingStore) -> None:
    """A value that another program put there is handed on, and later commits work."""
    store.commit(Commit(readings=[reading(T0_MS, 4.0)]))
    with sqlite3.connect(store.path) as other:
        other.execute("INSERT INTO readings VALUES (1, ?, ?, 0)", (T0_MS + 5, math.inf))
    other.close()
    assert store.commit(Commit(readings=[reading(T0_MS + 9, 5.0)])).stored == 1
    assert store.reader().series(AIR, 0).raw.tolist() == [4.0, math.inf, 5.0]
    assert store.reader().drawn(AIR, T0_MS, T0_MS + 60_000, 100).n.tolist() == [1, 1, 1]


def test_a_commit_is_whole_or_not_at_all(store: ReadingStore) -> None:
    """When one part cannot be written, nothing of the commit is there, and the next works."""
    bad = Commit(readings=[reading(T0_MS)], heard={"cooler-air": None})  # type: ignore[dict-item]
    with pytest.raises(StoreError, match=r"readings\.db"):
        store.commit(bad)
    assert store.reader().newest() == {}
    assert store.reader().channels() == []
    assert store.commit(Commit(readings=[reading(T0_MS)])).stored == 1
    assert store.reader().channels() == [AIR]


def test_a_full_disk_is_told_and_passes(store: ReadingStore) -> None:
    """When there is no room nothing is half-written; with room again the same commit works."""
    store.commit(Commit(readings=[reading(T0_MS)]))
    pages = store._connection.execute("PRAGMA page_count").fetchone()[0]
    store._connection.execute(f"PRAGMA max_page_count = {pages}")
    many = Commit(readings=[reading(T0_MS + k, k / 7) for k in range(5_000)])
    with pytest.raises(FullError, match="disk is full"):
        store.commit(many)
    store._connection.execute("PRAGMA max_page_count = 1000000")
    assert store.commit(many).stored == 5_000
    assert len(store.reader().series(AIR, 0).raw) == 5_001


def test_two_processes_may_write_by_turns(store: ReadingStore) -> None:
    """An import beside the daemon is seen: its channels and times are not written twice."""
    other = ReadingStore.open(store.path)
    store.commit(Commit(readings=[reading(T0_MS, 1.0)]))
    other.commit(Commit(readings=[reading(T0_MS, 2.0), reading(T0_MS, 3.0, DAMP)]))
    store.commit(Commit(readings=[reading(T0_MS, 4.0), reading(T0_MS, 5.0, DAMP)]))
    assert store.reader().series(AIR, 0).raw.tolist() == [1.0, 2.0, 4.0]
    assert store.reader().series(DAMP, 0).raw.tolist() == [3.0, 5.0]
    assert len(store.reader().channels()) == 2


def test_the_window_outlives_the_process_and_is_bounded(store: ReadingStore) -> None:
    """The newest messages are remembered in order, many commits or few, until forgotten."""
    pairs = [(k % 65_536, k * 2**40 % 2**64) for k in range(3 * KEPT)]
    for at in range(0, len(pairs), 100):
        store.commit(Commit(window=pairs[at : at + 100]))
    store.close()
    again = ReadingStore.open(store.path)
    assert again.reader().window() == pairs[-KEPT:]
    rows = again._connection.execute("SELECT count(*) FROM recent_messages").fetchone()[0]
    assert rows <= KEPT / 100 + 2
    again.commit(Commit(window=pairs[:2], clear_window=True))
    assert again.reader().window() == pairs[:2]
    again.commit(Commit(clear_window=True))
    assert again.reader().window() == []


def test_the_last_receipt_of_a_sensor_is_what_was_told(store: ReadingStore) -> None:
    """A clock set back leaves no receipt in the future."""
    store.commit(Commit(heard={"cooler-air": T0_MS + 5, "tunnel": T0_MS}))
    store.commit(Commit(heard={"cooler-air": T0_MS}))
    assert store.reader().heard() == {"cooler-air": T0_MS, "tunnel": T0_MS}


def test_the_files_are_private(store: ReadingStore) -> None:
    """The file and its write-ahead log can be read by their owner alone."""
    store.commit(Commit(readings=[reading(T0_MS)]))
    for name in ("readings.db", "readings.db-wal"):
        assert (store.path.parent / name).stat().st_mode & 0o777 == 0o600


def test_a_read_in_progress_does_not_hold_the_log(store: ReadingStore) -> None:
    """While an export walks through pages, the write-ahead log is still cut back."""
    channels = [Channel(f"s{k}", Quantity.TEMPERATURE) for k in range(50)]
    reader = store.reader()
    for step in range(120):
        at_ms = T0_MS + step * 60_000
        store.commit(
            Commit(
                readings=[reading(at_ms + k, k / 7, each) for each in channels for k in range(9)]
            )
        )
        reader.page(channels[0], at_ms, at_ms + 60_000, 5)
    log = store.path.with_name("readings.db-wal")
    assert log.stat().st_size < 10 * 1024 * 1024


_WRITE_FOR_EVER = """
import sys
from dataclasses import replace
from pathlib import Path
from monitor.store import Commit, ReadingStore
from tests.store.making import T0_MS, reading
store = ReadingStore.open(Path(sys.argv[1]))
number = len(store.reader().window())
while True:
    rows = [reading(T0_MS + (number + k) * 1000, (number + k) / 100) for k in range(20)]
    pairs = [(number + k, number + k) for k in range(20)]
    store.commit(Commit(readings=rows, window=pairs, heard={"cooler-air": number}))
    number += 20
    print(number, flush=True)
"""


def test_kill_9_loses_no_commit_that_returned(tmp_path: Path) -> None:
    """After each kill all that was told committed is there once, and nothing in part."""
    path = tmp_path / "readings.db"
    for _ in range(3):
        told = _killed_after(path, 8)
        store = ReadingStore.open(path)
        reader = store.reader()
        series = reader.series(AIR, 0)
        count = len(series.raw)
        assert count >= told
        assert count % 20 == 0
        assert series.raw.tolist() == [k / 100 for k in range(count)]
        assert len(reader.window()) == count
        assert int(reader.summaries(AIR, 0, T0_MS * 2).n.sum()) == count
        reader.close()
        store.close()


def _killed_after(path: Path, lines: int) -> int:
    process = subprocess.Popen(
        [sys.executable, "-c", _WRITE_FOR_EVER, str(path)],
        stdout=subprocess.PIPE, text=True, cwd=Path(__file__).parents[2],
    )  # fmt: skip
    told = 0
    with process:
        if process.stdout is not None:
            for _ in range(lines):
                told = int(process.stdout.readline())
        os.kill(process.pid, signal.SIGKILL)
    return told
