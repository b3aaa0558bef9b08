"""Guessing made slow: by account and where the tries come from, then by account alone.

After three failures at an account, whoever failed waits two seconds, then twice as long each
time, a minute at most; somebody elsewhere waits for nothing. All strangers to an account
together have ten failures, and then wait in the same way, 45 seconds at most, so that many
addresses guess no faster than one. A device that has signed in to the account before is no
stranger: it is slowed by its own failures alone, so nobody can shut an owner's phone out.
What is known here does not depend on whether there is such an account.

References
----------
OWASP, slow down online guessing attacks with device cookies; OWASP ASVS 4.0.3, 2.2.1: no more
than a hundred failures an hour at one account (both from memory).
"""

from collections import OrderedDict, deque
from dataclasses import dataclass, field
from ipaddress import IPv6Address, ip_address, ip_network
from typing import Final, NamedTuple

FREE: Final = 3
FREE_TOGETHER: Final = 10
FIRST_S: Final = 2.0
LONGEST_S: Final = 60.0
LONGEST_TOGETHER_S: Final = 45.0
_FORGOTTEN_S: Final = 86_400.0
_REMEMBERED: Final = 10_000
_MINUTE_S: Final = 60.0
_ONE_HOME: Final = 64  # bits of an IPv6 address that one line has; the rest is its own choice


class Source(NamedTuple):
    """Where a try comes from: an address, or a device that the account knows."""

    name: str
    known: bool = False


def stranger(address: str) -> Source:
    """Return the source that an address stands for: itself, or its IPv6 network of 64 bits."""
    try:
        found = ip_address(address)
    except ValueError:
        return Source(address)
    if not isinstance(found, IPv6Address):
        return Source(address)
    if found.ipv4_mapped is not None:
        return Source(str(found.ipv4_mapped))
    bare = found.packed
    return Source(str(ip_network((bare, _ONE_HOME), strict=False)))


@dataclass
class Slowing:
    """Failures by account and source; time is monotonic. [s]"""

    _failed: OrderedDict[tuple[str, str], tuple[int, float]] = field(default_factory=OrderedDict)

    def wait_s(self, account: str, source: Source, now_s: float) -> float:
        """Return how long a source still has to wait before an account is tried again. [s]"""
        own = self._left_s((account, source.name), FREE, LONGEST_S, now_s)
        if source.known:
            return own
        return max(own, self._left_s((account, ""), FREE_TOGETHER, LONGEST_TOGETHER_S, now_s))

    def failed(self, account: str, source: Source, now_s: float) -> None:
        """Note that a try has failed. [s]"""
        for key in self._keys(account, source):
            times, _ = self._standing(key, now_s)
            self._failed[key] = (times + 1, now_s)
            self._failed.move_to_end(key)
        while len(self._failed) > _REMEMBERED:
            self._failed.popitem(last=False)

    def succeeded(self, account: str, source: Source) -> None:
        """Forget what failed from where the right password came, and what strangers did if so."""
        for key in self._keys(account, source):
            self._failed.pop(key, None)

    @staticmethod
    def _keys(account: str, source: Source) -> list[tuple[str, str]]:
        own = (account, source.name)
        return [own] if source.known else [own, (account, "")]

    def _left_s(self, key: tuple[str, str], free: int, longest_s: float, now_s: float) -> float:
        times, last_s = self._standing(key, now_s)
        if times < free:
            return 0.0
        pause_s = min(FIRST_S * 2.0 ** min(times - free, 16), longest_s)
        return max(0.0, last_s + pause_s - now_s)

    def _standing(self, key: tuple[str, str], now_s: float) -> tuple[int, float]:
        times, last_s = self._failed.get(key, (0, now_s))
        return (0, now_s) if now_s - last_s > _FORGOTTEN_S else (times, last_s)


@dataclass
class Turnstile:
    """Lets so many through a minute: of one source, and of all strangers together."""

    each: int = 20
    all: int = 100
    _passed: OrderedDict[str, deque[float]] = field(default_factory=OrderedDict)
    _together: deque[float] = field(default_factory=deque)

    def passes(self, source: Source, now_s: float) -> bool:
        """Return whether one more from a source may pass now. [s]

        A known device is not counted among the strangers, and does not wait for them.
        """
        own = self._passed.setdefault(source.name, deque())
        self._passed.move_to_end(source.name)
        while len(self._passed) > _REMEMBERED:
            self._passed.popitem(last=False)
        shared = deque[float]() if source.known else self._together
        for queue in (own, shared):
            while queue and now_s - queue[0] >= _MINUTE_S:
                queue.popleft()
        if len(own) >= self.each or len(shared) >= self.all:
            return False
        own.append(now_s)
        shared.append(now_s)
        return True
