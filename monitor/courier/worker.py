"""One address: its own thread, one send in flight, waits that grow while it fails."""

import logging
import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import cache, partial
from typing import Final

from pydantic import SecretStr

from monitor.clock import Clock
from monitor.courier.choosing import COMPANY_MS, Parcel, choose
from monitor.courier.delivering import Flight, Uploads, deliver
from monitor.courier.links import with_links
from monitor.courier.transport import Result, Transport, failed
from monitor.errors import CormwatchError
from monitor.model import Notice, NoticeKind
from monitor.phrase import Translate, in_english
from monitor.store import WITHDRAWN, Ledger

POLL_S: Final = 2.0  # other processes write notices too; real time
WAITS_S: Final = (15.0, 60.0, 120.0, 300.0, 600.0, 900.0)  # after failures, real time
GIVEN_UP_S: Final = 600.0  # after its deadline a send that never ends is left to itself
_FOR_PICTURE: Final = 0.4  # of the deadline; the rest is the text's
MOST_ATTEMPTS: Final = 100  # about a day of failing
EVER_MS: Final = 2**62
AHEAD_MS: Final = 60_000  # written later than now by more: by a clock that was set back since
_DRAWN: Final = (NoticeKind.RAISED, NoticeKind.REMINDER, NoticeKind.CLEARED)
UNTOLD: Final = "the alarm itself was never told here"

_log = logging.getLogger("cormwatch.courier")


Picture = Callable[[Notice], bytes | None]
"""What draws a notice's picture as PNG, where there is anything to draw."""


@dataclass(frozen=True, slots=True)
class Desk:
    """What the workers share. ``told`` hears of each try that was written down."""

    ledger: Ledger
    transport: Transport
    clock: Clock
    monotonic: Callable[[], float]
    told: Callable[[Notice], None]
    deadline_s: float
    base_url: str | None = None
    picture: Picture | None = None
    speaks: Mapping[str, Translate] = field(default_factory=dict)


@dataclass(slots=True)
class _Aloft:
    """A send in flight: its notices, its deadline [s], and whether that was missed."""

    flight: Flight
    parcel: Parcel
    until_s: float
    missed: bool = False


