"""The part that judges as time passes, follows the clock, and sees to the ledger.

A ledger or a readings file that fails for a while is told in the log and tried again at
the next turn: it ends nothing, since hearing and judging go on without it.
"""

import asyncio
import contextlib
import logging
from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from typing import Final

from monitor.clock import Clock, monotonic_s
from monitor.daemon import aside, chores, losing
from monitor.daemon.alive import tell_manager
from monitor.daemon.heartbeat import Heartbeat
from monitor.daemon.intake import Intake
from monitor.daemon.judge import Judge
from monitor.daemon.room import Disk
from monitor.errors import StoreError
from monitor.model import AlarmKind
from monitor.store import ReadingStore

log = logging.getLogger("cormwatch")

_TURN_S: Final = 1.0
_CHORES_S: Final = 10.0
_NOTE_S: Final = 30.0
_AWAY_S: Final = 180.0
_JOIN_S: Final = 5.0  # real: a few tries to join a broker, however fast the clock runs


@dataclass
class Watching:
    """Turns once a second, or as soon as something is due; ``wake_courier`` after writing."""

    judge: Judge
    intake: Intake
    store: ReadingStore
    clock: Clock
    wake_courier: Callable[[], None]
    heart: Heartbeat | None = None
    disk: Disk | None = None

    def __post_init__(self) -> None:
        self.woken = asyncio.Event()
        self._version: int | None = None  # the first turn looks at the ledger in any case
        self._chores_s = float("-inf")
        self._noted_s = monotonic_s()
        self._said: dict[str, str] = {}
        self._owed_ms = 0  # by how much the clock jumped that the outbox has not followed yet

    async def run(self) -> None:
        """Turn until cancelled; feeds the service manager's watchdog."""
        while True:
            await self._nap()
            await self._follow_clock()
            now_ms = self.clock.now_ms()  # not before: the state has moved with the clock
            away_s = self.intake.away_s()
            self.judge.hears(now_ms, deaf=away_s > 0.0)
            self.judge.tick(now_ms)
            lost_s = max(self.clock.real_seconds(_AWAY_S), _JOIN_S)
            self.judge.own(AlarmKind.BROKER_LOST, now_ms, bad=away_s > lost_s)
            await self._unhindered("reading the ledger", self._see_ledger, now_ms)
            await self.judge.write()
            await self._unhindered("ending what was kept quiet", self._end_quiet, now_ms)
            await self._unhindered("reminders and the morning", self._now_and_then, now_ms)
            await self._unhindered("the heartbeat", self._beat, now_ms)
            tell_manager("WATCHDOG=1")

    async def _nap(self) -> None:
        due_ms = self.judge.next_due_ms
        wait_s = _TURN_S
        if due_ms is not None:
            left_s = self.clock.real_seconds((due_ms - self.clock.now_ms()) / 1000)
            wait_s = min(max(left_s, 0.0), _TURN_S)
        with contextlib.suppress(TimeoutError):
            await asyncio.wait_for(self.woken.wait(), wait_s)
        self.woken.clear()

    async def _follow_clock(self) -> None:
        by_ms = self.clock.step_ms()
        if by_ms:
            now_ms = self.clock.now_ms()
            self.judge.clock_stepped(now_ms, by_ms)
            await self.intake.clock_stepped(now_ms, by_ms)
            self._owed_ms += by_ms
        if self._owed_ms:
            await self._unhindered("moving what waits", self._move_waiting, self.clock.now_ms())

    async def _move_waiting(self, now_ms: int) -> None:
        await asyncio.to_thread(chores.follow_clock, self.judge, now_ms, self._owed_ms)
        self._owed_ms = 0

    async def _see_ledger(self, now_ms: int) -> None:
        """Look at the ledger again where another process, a sender or a page has written."""
        version = await asyncio.to_thread(self.judge.ledger.data_version)
        if version != self._version or self.judge.unread:
            self.judge.unread = False
            self.judge.reread(await asyncio.to_thread(self.judge.ledger.entries), now_ms)
            self._version = version
            self.wake_courier()

    async def _end_quiet(self, now_ms: int) -> None:
        if await asyncio.to_thread(aside.end_what_is_over, self.judge, now_ms):
            self.judge.on_change()
            self.wake_courier()

    async def _beat(self, _now_ms: int) -> None:
        if self.heart is not None:
            await asyncio.to_thread(self.heart.turned)

    async def _now_and_then(self, now_ms: int) -> None:
        now_s = monotonic_s()
        if now_s - self._chores_s >= self.clock.real_seconds(_CHORES_S):
            self._chores_s = now_s
            await asyncio.to_thread(self._do_chores, now_ms)
            self.wake_courier()
        if now_s - self._noted_s >= _NOTE_S:
            self._noted_s = now_s
            await asyncio.to_thread(self.judge.note_judged)

    def _do_chores(self, now_ms: int) -> None:
        reader = self.store.reader()
        try:
            losing.mind(self.judge)
            chores.do(self.judge, reader, now_ms)
            if self.disk is not None:
                self.disk.mind(self.judge, now_ms)
        finally:
            reader.close()

    async def _unhindered(
        self, what: str, work: Callable[[int], Awaitable[None]], now_ms: int
    ) -> None:
        """Do what a failing file may keep from being done; say so once, not each turn."""
        try:
            await work(now_ms)
        except StoreError as failure:
            if self._said.get(what) != str(failure):
                self._said[what] = str(failure)
                log.error("%s is put off: %s", what, failure)  # noqa: TRY400 - expected
        else:
            self._said.pop(what, None)
