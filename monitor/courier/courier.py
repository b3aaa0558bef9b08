"""The courier: a worker for each address, and one for notices that have none."""

import hashlib
import threading
from collections.abc import Callable, Collection, Mapping, Sequence
from pathlib import Path
from typing import Final

from pydantic import SecretStr

from monitor.clock import Clock, monotonic_s
from monitor.courier.delivering import Flight, deliver
from monitor.courier.transport import NO_ADDRESS, AppriseTransport, Result, Transport, failed
from monitor.courier.worker import EVER_MS, POLL_S, Desk, Picture, Runner, Worker
from monitor.model import Notice, NoticeStatus
from monitor.phrase import Translate
from monitor.store import Ledger

DEADLINE_S: Final = 20.0
_MARK_LENGTH: Final = 4
GONE: Final = (
    "no address matched: the person, or this address of theirs, is no longer in people.toml"
)

Addresses = Mapping[tuple[str, str], SecretStr]


def addresses_of(people: Mapping[str, Sequence[SecretStr]]) -> dict[tuple[str, str], SecretStr]:
    """Return each person's addresses under the names ``"1"``, ``"2"``, … in their order."""
    return {
        (person, str(number)): address
        for person, addresses in people.items()
        for number, address in enumerate(addresses, start=1)
    }


def marks_of(people: Mapping[str, Sequence[SecretStr]]) -> dict[str, list[str]]:
    """Return a mark of each person's addresses, by which the outbox knows one again.

    It is sixteen bits of a hash: enough among the few of one person, and of no use to whoever
    would try out what an address may be.
    """
    return {
        person: [
            hashlib.sha256(each.get_secret_value().encode()).hexdigest()[:_MARK_LENGTH]
            for each in addresses
        ]
        for person, addresses in people.items()
    }


class Courier:
    """Sends the notices that wait in the ledger, each address by itself.

    Parameters
    ----------
    ledger : Path or Callable
        The ledger's file, or what opens it.
    addresses : Mapping
        The secret of each (person, address name).
    clock : Clock
        The clock that notices are due by; retries and deadlines run in real time.
    on_sent, on_failed : Callable, optional
        Told of each notice sent, and after each failed try; called in a worker's thread.
    picture : Callable, optional
        Draws a notice, in the thread that sends it, for the addresses in ``pictures_to``.
    speaks : Mapping, optional
        What puts the words of a link into each person's language.
    """

    def __init__(
        self,
        ledger: Path | Callable[[], Ledger],
        addresses: Addresses,
        clock: Clock,
        on_sent: Callable[[Notice], None] | None = None,
        *,
        on_failed: Callable[[Notice], None] | None = None,
        transport: Transport | None = None,
        deadline_s: float = DEADLINE_S,
        base_url: str | None = None,
        picture: Picture | None = None,
        pictures_to: Collection[tuple[str, str]] = (),
        speaks: Mapping[str, Translate] | None = None,
        monotonic: Callable[[], float] = monotonic_s,
    ) -> None:
        self._open = ledger if callable(ledger) else lambda: Ledger.open(ledger)
        self._addresses = dict(addresses)
        self._clock = clock
        self._on_sent = on_sent
        self._on_failed = on_failed
        self._transport: Transport = AppriseTransport() if transport is None else transport
        self._deadline_s = deadline_s
        self._base_url = base_url
        self._picture = picture
        self._pictures_to = frozenset(pictures_to)
        self._speaks = speaks or {}
        self._monotonic = monotonic
        self._ledger: Ledger | None = None
        self._woken: list[threading.Event] = []
        self._runners: list[Runner] = []
        self.workers: list[Worker] = []

    def prepare(self) -> None:
        """Open the ledger and set up a worker for each address, without a thread."""
        self._ledger = self._open()
        desk = Desk(
            self._ledger, self._transport, self._clock, self._monotonic, self._tell,
            self._deadline_s, self._base_url, self._picture, self._speaks,
        )  # fmt: skip
        self.workers = [
            Worker(desk, *key, secret, pictures=key in self._pictures_to)
            for key, secret in self._addresses.items()
        ]

    def start(self) -> None:
        """Begin to send, in threads of their own."""
        self.prepare()
        for worker in self.workers:
            self._run(f"{worker.person}-{worker.label}", worker.round, worker.woken)
        self._run("unmatched", self.refuse_unmatched, threading.Event())

    def _run(self, name: str, round_: Callable[[], float], woken: threading.Event) -> None:
        runner = Runner(name, round_, woken)
        self._woken.append(woken)
        self._runners.append(runner)
        runner.start()

    def wake(self) -> None:
        """Say that a notice may have been written; from any thread."""
        for woken in self._woken:
            woken.set()

    @property
    def alive(self) -> bool:
        """Return whether every thread runs."""
        return bool(self._runners) and all(runner.is_alive() for runner in self._runners)

    def stop(self, within_s: float = 5.0) -> None:
        """End within a time [s]: what is in flight may land, nothing new begins."""
        until_s = self._monotonic() + within_s
        for runner in self._runners:
            runner.stop()
        for runner in self._runners:
            runner.join(max(until_s - self._monotonic(), 0.0))
        for worker in self.workers:
            worker.land(max(until_s - self._monotonic(), 0.0))
        if self._ledger is not None and not any(runner.is_alive() for runner in self._runners):
            self._ledger.close()

    def send_now(self, notice: Notice, address: SecretStr) -> Result:
        """Send one notice at once, past the outbox, and return what came of it."""
        flight = Flight(
            lambda: deliver(self._transport, address, notice.title, notice.body), lambda: None
        )
        result = flight.wait(self._deadline_s)
        return failed(f"no answer within {self._deadline_s:g} s") if result is None else result

    def unusable(self) -> dict[tuple[str, str], str]:
        """Return the addresses that nothing can be sent to, and why: asked at the start."""
        return {
            key: NO_ADDRESS
            for key, secret in self._addresses.items()
            if not self._transport.usable(secret)
        }

    def refuse_unmatched(self) -> float:
        """Fail what waits for an address that is gone; return when to look again. [s]"""
        if self._ledger is not None:
            for notice in self._ledger.waiting(EVER_MS):
                if (notice.person, notice.address) not in self._addresses:
                    now_ms = self._clock.now_ms()
                    self._tell(
                        self._ledger.record_attempt(notice.id, now_ms, sent=False, error=GONE)
                    )
        return POLL_S

    def _tell(self, notice: Notice) -> None:
        told = self._on_sent if notice.status is NoticeStatus.SENT else self._on_failed
        if told is not None:
            told(notice)
