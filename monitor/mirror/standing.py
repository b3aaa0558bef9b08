"""How the copying goes, for pages, health checks and commands."""

import hashlib
from dataclasses import dataclass
from typing import Final
from urllib.parse import urlsplit

from monitor.farm import Mirror
from monitor.store import MirrorFile

HOURS_MS: Final = 2 * 3_600_000
"""So long it may fail before it is a trouble: a server's update or a night without a line."""
DAY_MS: Final = 86_400_000


@dataclass(frozen=True, slots=True)
class MirrorStanding:
    """How the copying goes.

    ``oldest_ms`` is the time of the oldest reading that waits, None where none is known to;
    ``failing_since_ms`` None while readings arrive; ``refused_ms`` when one was last set
    aside, ``sent_ms`` when one last arrived [ms]. ``host`` is where they go.
    """

    host: str
    oldest_ms: int | None = None
    failing_since_ms: int | None = None
    error: str = ""
    sent: int = 0
    refused: int = 0
    refused_ms: int | None = None
    sent_ms: int | None = None

    def behind_s(self, now_ms: int) -> float:
        """Return the age of the oldest reading that waits. [s]"""
        return 0.0 if self.oldest_ms is None else max((now_ms - self.oldest_ms) / 1000, 0.0)

    def word(self) -> str:
        """Return it in a word or two."""
        if self.failing_since_ms is not None:
            return f"fails: {self.error}"
        return "up to date" if self.oldest_ms is None else "catching up"

    def troubles(self, now_ms: int, since: str) -> list[str]:
        """Return what the first page is to tell; ``since`` is when it began to fail, in words."""
        told = []
        failing_ms = self.failing_since_ms
        waited_ms = now_ms - min(failing_ms or now_ms, self.oldest_ms or now_ms)
        if failing_ms is not None and waited_ms >= HOURS_MS:
            told.append(
                f"The mirror at {self.host} has taken no reading since {since}: {self.error}. "
                "Everything is kept here and sent when it answers again."
            )
        if self.refused_ms is not None and now_ms - self.refused_ms < DAY_MS:
            told.append(
                f"The mirror at {self.host} has refused readings, {self.refused:,} in all: "
                "cormwatch mirror status names them."
            )
        return told


def target(mirror: Mirror) -> str:
    """Return what tells one place to copy to from another, without holding its address."""
    parts = (mirror.url, mirror.org, mirror.bucket, mirror.measurement, mirror.site)
    return hashlib.sha256("\n".join(parts).encode()).hexdigest()[:16]


def standing_of(mirror: Mirror, file: MirrorFile) -> MirrorStanding:
    """Return how it went last, as the file tells."""
    outcome = file.outcome()
    newest = file.refused(1)
    return MirrorStanding(
        urlsplit(mirror.url).hostname or mirror.url,
        failing_since_ms=outcome.failing_since_ms,
        error=outcome.error,
        sent=outcome.sent,
        refused=outcome.refused,
        refused_ms=newest[0].refused_ms if newest else None,
        sent_ms=outcome.sent_ms,
    )
