"""Faults met in the field, from bytes to alarms: real files, decoder, stamps and judge."""

import asyncio
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from monitor.daemon import digesting
from monitor.daemon.intake import Intake
from monitor.daemon.keeping import Keeping
from monitor.farm import NoticeRules
from monitor.model import AlarmKind, Channel, Flag, NoticeKind, Reading
from monitor.mqtt.worker import Told
from monitor.store import Reserve
from tests.daemon.field import Field, J, T
from tests.daemon.made import HandClock, Post, farm, readings
from tests.watch.made import HOUR_MS, MINUTE_MS, NORTH, SOUTH, START_MS

DAY_MS = 24 * HOUR_MS


@pytest.fixture
def field(tmp_path: Path) -> Iterator[Field]:
    """Yield a farm of two sensors in a cooler, one bare, one JSON."""
    made = Field(tmp_path, HandClock())
    yield made
    made.close()


# -- whatever comes ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("channel", "bad"),
    [(T, each) for each in (
        b"???", b"unavailable", b"unknown", b"null", b"offline", b"4.1e", b"4.1.0", b"1,000",
        b"\xe94.1", b"-3274.5", b"nan", b"9" * 5000, b"[" * 100_000,
    )] + [(J, each) for each in (
        b'{"t":nan}', b'{"t":NaN}', b'{"t":null}', b'{"state":"offline"}', b"offline",
        b'{"t":4.1,"t":4.2}', b'{"t":-3274.5}',
    )],
)  # fmt: skip
def test_bad_input_holds_up_no_alarm_ends_none_and_is_no_word(
    field: Field, channel: Channel, bad: bytes
) -> None:
    """Amid bad bytes harm is told in time; alone they end no alarm and pass for no reading."""
    good = b"8.0" if channel is T else b'{"t": 8.0}'
    for minute in range(46):
        field.say(channel, bad, minute - 0.5)
        field.say(channel, good, minute)
    assert field.kinds() == [AlarmKind.TOO_WARM]
    (alarm,) = field.ledger.alarms()
    assert alarm.began_ms == START_MS
    for minute in range(46, 60):
        field.say(channel, bad, minute)
    assert field.kinds() == [AlarmKind.TOO_WARM, AlarmKind.SENSOR_SILENT]
    reader = field.store.reader()
    counted = {each.sensor: each.count for each in reader.refusal_counts()}
    values = reader.series(channel, 0).raw
    reader.close()
    assert counted == {channel.sensor: 60}
    assert set(values.tolist()) == {8.0}


