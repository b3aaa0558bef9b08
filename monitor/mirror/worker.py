"""Store and forward: one step after another, in a thread of its own.

The thread has its own reader, reads pages of bounded size, and holds no lock while a request
is in flight; intake waits for none of it. After a full batch it rests as long as the batch
took to make, so that filling years of history leaves the processor to the watch.
"""

import logging
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

from monitor.clock import Clock
from monitor.errors import BusyError, CormwatchError
from monitor.farm import Mirror
from monitor.mirror.gathering import BATCH, Batch, gather, known
from monitor.mirror.lines import Lines
from monitor.mirror.places import Places, PlacesNow
from monitor.mirror.refusing import UnreachableError
from monitor.mirror.sending import Send, Sender
from monitor.mirror.settling import Settled, settle
from monitor.mirror.standing import MirrorStanding, standing_of, target
from monitor.mirror.waiting import Waits
from monitor.store import ArrivalReader, MirrorFile, lock

EVERY_S: Final = 10.0
SETTLE_MS: Final = 10_000
"""Readings younger than this wait: by then a changed configuration is written down, and a
reading is sent once, with the place in force."""
BUSY_S: Final = 5.0
STARTING_OVER: Final = "the copying to %s begins from the first reading"

log = logging.getLogger("cormwatch")


@dataclass(frozen=True)
class Source:
    """What is copied: the readings, the places of their sensors, and the time."""

    data: Path
    places: PlacesNow
    clock: Clock
    settle_ms: int = SETTLE_MS


class Forwarder:
    """Sends what waits, one step at a time; used from one thread, ``standing`` from any."""

    def __init__(
        self, mirror: Mirror, source: Source, send: Send | None = None, waits: Waits | None = None,
        batch: int = BATCH,
    ) -> None:  # fmt: skip
        self.mirror = mirror
        self._source = source
        self._send = send or Sender(mirror)
        self._waits = waits or Waits()
        self._batch = batch
        self._lines = Lines(mirror)
        self._target = target(mirror)
        self._reader = ArrivalReader(source.data / "readings.db")
        self.file = MirrorFile.open(source.data / "mirror.db")
        self.standing = standing_of(mirror, self.file)
        self.more = True

    def step(self) -> float:
        """Send one batch; return how long there is nothing more to do. [s]

        Raises
        ------
        StoreError
            If the readings or the cursor's file cannot be read or written.
        """
        began_s = time.thread_time()
        batch = self._gathered()
        self.more = batch.full
        if not batch.pieces:
            self.standing = replace(self.standing, oldest_ms=None)
            return EVERY_S
        settled = self._settled(batch)
        wait_s = self._noted(batch, settled)
        if settled.failure is None and batch.full:
            return time.thread_time() - began_s
        return wait_s

    def _gathered(self) -> Batch:
        found = self._reader.standing()
        position = self.file.position()
        if not known(position, found, self._target):
            if position.token:
                log.info(STARTING_OVER, self.standing.host)
            self.file.begin(found.token, self._target, found.last_late)
            position = self.file.position()
        until_ms = self._source.clock.now_ms() - self._source.settle_ms
        return gather(self._reader, position, until_ms, self._batch)

    def _settled(self, batch: Batch) -> Settled:
        """Send a batch; what no line can hold is refused unsent."""
        places: Places = self._source.places()
        lines: list[str] = []
        index: list[int] = []
        unsent: list[tuple[int, str]] = []
        n = 0
        for piece in batch.pieces:
            numbers = range(n, n + len(piece.series.at_ms))
            n = numbers.stop
            if why := self._lines.why_not(piece.channel):
                unsent += [(each, why) for each in numbers]
                continue
            lines += self._lines.of(piece.channel, piece.series, places)
            index += numbers
        found = settle(lines, self._send)
        done = index[found.done] if found.done < len(index) else n
        refused = [(index[at], why) for at, why in found.refused]
        refused += [(at, why) for at, why in unsent if at < done]
        return Settled(done, refused, found.failure)

    def _noted(self, batch: Batch, settled: Settled) -> float:
        now_ms = self._source.clock.now_ms()
        step = batch.progress(settled.done, settled.refused, now_ms)
        self.file.advance(batch.position.epoch, step, now_ms)
        if settled.failure is None:
            self._waits.over()
            if self.standing.failing_since_ms is not None:
                log.info("the mirror at %s takes readings again", self.standing.host)
                self.file.succeed()
            wait_s = EVERY_S
        else:
            wait_s = self._failed(settled.failure, now_ms)
        waits = settled.failure is not None or batch.full
        outcome = standing_of(self.mirror, self.file)
        self.standing = replace(outcome, oldest_ms=batch.oldest_ms if waits else None)
        return wait_s

    def _failed(self, failure: UnreachableError, now_ms: int) -> float:
        if failure.reason != self.standing.error:
            log.warning("the mirror at %s: %s", self.standing.host, failure.reason)
        self.file.fail(now_ms, failure.reason)
        return self._waits.after_failure(failure.after_s)

    def close(self) -> None:
        """Close files and connection."""
        self._reader.close()
        self.file.close()
        if isinstance(self._send, Sender):
            self._send.close()


class MirrorThread(threading.Thread):
    """Steps until it is told to stop; no failure ends it, and none is kept from ``standing``."""

    def __init__(self, make: Callable[[], Forwarder], data: Path, host: str, clock: Clock) -> None:
        super().__init__(name="mirror", daemon=True)
        self._make = make
        self._lock = data / "mirror.lock"
        self._stopping = threading.Event()
        self._forwarder: Forwarder | None = None
        self._host = host
        self._clock = clock
        self._trouble: tuple[int, str] | None = None

    @property
    def standing(self) -> MirrorStanding:
        """Return how it goes; from any thread."""
        forwarder, trouble = self._forwarder, self._trouble
        found = MirrorStanding(self._host) if forwarder is None else forwarder.standing
        if trouble is None:
            return found
        since_ms, why = trouble
        return replace(found, failing_since_ms=found.failing_since_ms or since_ms, error=why)

    def run(self) -> None:
        """Step; where ``cormwatch mirror fill`` is at work, wait until it has ended."""
        while not self._stopping.is_set():
            try:
                with lock(self._lock):
                    self._forward()
            except BusyError:
                self._stopping.wait(BUSY_S)
            except CormwatchError as failure:
                if self._failed(str(failure)):
                    log.warning("the mirror waits: %s", failure)
                self._stopping.wait(BUSY_S)
            except Exception as defect:  # it must outlive its defects; they are logged
                log.exception("the mirror has a defect; going on")
                self._failed(f"a defect in the copying: {defect!r}")
                self._stopping.wait(60.0)

    def _failed(self, why: str) -> bool:
        """Note why nothing is copied, and since when; return whether that is news."""
        since_ms, known = self._trouble or (self._clock.now_ms(), "")
        self._trouble = since_ms, why
        return why != known

    def _forward(self) -> None:
        self._forwarder = forwarder = self._make()
        try:
            while not self._stopping.is_set():
                wait_s = forwarder.step()
                self._trouble = None
                self._stopping.wait(wait_s)
        finally:
            forwarder.close()

    def stop(self, within_s: float = 1.0) -> None:
        """Ask it to end; a request in flight is left to itself, and sent again at the start."""
        self._stopping.set()
        self.join(within_s)
