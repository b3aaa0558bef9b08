"""Lets open pages wait for the next change, without holding up a stop."""

import asyncio
from collections import Counter
from collections.abc import AsyncGenerator
from contextlib import suppress
from typing import Final

from monitor.clock import monotonic_s

STREAMS_AT_MOST: Final = 64
EACH_AT_MOST: Final = 16
ALIVE_EVERY_S: Final = 10.0
CHANGES_APART_S: Final = 2.0
"""The first change is told at once; a busy farm's pages are not woken more often."""
FIGURES_APART_S: Final = 10.0
"""A figure that moved and changed nothing else: a page that lies open all day costs little."""


class Changes:
    """Counts what changed and wakes the streams that wait for it.

    To be used from one event loop only; ``close`` ends every stream at once.
    """

    def __init__(
        self, alive_every_s: float = ALIVE_EVERY_S, apart_s: float = CHANGES_APART_S,
        figures_apart_s: float = FIGURES_APART_S,
    ) -> None:  # fmt: skip
        self._number = self._pressing = 0
        self._news = asyncio.Event()
        self._closing = asyncio.Event()
        self._alive_every_s = alive_every_s
        self._apart_s = apart_s
        self._figures_apart_s = figures_apart_s
        self.open_streams = 0
        self.streams_of: Counter[str] = Counter()

    def tell(self) -> None:
        """Say that something a page shows has changed."""
        self.tell_figures()
        self._pressing = self._number

    def tell_figures(self) -> None:
        """Say that a figure has moved, and nothing else that is known of."""
        self._number += 1
        self._news.set()

    def open(self) -> None:
        """Let streams begin, for a start or for another one."""
        self._closing.clear()

    def close(self) -> None:
        """End every stream, for a stop."""
        self._closing.set()
        self._news.set()

    def ended(self) -> bool:
        """Return whether a stop has ended the streams."""
        return self._closing.is_set()

    def full(self, person: str = "") -> bool:
        """Return whether as many streams are open as one small computer, or a person, may have."""
        own = self.streams_of[person] if person else 0
        return self.open_streams >= STREAMS_AT_MOST or own >= EACH_AT_MOST

    async def _next(self, seen: int, told_s: float) -> str:
        """Wait for what a page that was last woken at some time is to be told of. [s]"""
        alive_s, figures_s = monotonic_s() + self._alive_every_s, told_s + self._figures_apart_s
        while self._pressing <= seen and not self.ended():
            now_s, until_s = monotonic_s(), alive_s
            if self._number > seen:
                if now_s >= figures_s:
                    break
                until_s = min(alive_s, figures_s)
            elif now_s >= alive_s:
                return "alive"
            self._news.clear()
            with suppress(TimeoutError):
                await asyncio.wait_for(self._news.wait(), max(until_s - now_s, 0.0))
        return "changed"

    async def stream(self) -> AsyncGenerator[str, None]:
        """Yield server-sent events until the reader leaves or the monitor stops.

        References
        ----------
        WHATWG HTML Living Standard, 9.2 Server-sent events.
        """
        seen, told_s = self._number, float("-inf")
        yield "retry: 3000\nevent: alive\ndata: 0\n\n"
        while not self.ended():
            event = await self._next(seen, told_s)
            seen = self._number
            if self.ended():
                return
            yield f"event: {event}\ndata: {seen}\n\n"
            if event == "changed":
                told_s = monotonic_s()
                with suppress(TimeoutError):
                    await asyncio.wait_for(self._closing.wait(), self._apart_s)