# -- time ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("ahead_s", [7200, 2**63, -(2**40)])
def test_a_time_that_cannot_be_never_becomes_the_newest(field: Field, ahead_s: int) -> None:
    """Two hours ahead, or past every calendar: marked, and the next reading is the newest."""
    odd_s = START_MS // 1000 + ahead_s
    field.say(J, b'{"t": 3.1, "ts": %d}' % odd_s, 0)
    field.say(J, b'{"t": 3.2, "ts": %d}' % (START_MS // 1000 + 60), 1)
    reader = field.store.reader()
    newest, series = reader.newest()[J], reader.series(J, 0)
    reader.close()
    assert (newest.at_ms, newest.raw) == (START_MS + MINUTE_MS, 3.2)
    assert series.at_ms.tolist() == [START_MS, START_MS + MINUTE_MS]
    assert series.flags.tolist() == [int(Flag.TIME_REFUSED), int(Flag.DEVICE_TIME)]


@pytest.mark.parametrize("by_ms", [13 * DAY_MS, -13 * DAY_MS])
def test_what_a_wrong_clock_timed_is_marked_when_it_is_set_right(
    tmp_path: Path, by_ms: int
) -> None:
    """On a farm that knew no better too: rows since the start, but none with its own time."""
    field = Field(tmp_path, HandClock())
    intake = Intake(
        lambda: field.farm, Keeping(field.store, Reserve(tmp_path / "reserve")), field.clock,
        Told(lambda _: None), None,
    )  # fmt: skip
    field._preparing._stamper = intake._stamper
    for minute in range(5):
        field.say(T, b"3.1", minute)
        field.say(J, b'{"t": 3.1, "ts": %d}' % (field.clock.now // 1000), minute)
    field.clock.now += by_ms

    async def stepped() -> None:
        await intake.clock_stepped(field.clock.now, by_ms)
        await asyncio.gather(*intake._marking)

    asyncio.run(stepped())
    field.say(T, b"3.2", 6 + by_ms / MINUTE_MS)
    reader = field.store.reader()
    bare, own, newest = reader.series(T, 0), reader.series(J, 0), reader.newest()
    reader.close()
    right = bare.raw == 3.2
    assert set(bare.flags[~right].tolist()) == {int(Flag.CLOCK_UNSURE)}
    assert set(bare.flags[right].tolist()) == {0}
    assert len(bare.raw) == 6
    assert set(own.flags.tolist()) == {int(Flag.DEVICE_TIME)}
    assert (newest[T].flags is Flag.CLOCK_UNSURE) == (by_ms < 0)
    again = Intake(intake.farm, intake.store, field.clock, intake.told, None)
    late = Reading(T, field.clock.now + 1, 3.3, Flag.NONE, field.clock.now + 1)
    assert again._stamper.stamp([late]) == [late]
    field.close()


def test_a_host_that_boots_in_the_past_and_jumps_thirteen_days(tmp_path: Path) -> None:
    """No false silence, no row lost, and what came before the jump is marked."""
    field = Field(tmp_path, HandClock())
    for minute in range(10):
        field.say(T, b"3.0", minute)
    back = 15 - 13 * 1440
    field.clock.now = START_MS + back * MINUTE_MS
    field.restart()
    for minute in range(5):
        field.say(T, b"3.1", back + minute)
    field.clock.now += 13 * DAY_MS
    field.judge.clock_stepped(field.clock.now, 13 * DAY_MS)
    field.judge.tick(field.clock.now + MINUTE_MS)
    assert field.kinds() == []
    field.say(T, b"3.2", 21)
    reader = field.store.reader()
    series, newest = reader.series(T, 0), reader.newest()[T]
    reader.close()
    assert len(series.at_ms) == 16
    marked = (series.flags & int(Flag.CLOCK_UNSURE)) != 0
    assert set(series.raw[marked].tolist()) == {3.1}
    assert int(np.count_nonzero(marked)) == 5
    assert newest.raw == 3.2
    field.close()


@pytest.mark.parametrize(
    ("first_ms", "hours"),
    # noon of 7 March to noon of 10 March 2026, and of 31 October to 3 November, New York
    [(1_772_902_800_000, 71), (1_793_462_400_000, 73)],
)
def test_a_daily_digest_comes_once_a_day_of_23_and_of_25_hours(
    tmp_path: Path, first_ms: int, hours: int
) -> None:
    """Over both changes of the clocks three local days have three digests."""
    post = Post(farm(tmp_path, notices=NoticeRules(digest="daily")), HandClock(first_ms))
    for half in range(2 * hours + 1):
        reader = post.store.reader()
        digesting.do(post.judge, reader, first_ms + half * HOUR_MS // 2)
        reader.close()
    told = [each for each in post.ledger.notices() if each.kind is NoticeKind.TOLD]
    changed = [each.title for each in told if "hours: the clocks were changed" in each.title]
    assert len(changed) == 1
    assert f"the last day ({hours - 48} hours" in changed[0]
    days = {(each.created_ms // 1000, each.person) for each in told}
    assert len(told) == len(days) == 3
    post.close()


def test_a_driver_that_repeats_its_last_value_is_told_while_its_neighbour_moves(
    post: Post,
) -> None:
    """A probe that died while the other of its cooler swings is doubted; the other is not."""
    minutes = range(0, 24 * 60, 5)
    for minute in minutes:
        swing = 2.75 + 1.6 * float(np.sin(2 * np.pi * minute / 240))
        north = swing if minute < 12 * 60 else 2.9
        for channel, value in ((NORTH, north), (SOUTH, swing + 0.1)):
            post.hear(readings([minute], value, channel))
        post.judge.tick(post.clock.now)
    asyncio.run(post.judge.write())
    doubtful = [e for e in post.ledger.alarms() if e.key.kind is AlarmKind.SENSOR_DOUBTFUL]
    assert [each.key.subject for each in doubtful] == ["north"]


def test_a_late_word_that_a_sensor_is_gone_outranks_no_reading(field: Field) -> None:
    """A will that comes after the sensor spoke anew ends nothing and raises nothing."""
    for minute in range(20):
        field.say(T, b"3.0", minute)
        field.say(T, b"offline", minute + 0.1)
    assert field.kinds() == []
    reader = field.store.reader()
    assert reader.newest()[T].raw == 3.0
    reader.close()


def test_a_repeat_without_a_time_of_its_own_brings_no_alarm_forward(field: Field) -> None:
    """Sent three times each at QoS 1, twenty-nine minutes out are still no half hour."""
    for minute in range(30):
        for again in range(3):
            field.say(T, b"8.0", minute + again / 60)
    assert field.kinds() == []
    field.say(T, b"8.0", 30.1)
    assert field.kinds() == [AlarmKind.TOO_WARM]
