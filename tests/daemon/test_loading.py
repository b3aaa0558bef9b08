"""A loading that another process writes down, as a running daemon and a restarted one see it."""

import asyncio

from monitor.alarms import say_aside
from monitor.batches.loading import end_loading, load
from monitor.model import Alarm, AlarmState, NoticeKind
from tests.daemon.made import Post, readings
from tests.watch.made import MINUTE_MS, START_MS

_UNTIL_MS = START_MS + 60 * MINUTE_MS


def _loaded(post: Post) -> Alarm:
    """Return the alarm of a cooler that has been loaded for 45 minutes."""
    post.hear(readings(range(-60, 0), 3.0))
    post.ledger.write_entries(load("cooler", _UNTIL_MS, "Ida", START_MS), START_MS)
    post.judge.reread(post.ledger.entries(), START_MS)
    post.hear(readings(range(46), 7.0))
    asyncio.run(post.judge.write())
    (alarm,) = post.ledger.alarms()
    return alarm


def _told(post: Post, alarm: Alarm) -> list[NoticeKind]:
    asyncio.run(post.judge.write())
    return [each.kind for each in post.ledger.notices_of(alarm.id)]


def test_nobody_is_told_of_warm_air_in_a_loading(post: Post) -> None:
    """The alarm is kept, says until when it is expected, and tells nobody."""
    alarm = _loaded(post)
    assert alarm.state is AlarmState.SUPPRESSED
    said = say_aside(alarm, post.judge.words, post.clock.now)
    assert said.startswith("expected until ")
    assert said.endswith(": loading")
    assert not _told(post, alarm)


def test_the_end_of_the_hold_is_told_after_a_restart_too(post: Post) -> None:
    """A daemon started anew in the hold tells when it ends, not before."""
    alarm = _loaded(post)
    judge = post.start()
    judge.tick(post.clock.now + MINUTE_MS)
    assert not _told(post, alarm)
    post.hear(readings(range(46, 60), 7.0))
    assert not _told(post, alarm)
    assert judge.next_due_ms is not None
    assert judge.next_due_ms <= _UNTIL_MS
    judge.tick(_UNTIL_MS)
    assert _told(post, alarm) == [NoticeKind.RAISED]
    assert post.ledger.alarm(alarm.id).state is AlarmState.UNACKNOWLEDGED


def test_a_hold_ended_by_hand_is_told_at_once(post: Post) -> None:
    """The entry that ends the loading is enough: no reading need come."""
    alarm = _loaded(post)
    post.ledger.write_entries(end_loading("cooler", "Ida", post.clock.now), post.clock.now)
    post.judge.reread(post.ledger.entries(), post.clock.now)
    assert _told(post, alarm) == [NoticeKind.RAISED]
