"""Guessing made slow: each account by itself, and each address that asks.

After three failures an account waits two seconds, then twice as long each time, a minute at
most: 1,440 guesses a day. An account is never locked for good, so nobody can shut another
out for long; and what is known here does not depend on whether there is such an account.
"""

from collections import OrderedDict, deque
from dataclasses import dataclass, field
from typing import Final

FREE: Final = 3
FIRST_S: Final = 2.0
LONGEST_S: Final = 60.0
_FORGOTTEN_S: Final = 86_400.0
_REMEMBERED: Final = 10_000
_MINUTE_S: Final = 60.0


@dataclass
class Slowing:
    """Failures by account; time is monotonic. [s]"""

    _failed: OrderedDict[str, tuple[int, float]] = field(default_factory=OrderedDict)

    def wait_s(self, account: str, now_s: float) -> float:
        """Return how long an account still has to wait before it is tried again. [s]"""
        times, last_s = self._standing(account, now_s)
        if times < FREE:
            return 0.0
        pause_s = min(FIRST_S * 2.0 ** min(times - FREE, 16), LONGEST_S)
        return max(0.0, last_s + pause_s - now_s)

    def failed(self, account: str, now_s: float) -> None:
        """Note that a try has failed. [s]"""
        times, _ = self._standing(account, now_s)
        self._failed[account] = (times + 1, now_s)
        self._failed.move_to_end(account)
        while len(self._failed) > _REMEMBERED:
            self._failed.popitem(last=False)

    def succeeded(self, account: str) -> None:
        """Forget an account's failures."""
        self._failed.pop(account, None)

    def _standing(self, account: str, now_s: float) -> tuple[int, float]:
        times, last_s = self._failed.get(account, (0, now_s))
        return (0, now_s) if now_s - last_s > _FORGOTTEN_S else (times, last_s)


@dataclass
class Turnstile:
    """Lets so many through a minute: of one address, and of all together."""

    each: int = 20
    all: int = 100
    _passed: OrderedDict[str, deque[float]] = field(default_factory=OrderedDict)
    _together: deque[float] = field(default_factory=deque)

    def passes(self, address: str, now_s: float) -> bool:
        """Return whether one more from an address may pass now. [s]"""
        own = self._passed.setdefault(address, deque())
        self._passed.move_to_end(address)
        while len(self._passed) > _REMEMBERED:
            self._passed.popitem(last=False)
        for queue in (own, self._together):
            while queue and now_s - queue[0] >= _MINUTE_S:
                queue.popleft()
        if len(own) >= self.each or len(self._together) >= self.all:
            return False
        own.append(now_s)
        self._together.append(now_s)
        return True
