"""The intake worker: from messages to stored readings, acknowledged after the commit.

Whenever the one writer thread is free it takes what waits: decodes, stamps, commits and
acknowledges it there, then hands it on in the event loop. Hearing outranks keeping: when
commits have failed for ten seconds, readings are handed on unstored.
"""

import asyncio
import logging
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from functools import partial
from typing import Final, Protocol, TypeVar

from monitor.clock import monotonic_s
from monitor.errors import StoreError
from monitor.model import Message, Reading, Refusal
from monitor.mqtt.preparing import Decodes, Pack, Preparing, Stamps, unkept
from monitor.mqtt.redelivery import Window
from monitor.store import Commit, Committed, Gap

log = logging.getLogger(__name__)

T = TypeVar("T")

PACK: Final = 2_000
PACKS: Final = 4
"""Packs the writer keeps in one go: the loop is never more than these behind."""
PATIENCE_S: Final = 10.0
RETRY_S: Final = 0.5


class Source(Protocol):
    """Where messages come from and are answered for: a session, or a fake of it."""

    on_waiting: Callable[[], None]

    def take(self, most: int) -> list[Message]:
        """Return waiting messages, oldest first; none arms the wake-up."""

    def ack(self, messages: Sequence[Message]) -> None:
        """Acknowledge messages in order."""

    def is_own(self, topic: str) -> bool:
        """Return whether a topic carries no reading but our own messages."""


class Keeps(Protocol):
    """Where a pack is written in one transaction."""

    def commit(self, work: Commit) -> Committed:
        """Write all of it or nothing."""


@dataclass
class Owed:
    """What was heard and not kept, until the store can say so; ``told`` that it is known of."""

    gap: Gap | None = None
    told: bool = False

    def owe(self, gap: Gap | None) -> None:
        """Keep it in mind, or None where the store has said it."""
        self.gap = gap


@dataclass(frozen=True, slots=True)
class Taken:
    """What a pack brought, handed on in the event loop; ``stored`` False is a gap."""

    readings: Sequence[Reading]
    last_known: Sequence[Reading]
    refusals: Sequence[Refusal]
    heard: dict[str, int]
    stored: bool


def _ignore(_reason: str = "") -> None:
    """Take no notice."""


@dataclass
class Told:
    """Whom the worker tells, always in the event loop."""

    taken: Callable[[Taken], None]
    store_failed: Callable[[str], None] = _ignore
    store_back: Callable[[], None] = _ignore


@dataclass(frozen=True, slots=True)
class Failed:
    """A pack that could not be kept yet, and why."""

    pack: Pack
    why: Exception


@dataclass(slots=True)
class IntakeCounts:
    """Totals since the start, for health pages and metrics."""

    messages: int = 0
    readings: int = 0
    redelivered: int = 0
    repeated: int = 0
    conflicting: int = 0
    refused: int = 0
    unclaimed: int = 0
    unstored: int = 0
    commits: int = 0
    defects: int = 0


