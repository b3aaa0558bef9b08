"""How long to wait after failures: longer each time, and never two farms in step."""

import random
from collections.abc import Callable, Sequence
from typing import Final

WAITS_S: Final = (2.0, 5.0, 15.0, 60.0, 120.0, 300.0)
LONGEST_ASKED_S: Final = 900.0
"""A server that asks for a longer wait is asked again after this. [s]"""
LEAST_SHARE: Final = 0.5


class Waits:
    """The waits after failures in a row; ``dice`` gives numbers from 0 to 1."""

    def __init__(
        self, waits_s: Sequence[float] = WAITS_S, dice: Callable[[], float] | None = None
    ) -> None:
        self._waits_s = waits_s
        self._dice = dice or random.SystemRandom().random
        self._failures = 0

    def after_failure(self, asked_s: float = 0.0) -> float:
        """Return how long to wait now: half to all of the step, or what was asked for. [s]"""
        step_s = self._waits_s[min(self._failures, len(self._waits_s) - 1)]
        self._failures += 1
        own_s = step_s * (LEAST_SHARE + (1.0 - LEAST_SHARE) * self._dice())
        return max(own_s, min(asked_s, LONGEST_ASKED_S))

    def over(self) -> None:
        """Note that something went through."""
        self._failures = 0
