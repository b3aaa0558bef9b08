"""The room let go for the ledger is not filled with readings."""

import asyncio
from pathlib import Path

import pytest

from monitor.daemon.keeping import Keeping, OwedInLedger
from monitor.model import AlarmKind
from monitor.store import Commit, FullError, Gap, Ledger, ReadingStore, Reserve
from tests.daemon.made import Post, farm, readings
from tests.watch.made import NORTH, START_MS


class Disk(Reserve):
    """A reserve on a disk with room, or without."""

    room = True

    def make(self) -> bool:
        """Hold the room if there is some."""
        return self.room and super().make()


def test_after_a_failure_readings_wait_for_the_reserve_to_fit(tmp_path: Path) -> None:
    """Until the disk has room for it again nothing is stored, and the reason is told."""
    store, disk = ReadingStore.open(tmp_path / "readings.db"), Disk(tmp_path / "reserve", 4096)
    keeping, work = Keeping(store, disk), Commit(readings=readings(range(3), 3.0))
    assert disk.make()
    keeping.release()
    disk.room = False
    assert not disk.path.exists()
    with pytest.raises(FullError, match="is for alarms; free at least"):
        keeping.commit(work)
    disk.room = True
    assert keeping.commit(work).stored == 3
    assert disk.path.exists()
    reader = keeping.reader()
    assert len(reader.series(NORTH, 0).at_ms) == 3
    reader.close()
    store.close()


def test_a_disk_with_little_room_from_the_start_is_used(tmp_path: Path) -> None:
    """Where no reserve was ever let go, readings are kept as long as it goes."""
    store, disk = ReadingStore.open(tmp_path / "readings.db"), Disk(tmp_path / "reserve")
    disk.room = False
    assert Keeping(store, disk).commit(Commit(readings=readings([0], 3.0))).stored == 1
    store.close()


def test_what_was_not_kept_outlives_a_kill_on_a_full_disk(tmp_path: Path) -> None:
    """The count is in the ledger at once; said twice by a kill in between, it counts once."""
    gap = Gap(START_MS, START_MS + 9_000, "the store could not write", 57)
    killed = Ledger.open(tmp_path / "ledger.db")
    OwedInLedger(killed).owe(gap)
    ledger, store = Ledger.open(tmp_path / "ledger.db"), ReadingStore.open(tmp_path / "r.db")
    for _ in range(2):
        owed = OwedInLedger(ledger)
        assert owed.gap == gap
        store.commit(Commit(gaps=[gap]))
    owed.owe(None)
    assert OwedInLedger(ledger).gap is None
    reader = store.reader()
    assert reader.gaps() == [gap]
    reader.close()
    store.close()
    ledger.close()
    killed.close()


def test_a_failure_told_before_a_kill_is_known_after_it(tmp_path: Path) -> None:
    """Else nobody would call it over when readings are kept again."""
    post = Post(farm(tmp_path))
    assert not OwedInLedger(post.ledger).told
    for bad in (True, False):
        post.judge.own(AlarmKind.STORE_FAILED, START_MS, bad=bad, detail="the disk is full")
        asyncio.run(post.judge.write())
        assert OwedInLedger(post.ledger).told == bad
    post.close()
