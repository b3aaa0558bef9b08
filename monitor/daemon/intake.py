"""Intake as one part: a session with the broker, and the worker that answers for it."""

import asyncio
import contextlib
import json
import logging
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import partial
from math import inf
from typing import Any, Final

from monitor.clock import Clock, monotonic_s
from monitor.daemon.keeping import Keeping
from monitor.errors import StoreError
from monitor.farm import Farm
from monitor.intake import Decoder, Screen, Stamper
from monitor.intake.screening import UNIT_WINDOW_MS
from monitor.model import Flag, Reading
from monitor.mqtt.embedded import EmbeddedBroker
from monitor.mqtt.joining import settings_for
from monitor.mqtt.session import Session
from monitor.mqtt.status import EventKind, SessionEvent, SessionStatus
from monitor.mqtt.worker import IntakeCounts, IntakeWorker, Owed, Told
from monitor.store import ReadingReader

log = logging.getLogger("cormwatch")

_AHEAD_MS: Final = 86_400_000
_MARKED_MS: Final = 31 * 86_400_000
_SPAN_MS: Final = 21_600_000


@dataclass
class Intake:
    """Runs a session and its worker, anew whenever the broker's settings change.

    ``broker`` is the embedded one where the farm has none of its own.
    """

    farm: Callable[[], Farm]
    store: Keeping
    clock: Clock
    told: Told
    broker: EmbeddedBroker | None
    owed: Owed = field(default_factory=Owed)
    session: Session | None = None
    worker: IntakeWorker | None = None
    away_since_s: float = field(default_factory=monotonic_s)
    last_event: SessionEvent | None = None
    trouble: SessionEvent | None = None

    def __post_init__(self) -> None:
        self._again = asyncio.Event()
        self.counts = IntakeCounts()
        reader = self.store.reader()
        newest = reader.newest()
        self._expect = bool(reader.window())
        believed = list(believed_before(reader, newest.values()))
        reader.close()
        # A clock that once ran days ahead is no measure for the one there is now.
        latest_ms = self.clock.now_ms() + _AHEAD_MS
        # Nor is what it timed before it was set right.
        sure = {each: r for each, r in newest.items() if not r.flags & Flag.CLOCK_UNSURE}
        seeds = {each: r.at_ms for each, r in sure.items() if r.at_ms < latest_ms}
        # Only times of receipt are this computer's own clock: a sensor's may run ahead.
        own = [each for each in sure.values() if not each.flags & Flag.DEVICE_TIME]
        timed_ms = max((e.received_ms for e in own if e.received_ms < latest_ms), default=0)
        self._stamper = Stamper(seeds, timed_ms)  # which marks what falls behind that
        self._timed_from_ms = max(self.clock.now_ms(), timed_ms + 1)
        self._marking: set[asyncio.Task[None]] = set()
        self._screen = Screen(newest.values(), believed)

    async def run(self) -> None:
        """Take in until cancelled."""
        while True:
            self._again.clear()
            await self._once()

    async def _once(self) -> None:
        farm = self.farm()
        self.session = session = Session(
            settings_for(farm, expect_session=self._expect, embedded=self.broker),
            self.clock, on_event=self._heard_of,
        )  # fmt: skip
        self.worker = worker = IntakeWorker(
            source=session, store=self.store, told=self.told,
            decoder=Decoder(farm.sensors.values(), self._screen), stamper=self._stamper,
            window=self._window(), counts=self.counts, owed=self.owed,
        )  # fmt: skip
        session.start()
        running = asyncio.create_task(worker.run())
        asked = asyncio.create_task(self._again.wait())
        try:
            await asyncio.wait([running, asked], return_when=asyncio.FIRST_COMPLETED)
            if running.done():
                await running
        finally:
            asked.cancel()
            running.cancel()
            await asyncio.gather(running, asked, return_exceptions=True)
            await asyncio.to_thread(session.stop)
            self._expect = True

    def _window(self) -> list[tuple[int, int]]:
        reader = self.store.reader()
        window = reader.window()
        reader.close()
        return window

    def use(self, farm: Farm, *, reconnect: bool) -> None:
        """Decode by another configuration; connect anew where the broker has changed."""
        if reconnect:
            self._again.set()
        elif self.worker is not None:
            self.worker.use(Decoder(farm.sensors.values(), self._screen))

    async def clock_stepped(self, now_ms: int, by_ms: int) -> None:
        """Stamp by the clock as it is now, from the next pack on: it was set right.

        What it has timed since the start, or since it was last set, is marked beside that.
        """
        since_ms, self._timed_from_ms = self._timed_from_ms, now_ms
        await self._in_writer(self._stamper.trust_clock)
        until_ms = now_ms - by_ms
        marking = asyncio.create_task(self._mark(max(since_ms, until_ms - _MARKED_MS), until_ms))
        self._marking.add(marking)
        marking.add_done_callback(self._marking.discard)

    async def _mark(self, first_ms: int, until_ms: int) -> None:
        """Mark what a wrong clock timed, the newest first, in spans that hold up no reading."""
        try:
            while until_ms >= first_ms:
                since_ms = max(first_ms, until_ms - _SPAN_MS)
                await self._in_writer(partial(self.store.mark_unsure, since_ms, until_ms))
                until_ms = since_ms - 1
        except StoreError as failure:
            log.error("readings of before the jump stay unmarked: %s", failure)  # noqa: TRY400

    async def _in_writer(self, what: Callable[[], object]) -> None:
        if self.worker is not None:
            with contextlib.suppress(RuntimeError):  # its writer has just ended
                await self.worker.in_writer(what)
                return
        what()

    def status(self) -> SessionStatus | None:
        """Return how the session stands, or None before the first one."""
        return self.session.status() if self.session else None

    def say(self, body: Mapping[str, Any]) -> None:
        """Publish a heartbeat at the broker, where a topic for it is set."""
        if self.session is not None:
            self.session.say(json.dumps({"state": "online", **body}).encode())

    def away_s(self) -> float:
        """Return for how long there has been no broker; 0 while there is one. [s]"""
        status = self.status()
        if status is not None and status.connected:
            self.away_since_s = monotonic_s()
            return 0.0
        return monotonic_s() - self.away_since_s

    def _heard_of(self, event: SessionEvent) -> None:
        level = logging.INFO if event.kind is EventKind.CONNECTED else logging.WARNING
        log.log(level, "broker: %s", event.text)
        self.last_event = event
        if event.kind in {EventKind.UNSTABLE, EventKind.MUTE}:
            self.trouble = event


def believed_before(reader: ReadingReader, newest: Iterable[Reading]) -> Iterator[Reading]:
    """Yield the last reading that was believed of each channel whose newest is suspect."""
    for each in newest:
        if not each.flags & Flag.SUSPECT:
            continue
        since_ms = each.at_ms - UNIT_WINDOW_MS
        at_ms = reader.last_between(
            each.channel, each.at_ms, above=-inf, below=inf, since_ms=since_ms
        )
        if at_ms is not None:
            series = reader.series(each.channel, at_ms, at_ms + 1)
            yield replace(each, at_ms=at_ms, raw=float(series.raw[-1]), flags=Flag.NONE)
