"""One message to one address within its deadline, in parts or shortened where needed."""

import threading
from collections.abc import Callable, Sequence
from typing import Final

from pydantic import SecretStr

from monitor.clock import monotonic_s
from monitor.courier.transport import SENT, Result, Transport, failed
from monitor.courier.wording import Part, fit, short_form

RESTS_S: Final = 3600.0  # after a picture that failed; real time
CAPTION: Final = Part("", "The last hours.")


class Flight:
    """One delivery in a thread of its own, for a service may never answer.

    A thread cannot be stopped from outside: one that outlives its deadline is left
    behind, and its late result can still be asked for.
    """

    def __init__(self, work: Callable[[], Result], landed: Callable[[], None]) -> None:
        self._result: Result | None = None
        self._work = work
        self._landed = landed
        self._done = threading.Event()
        threading.Thread(target=self._run, name="courier-send", daemon=True).start()

    def _run(self) -> None:
        try:
            self._result = self._work()
        except Exception as failure:  # noqa: BLE001 - a service's defect is its failure, not ours
            # Its own text may spell out the address, so only its kind is told.
            self._result = failed(f"the service failed with {type(failure).__name__}")
        self._done.set()
        self._landed()

    def wait(self, within_s: float) -> Result | None:
        """Return the result, or None if there is none within that time. [s]"""
        self._done.wait(within_s)
        return self.result

    @property
    def result(self) -> Result | None:
        """Return the result, once there is one."""
        return self._result if self._done.is_set() else None


class Uploads:
    """Pictures to one address: one at a time, each with a deadline, none soon after one fails.

    Parameters
    ----------
    within_s : float
        How long a picture may hold its text back. [s]
    monotonic : Callable
        The time that rests are counted in. [s]
    """

    def __init__(self, within_s: float, monotonic: Callable[[], float] = monotonic_s) -> None:
        self._within_s = within_s
        self._monotonic = monotonic
        self._rests_until_s = float("-inf")
        self._aloft: Flight | None = None

    def welcome(self) -> bool:
        """Return whether a picture may go: none hangs, and none has just failed."""
        hanging = self._aloft is not None and self._aloft.result is None
        return not hanging and self._monotonic() >= self._rests_until_s

    def sent(self, work: Callable[[], Result]) -> bool:
        """Return whether a picture went in time; one that hangs is left behind."""
        self._aloft = Flight(work, lambda: None)
        result = self._aloft.wait(self._within_s)
        gone = result is not None and result.sent
        if not gone:
            self._rests_until_s = self._monotonic() + RESTS_S
        return gone


def deliver(  # noqa: PLR0917 - what, where, and how its picture goes
    transport: Transport, address: SecretStr, title: str, body: str,
    picture: bytes | None = None, uploads: Uploads | None = None,
) -> Result:  # fmt: skip
    """Send a message in as many parts as it needs; the gist if the whole is refused.

    A picture goes with the first part where its service takes both in one request; where that
    fails or hangs, the text goes without it, once. Elsewhere the text goes first, by itself,
    and what becomes of the picture after it changes nothing: no text is ever sent twice for
    its picture's sake. (A request that hung and arrives after all does come beside its text.)
    """
    if picture is None or uploads is None or not uploads.welcome():
        return _text(transport, address, title, body, fit(title, body, transport.limits(address)))
    parts = fit(title, body, transport.limits(address))
    if not transport.takes_both(address):
        sent = _text(transport, address, title, body, parts)
        if sent.sent:
            uploads.sent(lambda: transport.send(address, CAPTION, picture))
        return sent
    if not uploads.sent(lambda: transport.send(address, parts[0], picture)):
        return _text(transport, address, title, body, parts)
    return _text(transport, address, title, body, parts[1:]) if parts[1:] else SENT


def _text(
    transport: Transport, address: SecretStr, title: str, body: str, parts: Sequence[Part]
) -> Result:
    sent = failed("nothing to send")
    for part in parts:
        sent = transport.send(address, part)
        if not sent.sent:
            return _gist(transport, address, title, body, sent) if sent.refused else sent
    return sent


def _gist(
    transport: Transport, address: SecretStr, title: str, body: str, refused: Result
) -> Result:
    gist = short_form(title, body)
    if gist == Part(title, body):
        return refused
    again = transport.send(address, gist)
    return again if again.sent else refused
