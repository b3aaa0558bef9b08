"""Everything that is judged passes through here, one event at a time.

The state is stepped in the event loop; what follows is written to the ledger in a
thread, in order. A write that fails is kept and tried again: nothing is told before it
stands in the ledger.
"""

import asyncio
import logging
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Final

from monitor import alarms, notices, watch
from monitor.batches import Book, fold, open_batches
from monitor.clock import Clock
from monitor.daemon.restoring import Restored, live_samples, specs
from monitor.errors import StoreError
from monitor.farm import Farm
from monitor.model import AlarmKey, AlarmKind, Edge, Flag, LedgerEntry, Reading, Transition
from monitor.store import DamagedError, Ledger

log = logging.getLogger("cormwatch")

_HELD: Final = 50_000
_AHEAD_MS: Final = 86_400_000
_UNCERTAIN: Final = Flag.TIME_UNCERTAIN | Flag.IMPORTED


@dataclass
class Judge:
    """The farm, the book, the watch's state, and what waits to be written.

    ``on_change`` is called in the loop when something a page shows has changed, ``on_figures``
    where that may be no more than the newest figures, ``on_told``
    when notices may have been written, ``on_lost`` when the ledger had to be begun anew;
    ``reckon`` adds what a return cost.
    ``stuck`` says why the ledger cannot be written; ``unread`` that a page has written entries,
    which the next turn is to read.
    """

    farm: Farm
    ledger: Ledger
    clock: Clock
    book: Book
    state: watch.WatchState
    on_change: Callable[[], None] = lambda: None
    on_figures: Callable[[], None] = lambda: None
    on_told: Callable[[], None] = lambda: None
    on_lost: Callable[[], None] = lambda: None
    reckon: Callable[[Transition, alarms.Wording], Transition] = lambda told, _: told
    pending: deque[Transition] = field(default_factory=deque)
    judged_to_ms: int | None = None
    stuck: str = ""
    unread: bool = False

    def __post_init__(self) -> None:
        self._specs = specs(self.farm)
        self.words = self._wording()
        self._lock = asyncio.Lock()
        self._entry = -1
        self._due: tuple[watch.WatchState, int | None] | None = None
        self._told_own: dict[AlarmKey, tuple[int, str]] = {
            each.key: (each.began_ms, str(each.facts.get("detail", "")))
            for each in self.ledger.alarms(open_only=True)
            if each.key.subject == "" and each.active and each.returned_ms is None
        }

    def _wording(self) -> alarms.Wording:
        return alarms.wording(self.farm, open_batches(self.book), self.book.holds)

    # -- events --------------------------------------------------------------------------

    def begin(self, restored: Restored) -> None:
        """Take over what a restart found to tell."""
        self.state = restored.state
        self.judged_to_ms = self.ledger.judged_to()  # a clock that is behind takes nothing back
        self._take(restored.transitions)

    def readings(self, taken: Sequence[Reading]) -> None:
        """Judge readings that were just taken in."""
        for pack in live_samples(self._specs, taken):
            self._step(pack)
        certain = [each.at_ms for each in taken if not each.flags & _UNCERTAIN]
        if certain:
            self.judged_to_ms = max(self.judged_to_ms or 0, *certain)
        self.on_figures()

    @property
    def next_due_ms(self) -> int | None:
        """Return when a tick could next tell something. [ms]

        It takes a look at every channel: not with each reading, but when it is asked for.
        """
        if self._due is None or self._due[0] is not self.state:
            self._due = (self.state, watch.next_due(self.state))
        return self._due[1]

    def tick(self, now_ms: int) -> None:
        """Judge what the passing of time changes, if anything is due."""
        due_ms = self.next_due_ms
        if due_ms is not None and due_ms <= now_ms:
            self._step(watch.Tick(now_ms))
            self.on_change()

    def hears(self, now_ms: int, *, deaf: bool) -> None:
        """Judge no silence while there is no broker, and afresh once it is back."""
        if deaf != (self.state.deaf_ms is not None):
            self._step(watch.Hearing(now_ms, deaf))
            self.on_change()

    def clock_stepped(self, now_ms: int, by_ms: int) -> None:
        """Move along what was timed by a clock that jumped.

        What has been judged stays so: a clock that is set back takes nothing back. One that
        once ran days ahead is no measure.
        """
        log.warning("the clock jumped by %d s", by_ms // 1000)
        if self.judged_to_ms is not None and self.judged_to_ms > now_ms + _AHEAD_MS:
            self.judged_to_ms = now_ms
        self._step(watch.ClockStepped(now_ms, by_ms))

    def use(self, farm: Farm, now_ms: int) -> None:
        """Judge by another configuration from now on."""
        self.farm = farm
        self._specs = specs(farm)
        self._replan(now_ms)

    def reread(self, entries: Sequence[LedgerEntry], now_ms: int) -> None:
        """Take over what the ledger of batches says now; nothing where that is the same."""
        if (newest := entries[-1].id if entries else 0) != self._entry:
            self._entry = newest
            self.book = fold(entries)
            self._replan(now_ms)
        self.on_change()

    @property
    def read_to(self) -> int:
        """Return the newest entry of the ledger of batches that is taken over."""
        return self._entry

    def own(self, kind: AlarmKind, now_ms: int, *, bad: bool, detail: str = "") -> None:
        """Raise or return a condition that the monitor sees in itself, once each.

        Another detail is another mistake: the first returns and the new one is raised.
        """
        key = AlarmKey(kind, "")
        told = self._told_own.get(key)
        if told is not None and (not bad or detail != told[1]):
            del self._told_own[key]
            self._tell_own(key, Edge.RETURN, now_ms, began_ms=told[0], detail=told[1])
        if bad and key not in self._told_own:
            self._told_own[key] = (now_ms, detail)
            self._tell_own(key, Edge.RAISE, now_ms, began_ms=now_ms, detail=detail)

    def _tell_own(
        self, key: AlarmKey, edge: Edge, now_ms: int, *, began_ms: int, detail: str
    ) -> None:
        lost = key.kind is AlarmKind.BROKER_LOST and edge is Edge.RAISE
        dark = watch.dark_places(self.state) if lost else ()
        own = alarms.own_transition(
            key.kind, edge, now_ms, began_ms=began_ms, detail=detail, dark=dark
        )
        self._take((own,))
        self.on_change()

    def _replan(self, now_ms: int) -> None:
        self.words = self._wording()
        plan = watch.plan(self.farm, open_batches(self.book), self.book.loadings)
        self._step(watch.Replanned(plan, now_ms))
        self.on_change()

    def _step(self, event: watch.Event) -> None:
        stepped = watch.step(self.state, event)
        self.state = stepped.state
        self._take(stepped.transitions)

    def _take(self, transitions: Sequence[Transition]) -> None:
        self.pending.extend(transitions)
        while len(self.pending) > _HELD:
            self.pending.popleft()

    # -- the ledger ----------------------------------------------------------------------

    async def write(self) -> None:
        """Write what waits, in order; what cannot be written now stays first in line."""
        async with self._lock:
            if not self.pending:
                return
            try:
                await asyncio.to_thread(self._write_mending)
            except StoreError as failure:
                if self.stuck != str(failure):
                    log.error("the ledger cannot be written: %s", failure)  # noqa: TRY400
                self.stuck = str(failure)
                return
            self.stuck = ""
        if self.ledger.lost:
            self.on_lost()
        self.on_told()
        self.on_change()

    def _write_mending(self) -> None:
        try:
            self._write()
        except DamagedError:
            self.ledger.mend()
            self._write()

    def _write(self) -> None:
        while self.pending:
            transition = self.pending[0]
            try:
                self._write_one(transition)
            except StoreError:
                raise
            except Exception:  # one defect of ours must not keep every other alarm back
                log.exception("%s of %s could not be told", transition.edge, transition.key)
            self.pending.popleft()

    def _write_one(self, transition: Transition) -> None:
        now_ms = self.clock.now_ms()
        transition = self.reckon(transition, self.words)
        decide = notices.answer(
            alarms.on_transition(transition, self.words, now_ms),
            self.farm.people, self.farm.notices, self.farm.zone, now_ms,
            to=self._first_told(transition, now_ms),
        )  # fmt: skip
        self.ledger.transact(transition.key, decide, now_ms, self.judged_to_ms)

    def _first_told(self, transition: Transition, now_ms: int) -> tuple[str, ...] | None:
        duty = notices.on_duty(self.farm, self.ledger.duty_lines(), now_ms)
        return notices.first_told(self.farm, transition.priority, duty)

    def note_judged(self) -> None:
        """Write down how far readings have been judged."""
        if self.judged_to_ms is not None and not self.pending:
            self.ledger.set_judged_to(self.judged_to_ms)
