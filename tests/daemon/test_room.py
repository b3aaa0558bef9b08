"""How long the disk lasts, on real small disks: forecast, told in good time, told urgently."""

import asyncio
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from monitor.daemon.room import Disk, Room, lasting
from monitor.model import AlarmKind, AlarmState, Channel, Flag, Priority, Quantity, Reading
from monitor.store import Commit
from tests.daemon.made import HandClock, Post, farm
from tests.system.disks import fill, small_disk
from tests.watch.made import HOUR_MS, START_MS

DAY_MS = 24 * HOUR_MS
MB = 1_000_000
FILLING, SHORT = AlarmKind.DISK_FILLING, AlarmKind.DISK_SHORT


class Watched(Post):
    """A post with a small disk of its own under its data, and what measures it."""

    def __init__(self, folder: Path) -> None:
        super().__init__(farm(folder), HandClock())
        self.disk = Disk(self.farm.data_dir, self.store.reader, self.ledger, self.clock)
        self.other = self.farm.data_dir / "another-program"

    def look(self, days: float, others: int = 0) -> Room:
        """Measure so many days after the start, others having written so many bytes."""
        self.other.write_bytes(b"x" * others)
        self.clock.now = START_MS + round(days * DAY_MS)
        self.disk.measure()
        self.disk.mind(self.judge, self.clock.now)
        assert self.disk.room is not None
        return self.disk.room

    def open(self) -> dict[AlarmKind, Priority]:
        """Return the alarms that are not over, once written, and how grave each is."""
        asyncio.run(self.judge.write())
        over = (AlarmState.NORMAL, AlarmState.RETURNED_UNACKNOWLEDGED)
        found = self.ledger.alarms()
        return {each.key.kind: each.priority for each in found if each.state not in over}


@pytest.fixture
def post(tmp_path: Path) -> Iterator[Watched]:
    """Yield a farm on a disk of 100 MB."""
    with small_disk(tmp_path / "data", 100), closing(Watched(tmp_path)) as post:
        yield post


def test_what_the_readings_take_a_day_tells_how_long_the_disk_lasts(post: Watched) -> None:
    """By plain arithmetic: what is free, over the file's size by its days; unknown at first."""
    assert post.look(0).days is None
    channel, step_ms = Channel("north", Quantity.TEMPERATURE), DAY_MS // 4_000
    for day in range(10, 0, -1):
        begin_ms = START_MS - day * DAY_MS
        times = [begin_ms + at * step_ms for at in range(4_000)]
        values = [3.0 + at % 997 / 7 for at in times]
        post.store.commit(Commit([
            Reading(channel, at_ms, value, Flag.DEVICE_TIME, at_ms)
            for at_ms, value in zip(times, values, strict=True)
        ]))  # fmt: skip
    path = post.farm.data_dir / "readings.db"
    with closing(sqlite3.connect(path)) as other:
        other.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    room, size = post.look(0.01), path.stat().st_size
    assert room.days == pytest.approx(room.free / (size / 10), rel=0.1)
    assert "MB free, full in about " in room.word()
    assert post.open() == {}


def test_weeks_left_are_told_in_the_morning_and_days_at_once(post: Watched) -> None:
    """Another program fills the disk: nothing, then low, then high, and over with room again."""
    post.look(0)
    post.look(3, 2 * MB)
    assert post.open() == {}  # 150 days
    assert post.look(6, 12 * MB).days == pytest.approx(88 / (10 / 3), rel=0.1)
    assert post.open() == {FILLING: Priority.LOW}
    assert post.look(9, 80 * MB).filling(told=False)
    assert post.open() == {SHORT: Priority.HIGH}
    post.look(9.1, 0)
    assert post.open() == {}


def test_an_alarm_of_the_disk_is_one_however_often_it_is_looked_at(post: Watched) -> None:
    """Looked at for hours while a figure moves; a restart tells it no second time."""
    post.look(0)
    for hour in range(5):
        post.look(3 + hour / 24, (80 + hour) * MB)
    assert post.open() == {SHORT: Priority.HIGH}
    post.start()
    post.disk = Disk(post.farm.data_dir, post.store.reader, post.ledger, post.clock)
    post.look(3.5, 85 * MB)
    assert post.open() == {SHORT: Priority.HIGH}
    assert len(post.ledger.alarms()) == 1


def test_a_full_disk_ends_no_measuring(post: Watched) -> None:
    """Nothing can be noted there, and that it is short is known all the same."""
    fill(post.farm.data_dir)
    post.disk.measure()
    assert post.disk.room is not None
    assert post.disk.room.short(told=False)
    (post.farm.data_dir / "filler").unlink()
    assert post.look(4).days is None


@pytest.mark.parametrize(
    ("days", "told"),
    [
        (0.2, "about 1 day"), (6.4, "about 6 days"), (21, "about 3 weeks"), (213, "about 7 months"),
        (800, "about 2 years"), (1e9, "over a hundred years"),
    ],
)  # fmt: skip
def test_a_forecast_is_told_in_lengths_to_plan_by(days: float, told: str) -> None:
    """A week has 7 days, a month 30.44, a year 365.25."""
    assert lasting(days) == told
