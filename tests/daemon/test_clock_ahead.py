"""A computer whose clock was wrong for a while, after it was killed and started again."""

import asyncio
from dataclasses import replace
from pathlib import Path

import pytest

from monitor.model import AlarmKind, Flag, Quantity
from tests.daemon.made import HandClock, Post, farm, readings
from tests.watch.made import HOUR_MS, MINUTE_MS, START_MS, sensor


def test_what_a_clock_that_ran_ahead_has_timed_blinds_nobody_after_a_restart(
    tmp_path: Path,
) -> None:
    """Killed by a clock a day ahead and started by the right one: judged, told and ended as ever.

    An alarm that stands then returns by the readings that follow; another is raised in time.
    """
    clock = HandClock(START_MS + 24 * HOUR_MS)
    post = Post(farm(tmp_path), clock)
    for minute in range(60):
        post.hear(readings([24 * 60 + minute], 8.0 if minute < 40 else 9.0, flags=Flag.NONE))
    asyncio.run(post.judge.write())
    assert [each.key.kind for each in post.ledger.alarms()] == [AlarmKind.TOO_WARM]
    clock.now = START_MS
    post.start()
    for minute in range(20):
        clock.now = START_MS + minute * MINUTE_MS
        post.hear(readings([minute], 3.0, flags=Flag.NONE))
    asyncio.run(post.judge.write())
    assert [each.active for each in post.ledger.alarms()] == [False]
    for minute in range(20, 60):
        clock.now = START_MS + minute * MINUTE_MS
        post.hear(readings([minute], 8.0, flags=Flag.NONE))
    asyncio.run(post.judge.write())
    (alarm,) = post.ledger.alarms()
    assert alarm.active
    kinds = [each.kind.value for each in reversed(post.ledger.notices())]
    assert kinds == ["raised", "cleared", "raised"]
    post.close()


def timed_wrong(post: Post, by_min: int, first: int, value_c: float) -> None:
    """Hear a quarter of an hour by a clock that is off by so much; then it is set right."""
    by_ms, wrong = by_min * MINUTE_MS, range(first + by_min, first + by_min + 15)
    post.clock.now += by_ms
    post.judge.clock_stepped(post.clock.now, by_ms)
    for minute in wrong:
        post.clock.now = START_MS + minute * MINUTE_MS
        back = Flag.CLOCK_UNSURE if by_min < 0 else Flag.NONE  # as the stamper does
        post.hear(readings([minute], value_c, flags=back))
    asyncio.run(post.judge.write())
    post.clock.now -= by_ms
    post.judge.clock_stepped(post.clock.now, -by_ms)
    times = [START_MS + minute * MINUTE_MS for minute in wrong]
    post.store.mark_unsure(times[0], times[-1])


@pytest.mark.parametrize("by_min", [24 * 60, 17, -120])
def test_what_ended_while_the_clock_was_wrong_is_not_told_again(
    tmp_path: Path, by_min: int
) -> None:
    """Killed before the right clock has timed a reading: the ledger says that it is over."""
    patient = replace(sensor("north", [Quantity.TEMPERATURE]), silent_after_s=3600.0)
    post = Post(farm(tmp_path, sensors=[patient]))
    for minute in range(240):
        post.hear(readings([minute], 8.0 if minute >= 200 else 3.0, flags=Flag.NONE))
    timed_wrong(post, by_min, 240, 3.0)
    post.start()
    for minute in range(256, 266):
        post.hear(readings([minute], 3.0, flags=Flag.NONE))
    asyncio.run(post.judge.write())
    assert [(each.key.kind, each.active) for each in post.ledger.alarms()] == [
        (AlarmKind.TOO_WARM, False)
    ]
    assert [each.kind.value for each in post.ledger.notices()] == ["cleared", "raised"]
    post.close()


@pytest.mark.parametrize("by_min", [24 * 60, 17, -120])
def test_what_was_raised_while_the_clock_was_wrong_ends_by_news_alone(
    tmp_path: Path, by_min: int
) -> None:
    """Killed before the right clock has timed a reading: it stands, and returns when it is so."""
    post = Post(farm(tmp_path))
    for minute in range(240):
        post.hear(readings([minute], 8.0 if minute >= 220 else 3.0, flags=Flag.NONE))
    timed_wrong(post, by_min, 240, 9.0)
    post.start()
    asyncio.run(post.judge.write())
    post.hear(readings([256], 8.0, flags=Flag.NONE))
    asyncio.run(post.judge.write())
    assert [each.kind.value for each in post.ledger.notices()] == ["raised"]
    for minute in range(257, 280):
        post.hear(readings([minute], 3.0, flags=Flag.NONE))
    asyncio.run(post.judge.write())
    assert [each.active for each in post.ledger.alarms()] == [False]
    assert [each.kind.value for each in post.ledger.notices()] == ["cleared", "raised"]
    post.close()
