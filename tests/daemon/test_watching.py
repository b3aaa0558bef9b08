"""Turning once a second, whatever the clock does."""

import asyncio
from typing import cast

from monitor.daemon.intake import Intake
from monitor.daemon.watching import Watching
from monitor.model import Flag, Notice, NoticeKind
from tests.daemon.made import Post, readings


class StillIntake:
    """An intake that has its broker, and hears nothing."""

    def away_s(self) -> float:
        """Return that the broker is there. [s]"""
        return 0.0

    async def clock_stepped(self, _now_ms: int, _by_ms: int) -> None:
        """Take the clock as it is."""


def test_a_clock_that_stepped_back_silences_nobody(post: Post) -> None:
    """The turn that follows the clock judges by the time after the step."""
    post.hear(readings(range(10), 3.0, flags=Flag.NONE))
    post.clock.jump = -13 * 86_400_000
    _turn(post)
    assert post.clock.jump == 0
    assert not post.judge.pending
    assert post.ledger.alarms() == []


def test_what_waits_in_the_outbox_goes_back_with_the_clock(post: Post) -> None:
    """A medium notice of an hour's wait waits that hour by the clock that was set back a day."""
    now_ms = post.clock.now
    row = Notice(
        0, None, NoticeKind.TOLD, "ida", "1", "Nobody is on duty", "Text.", now_ms,
        now_ms + 12 * 3_600_000, priority="medium",
    )  # fmt: skip
    post.ledger.add_notices([row])
    post.clock.jump = -86_400_000
    _turn(post)
    (waiting,) = post.ledger.notices()
    assert waiting.due_ms == now_ms - 12 * 3_600_000


def _turn(post: Post) -> None:
    async def one_turn() -> None:
        turned = asyncio.Event()
        intake = cast("Intake", StillIntake())
        watching = Watching(post.judge, intake, post.store, post.clock, turned.set)
        watching.woken.set()
        running = asyncio.create_task(watching.run())
        await asyncio.wait_for(turned.wait(), 10)
        running.cancel()
        await asyncio.gather(running, return_exceptions=True)

    asyncio.run(one_turn())