class Worker:
    """Sends what waits for one address of one person."""

    def __init__(
        self, desk: Desk, person: str, label: str, secret: SecretStr, *, pictures: bool = False
    ) -> None:
        self.person = person
        self.label = label
        self._secret = secret
        self._pictures = pictures
        self._desk = desk
        self._uploads = Uploads(desk.deadline_s * _FOR_PICTURE, desk.monotonic)
        self._failures = 0
        self._not_before_s = 0.0
        self._aloft: _Aloft | None = None
        self._unrecorded: list[tuple[Notice, Result, int | None]] = []
        self.woken = threading.Event()

    def round(self) -> float:
        """Do what is to be done now; return how long there is nothing more to do. [s]"""
        self._record_again()
        if self._aloft is not None and not self._landed():
            return min(POLL_S, max(self._aloft.until_s - self._desk.monotonic(), 0.05))
        parcel = self._choose()
        if parcel is None:
            return POLL_S
        self._aloft = _Aloft(
            Flight(lambda: self._deliver(parcel), self.woken.set),
            parcel,
            self._desk.monotonic() + self._desk.deadline_s,
        )
        return min(POLL_S, self._desk.deadline_s)

    def land(self, within_s: float) -> None:
        """Wait for what is in flight, and write down what came of it."""
        if self._aloft is not None and self._aloft.flight.wait(within_s) is not None:
            self._landed()

    def _deliver(self, parcel: Parcel) -> Result:
        desk = self._desk
        speak = desk.speaks.get(self.person, in_english)
        body = with_links(parcel, desk.ledger, desk.base_url, desk.clock.now_ms(), speak)
        drawn = self._drawn(parcel)
        return deliver(desk.transport, self._secret, parcel.title, body, drawn, self._uploads)

    def _drawn(self, parcel: Parcel) -> bytes | None:
        """Return the picture of what leads a message, on its first try only."""
        lead, draw = parcel.notices[0], self._desk.picture
        if draw is None or not self._pictures or lead.attempts or lead.kind not in _DRAWN:
            return None
        try:
            return draw(lead)
        except Exception as failure:  # noqa: BLE001 - the text goes, whatever is wrong here
            _log.warning("a message goes out without its picture: %r", failure)
            return None

    def _landed(self) -> bool:
        """Deal with the send in flight; return whether the next may begin.

        One that has passed its deadline counts as failed, once, but nothing else is sent
        here until it ends or is given up; if it ends well after all, its notices are sent.
        """
        aloft = self._aloft
        if aloft is None:
            return True
        result = aloft.flight.result
        if result is not None:
            self._aloft = None
            if result.sent or not aloft.missed:
                self._finish(aloft.parcel, result)
            return True
        if self._desk.monotonic() < aloft.until_s:
            return False
        if aloft.missed:
            self._aloft = None
            return True
        aloft.missed, aloft.until_s = True, aloft.until_s + GIVEN_UP_S
        self._finish(aloft.parcel, failed(f"no answer within {self._desk.deadline_s:g} s"))
        return False

    def _choose(self) -> Parcel | None:
        now_ms = self._desk.clock.now_ms()
        unrecorded = {notice.id for notice, _, _ in self._unrecorded}
        waiting = [each for each in self._waiting(now_ms) if each.id not in unrecorded]
        resting = self._desk.monotonic() < self._not_before_s
        ready = [
            notice
            for notice in waiting
            if (_due(notice, now_ms) if notice.attempts == 0 else not resting)
        ]
        rung = cache(partial(self._rung, now_ms))  # read once, and only where it is asked for
        choice = choose(
            ready, waiting, self._raise_sent, now_ms, self._place_of,
            lambda place: place in rung(),
        )  # fmt: skip
        for orphan in choice.orphans:
            why = UNTOLD if orphan.kind is NoticeKind.CLEARED else WITHDRAWN
            self._desk.ledger.drop_notice(orphan.id, now_ms, why)
        return choice.parcel

    def _waiting(self, now_ms: int) -> list[Notice]:
        """Return what waits for this address; what was tried, due from its first try on."""
        mine = [
            notice
            for notice in self._desk.ledger.waiting(EVER_MS)
            if (notice.person, notice.address) == (self.person, self.label)
        ]
        if not any(notice.attempts for notice in mine):
            return mine
        tried_ms = self._desk.ledger.first_tries()
        return [
            replace(each, due_ms=min(tried_ms[each.id], now_ms)) if each.id in tried_ms else each
            for each in mine
        ]

    def _rung(self, now_ms: int) -> set[str | None]:
        """Return the places that this address was just told of."""
        since_ms = now_ms - COMPANY_MS
        told = self._desk.ledger.told_between(self.person, self.label, since_ms, now_ms)
        return {self._place_of(each.alarm) for each in told if each.alarm is not None}

    def _place_of(self, alarm: int) -> str | None:
        return self._desk.ledger.alarm(alarm).place

    def _raise_sent(self, alarm: int) -> bool:
        return self._desk.ledger.raise_sent(alarm, self.person, self.label)

    def _finish(self, parcel: Parcel, result: Result) -> None:
        wait_s = self._note(result)
        retry_ms = self._desk.clock.now_ms() + int(
            wait_s / self._desk.clock.real_seconds(1.0) * 1000
        )
        for notice in parcel.notices:
            last = notice.attempts + 1 >= MOST_ATTEMPTS or notice.kind is NoticeKind.DRILL
            self._unrecorded.append((notice, result, None if last else retry_ms))
        self._record_again()

    def _note(self, result: Result) -> float:
        """Let the wait grow or end; return it. [s, real]"""
        if result.sent:
            self._failures, self._not_before_s = 0, 0.0
            return 0.0
        wait_s = WAITS_S[min(self._failures, len(WAITS_S) - 1)]
        if self._desk.monotonic() >= self._not_before_s:
            self._failures += 1
            self._not_before_s = self._desk.monotonic() + wait_s
        return wait_s

    def _record_again(self) -> None:
        """Write results down; one that cannot be written is kept, and not sent twice."""
        while self._unrecorded:
            notice, result, retry_ms = self._unrecorded[0]
            written = self._desk.ledger.record_attempt(
                notice.id, self._desk.clock.now_ms(),
                sent=result.sent, error=result.error,
                retry_at_ms=None if result.sent else retry_ms,
            )  # fmt: skip
            self._unrecorded.pop(0)
            self._desk.told(written)


def _due(notice: Notice, now_ms: int) -> bool:
    """Return whether a notice may go; what is grave waits for no clock that has gone back."""
    ahead = notice.created_ms > now_ms + AHEAD_MS
    return notice.due_ms <= now_ms or (notice.priority == "high" and ahead)


class Runner(threading.Thread):
    """Keeps one round after another going until it is told to stop."""

    def __init__(self, name: str, round_: Callable[[], float], woken: threading.Event) -> None:
        super().__init__(name=f"courier-{name}", daemon=True)
        self._round = round_
        self._woken = woken
        self._stopping = threading.Event()

    def run(self) -> None:
        """Go round until stopped; no failure ends it."""
        while not self._stopping.is_set():
            self._woken.clear()
            wait_s = POLL_S
            try:
                wait_s = self._round()
            except CormwatchError as failure:
                _log.warning("%s: %s", self.name, failure)
            except Exception:  # noqa: BLE001 - a sender must outlive its defects; they are logged
                _log.exception("%s: a defect; going on", self.name)
            self._woken.wait(wait_s)

    def stop(self) -> None:
        """Ask it to end after the round it is in."""
        self._stopping.set()
        self._woken.set()
