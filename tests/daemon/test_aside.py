"""What is kept quiet ends in time, whatever was restarted in between."""

import asyncio
from collections.abc import Sequence
from pathlib import Path

import pytest
from pydantic import SecretStr

from monitor import alarms
from monitor.alarms import Quiet
from monitor.daemon import ringing
from monitor.daemon.aside import Desk, end_what_is_over
from monitor.errors import LedgerRuleError, UnknownNameError
from monitor.farm import Person
from monitor.model import Alarm, AlarmState, NoticeKind
from tests.daemon.made import Post, farm, readings
from tests.watch.made import HOUR_MS, START_MS

QUIET_MS = 2 * HOUR_MS
TWO = {each: Person(each, each.title(), (SecretStr("json://x"),)) for each in ("ida", "bo")}


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


def _taken_back(post: Post, alarm: Alarm, by: str) -> None:
    now_ms = post.clock.now
    _desk(post).take_back(alarm.id, alarms.take_back(by, now_ms), by, now_ms)


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


def test_whoever_watches_again_is_not_rung_for_it(post: Post) -> None:
    """Ended by hand nobody is rung at once: whoever did it has seen what still holds."""
    alarm = _shelve(post)
    take = alarms.take_back("Ida", post.clock.now)
    said = _desk(post).take_back(alarm.id, take, "Ida", post.clock.now)
    assert said.startswith(f"alarm {alarm.id} is watched again: what is wrong still holds")
    assert post.ledger.alarm(alarm.id).acknowledged_by == "Ida"
    assert _kinds(post) == [NoticeKind.RAISED]
    again = _desk(post).take_back(alarm.id, take, "Ida", post.clock.now)
    assert "is not put aside; nothing changed" in again


def test_what_is_watched_again_and_does_not_get_better_rings(tmp_path: Path) -> None:
    """Half an hour later it rings whoever ended the quiet, and where that is no use the next."""
    post = Post(farm(tmp_path, people=TWO))
    alarm = _shelve(post)
    _taken_back(post, alarm, "Bo")
    before = len(_kinds(post))
    rung: list[tuple[int, str]] = []
    for minute in range(46, 46 + 60):
        post.hear(readings([minute], 7.0))
        asyncio.run(post.judge.write())
        ringing.do(post.judge, post.clock.now)
        rows = post.ledger.notices_of(alarm.id)
        rung += [(minute - 45, each.person) for each in rows[before + len(rung) :]]
    assert rung == [(30, "bo"), (45, "ida")]
    post.close()


def test_who_has_not_heard_of_it_is_told_when_it_is_watched_again(tmp_path: Path) -> None:
    """What was raised beneath the quiet is told to the others, and not to who ended that."""
    post = Post(farm(tmp_path, people=TWO))
    alarm = _shelve(post)
    post.hear(readings(range(46, 60), 3.0))
    asyncio.run(post.judge.write())
    post.hear(readings(range(60, 110), 7.0))
    asyncio.run(post.judge.write())
    before = len(post.ledger.notices_of(alarm.id))
    _taken_back(post, alarm, "bo")
    (row,) = post.ledger.notices_of(alarm.id)[before:]
    assert (row.person, row.kind, row.due_ms) == ("ida", NoticeKind.RAISED, post.clock.now)
    assert row.body.endswith("It was kept quiet until now; bo has seen it.")
    post.close()


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
