"""What a person saw at one look."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from monitor.batches.book import Purpose, Roots
from monitor.batches.counts import Count, positive
from monitor.batches.fold import fold
from monitor.batches.rules.leaving import Leaving, emptied
from monitor.batches.rules.writing import Builder, Writing, agreed, alive
from monitor.errors import LedgerRuleError
from monitor.model import EntryKind, LedgerEntry, NewEntry
from monitor.phrase import Phrase


@dataclass(frozen=True, slots=True)
class Seen:
    """One look at a batch; what was not looked at is None.

    ``culls`` were thrown away at this look and leave the count. ``held`` stems are
    held for the order ``held_for``; none releases it.
    """

    roots: Roots | None = None
    mould: str | None = None
    softness: str | None = None
    moisture: str | None = None
    culls: int | None = None
    all_fine: bool = False
    note: str | None = None
    count: Count | None = None
    held_for: str | None = None
    held: int | None = None

    def data(self) -> dict[str, Any]:
        """Return what the entry records: JSON values only, and only what was seen."""
        count = self.count
        found: dict[str, Any] = {
            "roots": self.roots and _roots(self.roots), "mould": self.mould,
            "softness": self.softness, "moisture": self.moisture, "culls": self.culls,
            "all_fine": self.all_fine or None, "note": self.note,
            "count": None if count is None else count.number,
            "rough": None if count is None else count.rough,
            "held_for": self.held_for, "held": self.held,
        }  # fmt: skip
        return {key: value for key, value in found.items() if value is not None}


def _roots(roots: Roots) -> dict[str, Any]:
    found: dict[str, Any] = {
        "lengths_mm": list(roots.lengths_mm) or None, "rooted": roots.rooted,
        "of": roots.looked_at, "share": roots.share, "at_length_mm": roots.at_length_mm,
    }  # fmt: skip
    return {key: value for key, value in found.items() if value is not None}


def observe(batch: int, seen: Seen, writing: Writing) -> Builder:
    """Record what was seen of a batch; culls leave its count in the same entry's group."""

    def build(entries: Sequence[LedgerEntry]) -> Sequence[NewEntry]:
        alive(fold(entries), batch, writing)
        _check(seen)
        new = [NewEntry(batch, EntryKind.OBSERVED, writing.at_ms, writing.by, seen.data())]
        if seen.culls:
            gone = Leaving(Purpose.CULLED, positive(Count(seen.culls), "culls"))
            new.insert(0, NewEntry(batch, EntryKind.OUT, writing.at_ms, writing.by, gone.data()))
        return agreed(entries, [*new, *emptied(entries, new, batch, writing)], writing)

    return build


def _check(seen: Seen) -> None:
    if not seen.data():
        raise LedgerRuleError(
            Phrase(
                "nothing was seen: say what with --all-fine, --roots, --mould, --softness, "
                "--moisture, --culls, --count, --held-for or --note"
            )
        )
    if seen.all_fine and (seen.mould or seen.softness):
        raise LedgerRuleError(
            Phrase("all fine and mould or softness contradict each other: give one")
        )
    if seen.held is not None and not seen.held_for:
        raise LedgerRuleError(
            Phrase('held for whom? Name the order: --held-for "Saturday wedding"')
        )
    if seen.held_for is not None and seen.held is None:
        raise LedgerRuleError(
            Phrase(
                "how many are held for {held_for}? Give --stems N (0 releases them)",
                held_for=seen.held_for,
            )
        )
