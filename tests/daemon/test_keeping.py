"""The room let go for the ledger is not filled with readings."""

from pathlib import Path

import pytest

from monitor.daemon.keeping import Keeping
from monitor.store import Commit, FullError, ReadingStore, Reserve
from tests.daemon.made import readings
from tests.watch.made import NORTH


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
