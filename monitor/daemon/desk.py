"""The running monitor as the pages see it."""

import threading
import time
from collections.abc import Callable, Mapping, Sequence
from typing import Final

from monitor import alarms, notices
from monitor.batches import Book, open_batches
from monitor.batches.loading import Build
from monitor.batches.plain_text import NAME_AT_MOST, printable
from monitor.clock import Clock, monotonic_s
from monitor.daemon.aside import Desk
from monitor.daemon.judge import Judge
from monitor.daemon.reconfiguring import reconfigure
from monitor.farm import Farm
from monitor.farm.editing import Change
from monitor.model import Alarm, Answer, Decision, LedgerEntry
from monitor.model.batch import Slip
from monitor.store import Ledger, ReadingReader
from monitor.watch import WatchState
from monitor.web.changes import Changes
from monitor.web.desk import Health

_READ_WITHIN_S: Final = 3.0
_TAKEN_WITHIN_S: Final = 8.0
_LOOK_S: Final = 0.05


def acknowledge(
    farm: Farm, ledger: Ledger, book: Book, *, alarm_id: int, by: str, now_ms: int,
    answer: Answer = Answer.SEEN,
) -> str:  # fmt: skip
    """Acknowledge an alarm, by page or command, and return what to say of it.

    Raises
    ------
    UnknownNameError
        If there is no such alarm.
    LedgerRuleError
        If the name cannot be shown.
    """
    printable(by, NAME_AT_MOST, "the name")
    decide = notices.answer(
        alarms.acknowledge(by, now_ms, answer), farm.people, farm.notices, farm.zone, now_ms
    )  # fmt: skip
    before: list[Alarm] = []

    def keep(alarm: Alarm | None) -> Decision | None:
        before.extend([alarm] if alarm else [])
        return decide(alarm)

    if ledger.transact_id(alarm_id, keep, now_ms) is None:
        words = alarms.wording(farm, open_batches(book), book.holds)
        return alarms.already(before[0], words, now_ms)
    going = ", who is going" if answer is Answer.GOING else ""
    return f"alarm {alarm_id} is acknowledged by {by}{going}"


class RunningDesk:
    """Gives the pages the judge's state, the ledger, and a reader for each thread."""

    def __init__(
        self, judge: Judge, clock: Clock, changes: Changes, health: Callable[[], Health],
        open_reader: Callable[[], ReadingReader], *, reload: Callable[[], object] = lambda: None,
    ) -> None:  # fmt: skip
        self._judge = judge
        self._clock = clock
        self._changes = changes
        self._health = health
        self._open_reader = open_reader
        self._reload = reload
        self._own = threading.local()

    @property
    def changes(self) -> Changes:
        """Return what wakes open pages."""
        return self._changes

    @property
    def ledger(self) -> Ledger:
        """Return the ledger, open."""
        return self._judge.ledger

    def farm(self) -> Farm:
        """Return the farm as it is configured now."""
        return self._judge.farm

    def watch(self) -> WatchState:
        """Return the watch's newest state."""
        return self._judge.state

    def book(self) -> Book:
        """Return what the ledger of batches amounts to now."""
        return self._judge.book

    def reader(self) -> ReadingReader:
        """Return the calling thread's own reader."""
        reader: ReadingReader | None = getattr(self._own, "reader", None)
        if reader is None:
            reader = self._own.reader = self._open_reader()
        return reader

    def now_ms(self) -> int:
        """Return the time by which everything is judged. [ms]"""
        return self._clock.now_ms()

    def health(self) -> Health:
        """Return how the monitor itself is."""
        return self._health()

    def acknowledge(self, alarm_id: int, by: str, answer: Answer = Answer.SEEN) -> str:
        """Answer an alarm and return a sentence for the person who did."""
        judge = self._judge
        return acknowledge(
            judge.farm, judge.ledger, judge.book, alarm_id=alarm_id, by=by, now_ms=self.now_ms(),
            answer=answer,
        )  # fmt: skip

    def put_aside(self, alarm_id: int, quiet: alarms.Quiet) -> str:
        """Put an alarm aside and return a sentence for the person who did."""
        return self._desk().put_aside(alarm_id, quiet, self.now_ms())

    def take_back(self, alarm_id: int, by: str) -> str:
        """End an alarm's being put aside and return a sentence for the person who did."""
        now_ms = self.now_ms()
        return self._desk().take_back(alarm_id, alarms.take_back(by, now_ms), by, now_ms)

    def record(self, build: Build, slip: Slip | None = None) -> Sequence[LedgerEntry]:
        """Write entries of the ledger of batches and return them; those of a slip only once."""
        judge = self._judge
        written = judge.ledger.write_entries(build, self.now_ms(), slip)
        judge.unread |= bool(written)
        until_s = monotonic_s() + _READ_WITHIN_S
        while written and judge.read_to < written[-1].id and monotonic_s() < until_s:
            time.sleep(_LOOK_S)  # in a page's own thread: the next page is to show it
        return written

    def reconfigure(
        self, changes: Sequence[Change], *, by: str, why: str, digest: str | None,
        secrets: Mapping[str, str] | None = None,
    ) -> bool:  # fmt: skip
        """Change the farm's files; return whether all is judged by them already."""
        judge = self._judge
        made = reconfigure(
            judge.farm.directory, judge.ledger, changes, by=by, why=why, now_ms=self.now_ms(),
            digest=digest, secrets=secrets,
        )  # fmt: skip
        self._reload()
        until_s = monotonic_s() + _TAKEN_WITHIN_S
        while judge.farm.digest != made.digest and monotonic_s() < until_s:
            time.sleep(_LOOK_S)  # in a page's own thread: the next page is to show it
        return judge.farm.digest == made.digest

    def _desk(self) -> Desk:
        return Desk(self._judge.farm, self._judge.ledger, self._judge.book)
