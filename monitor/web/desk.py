"""What the pages may see of the running monitor, and the little they may do."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Protocol

from monitor.alarms import Quiet
from monitor.batches import Book
from monitor.batches.loading import Build
from monitor.farm import Farm
from monitor.farm.editing import Change
from monitor.model import Answer, LedgerEntry
from monitor.model.batch import Slip
from monitor.store import Ledger, ReadingReader
from monitor.watch import WatchState
from monitor.web.changes import Changes


@dataclass(frozen=True, slots=True)
class Health:
    """How the monitor itself is; ``troubles`` are sentences for the first page.

    ``ready`` means that the store can be written and the broker is connected. ``mirror`` is how
    the copy elsewhere goes, in a few words, ``""`` where there is none; ``behind_s`` the age of
    the oldest reading that waits for it [s]; ``backup`` what came of the last daily copy,
    ``copies`` sentences about it for the settings,
    ``disk`` how long the disk lasts, ``disk_free`` [bytes] and ``disk_days`` [d] the figures.
    """

    ready: bool
    broker: str
    store: str
    troubles: tuple[str, ...] = ()
    counts: dict[str, float] = field(default_factory=dict)
    mirror: str = ""
    behind_s: float = 0.0
    backup: str = ""
    copies: tuple[str, ...] = ()
    disk: str = ""
    disk_free: int | None = None
    disk_days: float | None = None


class Desk(Protocol):
    """The running monitor as the pages see it; every method may be called from any thread."""

    @property
    def changes(self) -> Changes:
        """Return what wakes open pages."""

    @property
    def ledger(self) -> Ledger:
        """Return the ledger, open."""

    def farm(self) -> Farm:
        """Return the farm as it is configured now."""

    def watch(self) -> WatchState:
        """Return the watch's newest state."""

    def book(self) -> Book:
        """Return what the ledger of batches amounts to now."""

    def reader(self) -> ReadingReader:
        """Return a reader of the readings for the calling thread; do not close it."""

    def now_ms(self) -> int:
        """Return the time by which everything is judged. [ms]"""

    def health(self) -> Health:
        """Return how the monitor itself is."""

    def acknowledge(self, alarm_id: int, by: str, answer: Answer = Answer.SEEN) -> str:
        """Answer an alarm and return a sentence for the person who did."""

    def put_aside(self, alarm_id: int, quiet: Quiet) -> str:
        """Put an alarm aside and return a sentence for the person who did."""

    def take_back(self, alarm_id: int, by: str) -> str:
        """End an alarm's being put aside and return a sentence for the person who did."""

    def record(self, build: Build, slip: Slip | None = None) -> Sequence[LedgerEntry]:
        """Write entries of the ledger of batches and return them; those of a slip only once."""

    def reconfigure(
        self, changes: Sequence[Change], *, by: str, why: str, digest: str | None,
        secrets: Mapping[str, str] | None = None,
    ) -> bool:  # fmt: skip
        """Change the farm's files, all of it or nothing; return whether it is in force already.

        Raises
        ------
        FarmError
            If the farm cannot be used so, its files changed meanwhile, or cannot be written.
        BusyError
            If another change is being written.
        """
