"""Lets open pages wait for the next change, without holding up a stop."""

import asyncio
from collections.abc import AsyncIterator
from typing import Final

STREAMS_AT_MOST: Final = 64
ALIVE_EVERY_S: Final = 10.0
CHANGES_APART_S: Final = 1.0


class Changes:
    """Counts what changed and wakes the streams that wait for it.

    To be used from one event loop only; ``close`` ends every stream at once.
    """

    def __init__(self) -> None:
        self._number = 0
        self._news = asyncio.Event()
        self._closed = False
        self.open_streams = 0

    def tell(self) -> None:
        """Say that something a page shows has changed."""
        self._number += 1
        self._news.set()

    def close(self) -> None:
        """End every stream, for a stop."""
        self._closed = True
        self._news.set()

    def ended(self) -> bool:
        """Return whether a stop has ended the streams."""
        return self._closed

    def full(self) -> bool:
        """Return whether as many streams are open as one small computer should carry."""
        return self.open_streams >= STREAMS_AT_MOST

    async def _next(self, seen: int) -> str:
        if self._number == seen:
            self._news.clear()
            try:
                await asyncio.wait_for(self._news.wait(), ALIVE_EVERY_S)
            except TimeoutError:
                return "alive"
        return "changed"

    async def stream(self) -> AsyncIterator[str]:
        """Yield server-sent events until the reader leaves or the monitor stops.

        References
        ----------
        WHATWG HTML Living Standard, 9.2 Server-sent events.
        """
        self.open_streams += 1
        seen = self._number
        try:
            yield "retry: 3000\nevent: alive\ndata: 0\n\n"
            while not self.ended():
                event = await self._next(seen)
                seen = self._number
                if self.ended():
                    return
                yield f"event: {event}\ndata: {seen}\n\n"
                if event == "changed":
                    await asyncio.sleep(CHANGES_APART_S)
        finally:
            self.open_streams -= 1
