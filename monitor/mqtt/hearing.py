"""The fence, and the proof that we can hear.

After subscribing, a message to ourselves is published: what comes before it had been
queued by the broker. Sent again and again it proves that the connection hears, which a
live socket alone does not.
"""

from dataclasses import dataclass
from enum import StrEnum


class Hears(StrEnum):
    """What the message to ourselves has shown so far."""

    YES = "yes"
    WAITING = "waiting"
    DEAF = "deaf"  # nothing at all has come since it was published
    MUTE = "mute"  # others are heard, our own message is not delivered


@dataclass(slots=True)
class Hearing:
    """The messages to ourselves of one connection. Times are real monotonic [s].

    ``token`` tells this process from an earlier one, whose own message the broker may
    still have in its queue.
    """

    token: str
    connection: int
    every_s: float
    deaf_after_s: float
    passed: bool = False
    mute: bool = False
    _number: int = 0
    _sent_s: float | None = None
    _heard_before: int = 0
    _returned: bool = False

    def due_at_s(self) -> float:
        """Return when the next message to ourselves is due; -inf before the first. [s]"""
        return float("-inf") if self._sent_s is None else self._sent_s + self.every_s

    def send(self, now_s: float, received: int) -> bytes:
        """Note that a message is being published, and return its payload."""
        self._number += 1
        self._sent_s = now_s
        self._heard_before = received
        self._returned = False
        return f"{self.token}:{self.connection}:{self._number}".encode()

    def not_reading(self, now_s: float) -> None:
        """Let no time run while nothing is read: ours may be there already. [s]"""
        if self._sent_s is not None:
            self._sent_s = now_s

    def came(self, payload: bytes) -> None:
        """Note a message on our own topic: only one of this connection counts."""
        token, _, rest = payload.decode("ascii", "replace").partition(":")
        connection, _, number = rest.partition(":")
        if token == self.token and connection == str(self.connection):
            self.passed = True
            self.mute = False
            self._returned = self._returned or number == str(self._number)

    def verdict(self, now_s: float, received: int, outstanding: int) -> Hears:
        """Return what is known now.

        Parameters
        ----------
        now_s : float
            Real monotonic time. [s]
        received : int
            Messages of others heard on this connection so far.
        outstanding : int
            Messages not acknowledged yet: while there are some, ours may wait behind them.
        """
        if self._returned:
            return Hears.YES
        if self._sent_s is None or now_s < self._sent_s + self.deaf_after_s:
            return Hears.WAITING
        if received == self._heard_before and outstanding == 0:
            return Hears.DEAF
        if outstanding:
            return Hears.WAITING
        return Hears.MUTE
