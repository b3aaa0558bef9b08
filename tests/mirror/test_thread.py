"""The copying's own thread: what keeps it from copying is told, and mended where it can be."""

import shutil
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from monitor.clock import SystemClock
from monitor.farm import Mirror
from monitor.mirror.places import Places
from monitor.mirror.worker import Forwarder, MirrorThread, Source
from monitor.store import Commit, MirrorFile, ReadingStore
from tests.mirror.answering import Answer, answering
from tests.store.making import T0_MS, reading
from tests.system.brokers import wait_until


@contextmanager
def copying(folder: Path, mirror: Mirror) -> Iterator[MirrorThread]:
    """Copy a folder's readings by a thread of its own."""
    clock = SystemClock()
    source = Source(folder, lambda: Places(()), clock)
    thread = MirrorThread(lambda: Forwarder(mirror, source), folder, "here", clock)
    thread.start()
    try:
        yield thread
    finally:
        thread.stop()


def _readings(folder: Path) -> Path:
    store = ReadingStore.open(folder / "readings.db")
    store.commit(Commit([reading(T0_MS + at * 60_000) for at in range(30)]))
    store.close()
    return folder / "mirror.db"


def test_a_damaged_cursor_is_set_aside_and_the_copying_begins_anew(tmp_path: Path) -> None:
    """It holds nothing that is not known again: nobody has to delete it for the copy to go on."""
    path = _readings(tmp_path)
    MirrorFile.open(path).close()
    whole = path.read_bytes()
    path.write_bytes(whole[:5_000] + b"\xff" * (len(whole) - 5_000))
    with answering([Answer(204)]) as mirror, copying(tmp_path, mirror) as thread:
        wait_until(lambda: thread.standing.sent == 30)
        assert thread.standing.word() == "up to date"
    assert [each.name[:15] for each in tmp_path.glob("mirror-*.db")] == ["mirror-damaged-"]


def test_what_keeps_it_from_copying_is_told_until_it_is_over(tmp_path: Path) -> None:
    """Whatever is wrong with the files here, it is never called up to date."""
    path = _readings(tmp_path)
    path.mkdir()
    began_ms = round(time.time() * 1000)
    with answering([Answer(204)]) as mirror, copying(tmp_path, mirror) as thread:
        wait_until(lambda: thread.standing.error != "")
        told = thread.standing
        assert told.word().startswith(f"fails: {path}")
        assert told.failing_since_ms is not None
        assert abs(told.failing_since_ms - began_ms) < 20_000
        shutil.rmtree(path)
        wait_until(lambda: thread.standing.sent == 30)
        assert (thread.standing.word(), thread.standing.error) == ("up to date", "")
