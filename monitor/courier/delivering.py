"""One message to one address within its deadline, in parts or shortened where needed."""

import threading
from collections.abc import Callable

from pydantic import SecretStr

from monitor.courier.transport import Result, Transport, failed
from monitor.courier.wording import Part, fit, short_form


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


def deliver(
    transport: Transport, address: SecretStr, title: str, body: str, picture: bytes | None = None
) -> Result:
    """Send a message in as many parts as it needs; the gist if the whole is refused.

    A picture goes with the first part. Where that fails, whatever the reason, the text goes
    without it at once.
    """
    sent = failed("nothing to send")
    for part in fit(title, body, transport.limits(address)):
        sent = transport.send(address, part, picture)
        if not sent.sent and picture is not None:
            sent = transport.send(address, part)
        picture = None
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
