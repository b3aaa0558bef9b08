"""Reminders, and the morning message by the farm's clock."""

import asyncio
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from monitor.daemon import chores
from monitor.errors import StoreError
from monitor.farm import NoticeRules
from monitor.model import NoticeKind, NoticeStatus
from tests.daemon.made import HandClock, Post, farm, readings
from tests.watch.made import HOUR_MS, MINUTE_MS, START_MS


def do(post: Post, now_ms: int) -> None:
    """Do what is due at a time."""
    post.clock.now = now_ms
    reader = post.store.reader()
    chores.do(post.judge, reader, now_ms)
    reader.close()


def told(post: Post, kind: NoticeKind) -> list[str]:
    """Return the titles of one kind of notice, the oldest first."""
    return [each.title for each in reversed(post.ledger.notices()) if each.kind is kind]


def at(text: str) -> int:
    """Return a time of New York's winter or summer, given with its offset. [ms]"""
    return round(datetime.fromisoformat(text).astimezone(UTC).timestamp() * 1000)


def drifted(post: Post) -> None:
    """Let the cooler drift for an hour: over its ideal, within its harm limits."""
    post.hear(readings(range(10), 3.0))
    post.hear(readings(range(10, 70), 4.6))
    post.hear(readings(range(70, 80), 3.0))


def test_the_first_start_tells_of_no_yesterday(post: Post) -> None:
    """Started at any time of day, the first message is of the next morning."""
    drifted(post)
    for hours in range(2, 10):
        do(post, START_MS + hours * HOUR_MS)
    assert told(post, NoticeKind.MORNING) == []


def test_the_morning_is_told_once_a_local_day(post: Post) -> None:
    """Drift of the last day is told at seven, once, after a restart too."""
    do(post, START_MS - 24 * HOUR_MS)
    drifted(post)
    first = at("2026-03-09T07:00-04:00")
    do(post, first - 1)
    assert told(post, NoticeKind.MORNING) == []
    for minute in (0, 1, 300):
        do(post, first + minute * MINUTE_MS)
    post.start()
    do(post, first + 16 * HOUR_MS)
    assert told(post, NoticeKind.MORNING) == ["Low Meadow, this morning"]
    do(post, first + 24 * HOUR_MS)
    assert len(told(post, NoticeKind.MORNING)) == 1  # nothing drifted since


def test_the_morning_is_noted_with_its_message_or_not_at_all(
    post: Post, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A ledger that fails at seven tells the message later, once."""
    do(post, START_MS - 24 * HOUR_MS)
    drifted(post)
    first = at("2026-03-09T07:00-04:00")
    with monkeypatch.context() as broken:
        broken.setattr("monitor.store.outbox.insert_notices", _full)
        with pytest.raises(StoreError):
            do(post, first)
    for minute in (1, 2):
        do(post, first + minute * MINUTE_MS)
    assert len(told(post, NoticeKind.MORNING)) == 1


def _full(*_: object) -> None:
    raise StoreError("the disk is full")


@pytest.mark.parametrize(
    ("first", "until"),
    [("2026-03-07T12:00-05:00", "2026-03-10T12:00-04:00"),
     ("2026-10-31T12:00-04:00", "2026-11-03T12:00-05:00")],
)  # fmt: skip
def test_days_of_23_and_25_hours_have_one_morning_each(
    tmp_path: Path, first: str, until: str
) -> None:
    """Over both changes of the year three days have three messages, at seven by the wall."""
    post = Post(farm(tmp_path), HandClock(at(first)))
    now_ms = at(first)
    times = []
    while now_ms < at(until):
        before = len(told(post, NoticeKind.MORNING))
        _drift_at(post, now_ms)
        do(post, now_ms)
        if len(told(post, NoticeKind.MORNING)) > before:
            times.append(datetime.fromtimestamp(now_ms / 1000, post.farm.zone))
        now_ms += 30 * MINUTE_MS
    post.close()
    days = [each.toordinal() for each in times]
    assert days == list(range(days[0], days[0] + 3))
    assert [f"{each:%H:%M}" for each in times] == ["07:00"] * 3


def _drift_at(post: Post, now_ms: int) -> None:
    moved = [
        replace(each, at_ms=each.at_ms - START_MS + now_ms - HOUR_MS,
                received_ms=each.received_ms - START_MS + now_ms - HOUR_MS)
        for each in readings(range(1, 30), 4.6)
    ]  # fmt: skip
    post.keep(moved)


def test_an_alarm_that_nobody_acknowledges_is_repeated(post: Post) -> None:
    """Every half hour, once, and no more after someone has seen it."""
    post.hear(readings(range(46), 7.0))
    asyncio.run(post.judge.write())
    (raised,) = post.ledger.notices()
    post.ledger.record_attempt(raised.id, raised.created_ms, sent=True)
    since_ms = post.clock.now
    for minute in (10, 29):
        do(post, since_ms + minute * MINUTE_MS)
    assert told(post, NoticeKind.REMINDER) == []
    for minute in (31, 32):
        do(post, since_ms + minute * MINUTE_MS)
    assert [each.startswith("Still: ") for each in told(post, NoticeKind.REMINDER)] == [True]
    assert {each.status for each in post.ledger.notices()} == {
        NoticeStatus.SENT, NoticeStatus.WAITING,
    }  # fmt: skip


@pytest.mark.parametrize(
    ("heard", "said"),
    [(True, "Now it is 46.4 °F."), (False, "How it stands now is not known.")],
)
def test_a_reminder_says_how_it_stands_now(post: Post, heard: bool, said: str) -> None:
    """A reminder adds the present figure, or that there is none, to the words of the raise."""
    post.hear(readings(range(46), 7.0))
    asyncio.run(post.judge.write())
    (raised,) = post.ledger.notices()
    post.ledger.record_attempt(raised.id, raised.created_ms, sent=True)
    if heard:
        post.hear(readings(range(46, 80), 8.0))
    do(post, START_MS + 79 * MINUTE_MS)
    (again,) = [e for e in post.ledger.notices() if e.kind is NoticeKind.REMINDER]
    assert said in again.body


def test_no_reminder_where_the_farm_wants_it_later(tmp_path: Path) -> None:
    """The time between reminders is the farm's own."""
    post = Post(farm(tmp_path, notices=NoticeRules(remind_after_s=7200.0)))
    post.hear(readings(range(46), 7.0))
    asyncio.run(post.judge.write())
    for each in post.ledger.notices():
        post.ledger.record_attempt(each.id, each.created_ms, sent=True)
    since_ms = post.clock.now
    do(post, since_ms + 119 * MINUTE_MS)
    assert told(post, NoticeKind.REMINDER) == []
    do(post, since_ms + 121 * MINUTE_MS)
    assert len(told(post, NoticeKind.REMINDER)) == 1
    post.close()
