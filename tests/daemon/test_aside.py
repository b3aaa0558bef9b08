"""What is kept quiet ends in time, whatever was restarted in between."""

import asyncio
from collections.abc import Sequence
from pathlib import Path

import pytest

from monitor import alarms
from monitor.alarms import Quiet
from monitor.daemon.aside import Desk, end_what_is_over
from monitor.errors import LedgerRuleError, UnknownNameError
from monitor.model import Alarm, AlarmState, NoticeKind
from tests.daemon.made import Post, farm, readings
from tests.watch.made import HOUR_MS, START_MS

QUIET_MS = 2 * HOUR_MS


def _desk(post: Post) -> Desk:
    return Desk(post.farm, post.ledger, post.judge.book)


def _raise(post: Post) -> Alarm:
    """Let the cooler be too warm until an alarm tells so."""
    post.hear(readings(range(46), 7.0))
    asyncio.run(post.judge.write())
    (alarm,) = post.ledger.alarms(open_only=True)
    return alarm


def _shelve(post: Post, *, once: bool = False) -> Alarm:
    alarm = _raise(post)
    quiet = Quiet("Ida", "loading stems", post.clock.now + QUIET_MS, once)
    said = _desk(post).put_aside(alarm.id, quiet, post.clock.now)
    assert said.startswith(f"alarm {alarm.id} is quiet until ")
    return post.ledger.alarm(alarm.id)


def _kinds(post: Post) -> Sequence[NoticeKind]:
    return [each.kind for each in reversed(post.ledger.notices())]


def _end(post: Post, now_ms: int) -> bool:
    post.clock.now = now_ms
    return end_what_is_over(post.judge, now_ms)


def test_quiet_ends_by_itself_and_tells_afresh(post: Post) -> None:
    """At its time, not before, what still holds is told again with how it stands now."""
    until_ms = _shelve(post).until_ms or 0
    assert not _end(post, until_ms - 1)
    assert _end(post, until_ms)
    assert not _end(post, until_ms)
    assert _kinds(post) == [NoticeKind.RAISED, NoticeKind.RAISED]
    assert "It was kept quiet for a while, and still holds." in post.ledger.notices()[0].body


@pytest.mark.parametrize("while_stopped", [False, True])
def test_a_restart_neither_ends_nor_lengthens_quiet(tmp_path: Path, while_stopped: bool) -> None:
    """A daemon started anew raises nothing that is quiet, and ends at once what is over."""
    post = Post(farm(tmp_path))
    alarm = _shelve(post)
    until_ms = alarm.until_ms or 0
    post.clock.now = until_ms + HOUR_MS if while_stopped else until_ms - HOUR_MS
    post.keep(readings(range(46, 46 + 60), 7.0))
    post.start()
    asyncio.run(post.judge.write())
    assert post.ledger.alarm(alarm.id).state is AlarmState.SHELVED
    assert NoticeKind.RAISED not in _kinds(post)[1:]
    assert _end(post, post.clock.now) is while_stopped
    assert _end(post, until_ms + HOUR_MS) is not while_stopped
    assert _kinds(post)[:2] == [NoticeKind.RAISED, NoticeKind.RAISED]
    post.close()


def test_a_return_beneath_the_quiet_is_no_news_after_a_restart(post: Post) -> None:
    """Back in band while quiet, started anew, out again: one row, no notice, told in the end."""
    alarm = _shelve(post)
    post.hear(readings(range(46, 60), 3.0))
    asyncio.run(post.judge.write())
    assert not post.ledger.alarm(alarm.id).active
    post.start()
    post.hear(readings(range(60, 110), 7.0))
    asyncio.run(post.judge.write())
    (again,) = post.ledger.alarms()
    assert (again.id, again.state, again.active) == (alarm.id, AlarmState.SHELVED, True)
    assert _kinds(post) == [NoticeKind.RAISED]
    assert _end(post, alarm.until_ms or 0)
    assert post.ledger.alarm(alarm.id).state is AlarmState.UNACKNOWLEDGED


def test_what_returned_while_quiet_ends_without_a_word(post: Post) -> None:
    """Over when its time comes, or with the return where it was once, nobody is told."""
    alarm = _shelve(post)
    post.hear(readings(range(46, 60), 3.0))
    asyncio.run(post.judge.write())
    assert _end(post, alarm.until_ms or 0)
    assert post.ledger.alarm(alarm.id).state is AlarmState.NORMAL
    assert _kinds(post) == [NoticeKind.RAISED]


def test_once_ends_as_the_place_is_back(post: Post) -> None:
    """Quiet once, the return ends the alarm, and a raise after it is told."""
    alarm = _shelve(post, once=True)
    post.hear(readings(range(46, 60), 3.0))
    asyncio.run(post.judge.write())
    assert post.ledger.alarm(alarm.id).state is AlarmState.NORMAL
    post.hear(readings(range(60, 110), 7.0))
    asyncio.run(post.judge.write())
    assert _kinds(post) == [NoticeKind.RAISED, NoticeKind.RAISED]


def test_a_clock_put_back_a_day_ends_the_quiet(post: Post) -> None:
    """Quiet of two hours never becomes a day: it ends, and what holds is told."""
    alarm = _shelve(post)
    assert _end(post, post.clock.now - 24 * HOUR_MS)
    assert post.ledger.alarm(alarm.id).state is AlarmState.UNACKNOWLEDGED


def test_by_hand_it_ends_with_the_name(post: Post) -> None:
    """Taken back by hand, what still holds is told with who ended the quiet."""
    alarm = _shelve(post)
    take = alarms.take_back("Bo", post.clock.now)
    said = _desk(post).take_back(alarm.id, take, "Bo", post.clock.now)
    assert said == f"alarm {alarm.id} is told again: what is wrong still holds"
    assert "Bo has ended its being kept quiet" in post.ledger.notices()[0].body
    again = _desk(post).take_back(alarm.id, take, "Bo", post.clock.now)
    assert "is not put aside; nothing changed" in again


def test_what_is_not_there_is_refused(post: Post) -> None:
    """An unknown number, and a year of quiet, write nothing."""
    quiet = Quiet("Ida", "loading", START_MS + QUIET_MS)
    with pytest.raises(UnknownNameError, match="there is no alarm 77"):
        _desk(post).put_aside(77, quiet, START_MS)
    alarm = _raise(post)
    year = Quiet("Ida", "loading", START_MS + 365 * 24 * HOUR_MS)
    with pytest.raises(LedgerRuleError, match="24 h at most"):
        _desk(post).put_aside(alarm.id, year, START_MS)
    assert post.ledger.alarm(alarm.id) == alarm
