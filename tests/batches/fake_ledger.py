"""A ledger on paper: numbers entries as the real one does, and keeps them in a list."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime

from monitor.batches import Book, fold
from monitor.batches.counts import Count
from monitor.batches.rules import Start, Writing, add
from monitor.model import LedgerEntry, NewEntry

HOUR_MS = 3_600_000
DAY_MS = 24 * HOUR_MS
NOW_MS = int(datetime(2026, 11, 18, 10, tzinfo=UTC).timestamp()) * 1000
BEGAN_MS = NOW_MS - 30 * DAY_MS
UNITS = {"pre_sprout": "corms", "bud": "plants", "bloom": "plants", "cut_stems": "stems"}
GROWING = ("bud", "bloom")


@dataclass
class PaperLedger:
    """Entries in the order they were written."""

    entries: list[LedgerEntry] = field(default_factory=list)

    def write(
        self, build: Callable[[Sequence[LedgerEntry]], Sequence[NewEntry]], now_ms: int = NOW_MS
    ) -> list[LedgerEntry]:
        """Build on the entries and keep what comes of it, as one group."""
        new = build(tuple(self.entries))
        group = max((entry.group for entry in self.entries), default=0) + 1
        batch = max((entry.batch for entry in self.entries), default=0) + 1
        kept = [
            LedgerEntry(
                len(self.entries) + 1 + number, group, batch if e.batch is None else e.batch,
                e.kind, e.at_ms, now_ms, e.by, e.data,
            )
            for number, e in enumerate(new)
        ]  # fmt: skip
        self.entries.extend(kept)
        return kept

    @property
    def book(self) -> Book:
        """What the entries amount to."""
        return fold(self.entries)


def at(at_ms: int = NOW_MS - DAY_MS, by: str = "Wren", now_ms: int = NOW_MS) -> Writing:
    """Return a writing of the made-up grower Wren."""
    return Writing(by=by, at_ms=at_ms, now_ms=now_ms)


def corms(number: int | None = 300, *, rough: bool = False) -> Start:
    """Return a batch of corms in the sprouting room."""
    count = None if number is None else Count(number, rough)
    return Start("ranunculus", "Dawn Apricot", "sprouting-room", "pre_sprout", "corms", count)


def plants(number: int | None = 300, cultivar: str = "Dawn Apricot") -> Start:
    """Return a batch in bud in tunnel 2."""
    count = None if number is None else Count(number)
    return Start("ranunculus", cultivar, "tunnel-2", "bud", "plants", count)


def stems(number: int | None = 300, *, rough: bool = False) -> Start:
    """Return a batch of cut stems in the cooler."""
    count = None if number is None else Count(number, rough)
    return Start("ranunculus", "Dawn Apricot", "walk-in-cooler", "cut_stems", "stems", count)


def ledger(*starts: Start) -> PaperLedger:
    """Return a ledger whose batches 1, 2, … began thirty days ago."""
    paper = PaperLedger()
    for start in starts:
        paper.write(add(start, at(BEGAN_MS)))
    return paper
