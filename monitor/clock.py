"""The only place that reads the time.

Wall time is UTC anchored on the monotonic clock: between two looks it cannot jump;
a difference of more than five seconds against the system's clock is a *step*, told to
whoever judges by it, after which the anchor is laid anew.
"""

import time
from dataclasses import dataclass
from typing import Final, Protocol

STEP_MS: Final = 5_000


class Clock(Protocol):
    """What tells the time that readings are judged by."""

    def now_ms(self) -> int:
        """Return UTC now. [ms since 1970]"""

    def step_ms(self) -> int:
        """Return by how much the system's clock jumped since last asked, else 0. [ms]"""

    def real_seconds(self, judged_s: float) -> float:
        """Return how long to really wait for a span of judged time. [s]"""


class SystemClock:
    """UTC from the system, steadied by the monotonic clock."""

    def __init__(self) -> None:
        self._anchor_ms = self._offset_ms()

    @staticmethod
    def _offset_ms() -> int:
        return (time.time_ns() - time.monotonic_ns()) // 1_000_000

    def now_ms(self) -> int:
        """Return UTC now. [ms since 1970]"""
        return self._anchor_ms + time.monotonic_ns() // 1_000_000

    def step_ms(self) -> int:
        """Return the jump of the system's clock since last asked, and follow it. [ms]"""
        offset = self._offset_ms()
        jump = offset - self._anchor_ms
        self._anchor_ms = offset
        return jump if abs(jump) > STEP_MS else 0

    def real_seconds(self, judged_s: float) -> float:
        """Return the span itself: judged time is real time. [s]"""
        return judged_s


@dataclass
class ScaledClock:
    """A clock that runs faster than real time, for the demo: judged time only.

    Keep-alive, commits, retries and deadlines stay on real monotonic time.
    """

    start_ms: int
    rate: float

    def __post_init__(self) -> None:
        self._began_ns = time.monotonic_ns()

    def now_ms(self) -> int:
        """Return the scaled UTC now. [ms since 1970]"""
        return self.start_ms + int((time.monotonic_ns() - self._began_ns) / 1e6 * self.rate)

    def step_ms(self) -> int:
        """Return 0: this clock never jumps. [ms]"""
        return 0

    def real_seconds(self, judged_s: float) -> float:
        """Return the real wait for a span of judged time. [s]"""
        return judged_s / self.rate


def monotonic_s() -> float:
    """Return real monotonic time, for deadlines and waits. [s]"""
    return time.monotonic()
