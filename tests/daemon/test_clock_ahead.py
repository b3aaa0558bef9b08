"""A computer whose clock ran ahead, after it was killed and started by the right one."""

import asyncio
from pathlib import Path

from monitor.model import AlarmKind, Flag
from tests.daemon.made import HandClock, Post, farm, readings
from tests.watch.made import HOUR_MS, MINUTE_MS, START_MS


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