@dataclass
class IntakeWorker:
    """Takes packs from a source and keeps them; ``run`` goes on until it is cancelled."""

    source: Source
    store: Keeps
    told: Told
    decoder: Decodes
    stamper: Stamps
    window: Sequence[tuple[int, int]] = ()
    patience_s: float = PATIENCE_S
    retry_s: float = RETRY_S
    counts: IntakeCounts = field(default_factory=IntakeCounts)
    owed: Owed = field(default_factory=Owed)

    def __post_init__(self) -> None:
        self._preparing = Preparing(
            self.decoder, self.stamper, Window(self.window), self.source.is_own
        )
        self._writer = ThreadPoolExecutor(1, thread_name_prefix="readings-writer")
        self._wake = asyncio.Event()
        self._failing_since_s: float | None = None

    @property
    def failing(self) -> bool:
        """True while readings cannot be kept."""
        return self.owed.told

    def use(self, decoder: Decodes) -> None:
        """Decode by another configuration from the next pack on."""
        self._preparing.decoder = decoder

    async def in_writer(self, what: Callable[[], T]) -> T:
        """Do something where readings are written, between two packs; return its result.

        The store and the stamper belong to that one thread.
        """
        return await asyncio.get_running_loop().run_in_executor(self._writer, what)

    async def run(self) -> None:
        """Take, keep and hand on until cancelled; what was taken is finished first."""
        loop = asyncio.get_running_loop()
        self.source.on_waiting = lambda: _in_loop(loop, self._wake.set)
        try:
            while True:
                failed = await loop.run_in_executor(self._writer, self._work, loop)
                if isinstance(failed, Failed):
                    stored = await self._insist(failed.pack, failed.why)
                    self._hand_on(failed.pack, stored=stored)
                elif not failed:
                    await self._wake.wait()
                    self._wake.clear()
        finally:
            self.source.on_waiting = _ignore
            await asyncio.to_thread(self._writer.shutdown)

    async def _insist(self, pack: Pack, why: Exception) -> bool:
        """Try again for as long as patience lasts; False when the pack stays unstored."""
        loop = asyncio.get_running_loop()
        failure: Exception | None = why
        while failure is not None:
            now_s = monotonic_s()
            if self._failing_since_s is None:
                self._failing_since_s = now_s
            if now_s - self._failing_since_s >= self.patience_s:
                await loop.run_in_executor(self._writer, self._give_up, pack)
                if not self.owed.told:
                    self.owed.told = True
                    self._tell(self.told.store_failed, str(failure))
                return False
            await asyncio.sleep(self.retry_s)
            failure = await loop.run_in_executor(self._writer, self._attempt, pack)
        return True

    # -- in the writer thread ----------------------------------------------------------

    def _work(self, loop: asyncio.AbstractEventLoop) -> "Failed | bool":
        """Take and keep a few packs; return whether there was any, or what went wrong."""
        for number in range(PACKS):
            messages = self.source.take(PACK)
            if not messages:
                return number > 0
            pack = self._preparing.prepare(messages)
            failure = self._attempt(pack)
            if failure is not None:
                return Failed(pack, failure)
            _in_loop(loop, partial(self._hand_on, pack, stored=True))
        return True

    def _give_up(self, pack: Pack) -> None:
        """Acknowledge what cannot be kept, and count it as a gap."""
        times, gap = [message.received_ms for message in pack.messages], self.owed.gap
        begun, count = (gap.from_ms, gap.count) if gap else (min(times), 0)
        count += len(pack.readings)
        self.owed.owe(Gap(begun, max(times), "the store could not write", count))
        self._preparing.window.forget()
        self.source.ack(pack.messages)
        self.counts.unstored += len(pack.readings)

    def _attempt(self, pack: Pack) -> Exception | None:
        """Commit, then acknowledge; return what went wrong."""
        try:
            self._keep(pack)
        except StoreError as failure:
            return failure
        except Exception:
            log.exception("a commit met a defect of ours; its readings are tried one by one")
            self.counts.defects += 1
            try:
                self._keep_sound(pack)
            except Exception as defect:  # noqa: BLE001  # told, and tried again
                return defect
        self._preparing.window.keep()
        self.source.ack(pack.messages)
        return None

    def _keep(self, pack: Pack) -> None:
        if self.owed.gap is not None:
            self.store.commit(Commit(gaps=(self.owed.gap,)))
            self.owed.owe(None)
        pack.readings = self._commit(pack.commit())

    def _commit(self, work: Commit) -> Sequence[Reading]:
        """Commit, count, and return the readings that were new."""
        done = self.store.commit(work)
        self.counts.commits += 1
        self.counts.repeated += done.repeated
        self.counts.conflicting += done.conflicting
        self.counts.readings += done.stored
        return done.readings

    def _keep_sound(self, pack: Pack) -> None:
        """Keep what can be kept of a pack, refusing the readings that no commit takes."""
        sound = self._sift(pack.readings, pack)
        self._commit(replace(pack.commit(), readings=()))
        pack.readings = sound

    def _sift(self, readings: Sequence[Reading], pack: Pack) -> list[Reading]:
        try:
            return list(self._commit(Commit(readings=readings)))
        except StoreError:
            raise
        except Exception as defect:  # noqa: BLE001  # becomes a refusal that is shown
            if len(readings) > 1:
                half = len(readings) // 2
                return self._sift(readings[:half], pack) + self._sift(readings[half:], pack)
            pack.refusals += [unkept(reading, defect) for reading in readings]
            return []

    # -- in the loop -------------------------------------------------------------------

    def _hand_on(self, pack: Pack, *, stored: bool) -> None:
        if stored:
            self._note_kept()
        self.counts.messages += len(pack.messages)
        self.counts.redelivered += pack.repeated
        self.counts.refused += len(pack.refusals)
        self.counts.unclaimed += sum(topic.count for topic in pack.unclaimed.values())
        taken = Taken(pack.readings, pack.last_known, pack.refusals, pack.heard, stored)
        self._tell(self.told.taken, taken)

    def _note_kept(self) -> None:
        self._failing_since_s = None
        if self.owed.told:
            self.owed.told = False
            self._tell(self.told.store_back)

    def _tell(self, listener: Callable[..., None], *args: object) -> None:
        try:
            listener(*args)
        except Exception:
            log.exception("a listener of the intake failed; the intake goes on")
            self.counts.defects += 1


def _in_loop(loop: asyncio.AbstractEventLoop, what: Callable[[], object]) -> None:
    """Let the loop do something from another thread; one that has ended need not."""
    if not loop.is_closed():
        loop.call_soon_threadsafe(what)
