"""Keeps a part running: restarted once in ten minutes, then the daemon ends."""

import asyncio
import logging
from collections.abc import Awaitable, Callable
from dataclasses import dataclass, field
from typing import Final

from monitor.clock import monotonic_s

RESTART_WINDOW_S: Final = 600.0

log = logging.getLogger("cormwatch")


class PartDiedError(RuntimeError):
    """A part died twice within ten minutes: the service manager starts us anew."""


@dataclass
class Supervisor:
    """Runs parts and remembers why one died, for the health page.

    ``deaths`` maps a part's name to the reason of its latest death.
    """

    monotonic_s: Callable[[], float] = monotonic_s
    deaths: dict[str, str] = field(default_factory=dict)

    async def keep(self, name: str, part: Callable[[], Awaitable[None]]) -> None:
        """Run a part until it ends by itself.

        Raises
        ------
        PartDiedError
            If it died twice within ten minutes of real time.
        """
        died_at: float | None = None
        while True:
            try:
                await part()
            except asyncio.CancelledError:
                raise
            except Exception as failure:
                log.exception("part %s died", name)
                self.deaths[name] = f"{type(failure).__name__}: {failure}"
                now = self.monotonic_s()
                if died_at is not None and now - died_at < RESTART_WINDOW_S:
                    raise PartDiedError(f"{name} died twice in ten minutes: {failure}") from failure
                died_at = now
            else:
                return
