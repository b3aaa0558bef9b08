"""Stems leave, and a batch ends."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from monitor.batches.book import Purpose
from monitor.batches.counts import Count, positive, unit_word
from monitor.batches.fold import effective, fold
from monitor.batches.rules.writing import Builder, Writing, agreed, alive, written
from monitor.errors import LedgerRuleError
from monitor.model import EntryKind, LedgerEntry, NewEntry
from monitor.phrase import Phrase


@dataclass(frozen=True, slots=True)
class Leaving:
    """How many left and why; in bunches of ``bunch_of`` where that is given."""

    purpose: Purpose
    number: Count
    bunch_of: int | None = None
    to: str | None = None

    def data(self) -> dict[str, Any]:
        """Return what the entry records: JSON values only, the count in single ones."""
        of = 1 if self.bunch_of is None else self.bunch_of
        return {
            "purpose": self.purpose.value, "count": self.number.number * of,
            "rough": self.number.rough, "bunch_of": self.bunch_of, "to": self.to,
            "bunches": None if self.bunch_of is None else self.number.number,
        }  # fmt: skip


def out(batch: int, leavings: Sequence[Leaving], writing: Writing) -> Builder:
    """Record what left a batch; where an exact count comes to nothing, it ends."""

    def build(entries: Sequence[LedgerEntry]) -> Sequence[NewEntry]:
        unit = alive(fold(entries), batch, writing)[0].unit
        if not leavings:
            raise LedgerRuleError(
                Phrase("nothing leaves: say how many with --sold, --used, --given, or --culled N")
            )
        for each in leavings:
            positive(each.number, "stems")
            if each.bunch_of is not None:
                _bunches(batch, unit)
                positive(Count(each.bunch_of), "stems in a bunch")
        new = [
            NewEntry(batch, EntryKind.OUT, writing.at_ms, writing.by, each.data())
            for each in leavings
        ]
        return agreed(entries, [*new, *emptied(entries, new, batch, writing)], writing)

    return build


def _bunches(batch: int, unit: str) -> None:
    if unit != "stems":
        raise LedgerRuleError(
            Phrase(
                "bunches are of stems; batch {batch} is counted in {unit}: harvest first",
                batch=batch,
                unit=unit_word(unit),
            )
        )


def emptied(
    entries: Sequence[LedgerEntry], new: Sequence[NewEntry], batch: int, writing: Writing
) -> list[NewEntry]:
    """Return the end of a batch that the new entries leave with exactly none."""
    ledger = written(entries, new, writing)
    after = fold(ledger).batches[batch]
    if after.count != 0 or after.rough or after.ended_ms is not None:
        return []
    last_ms = max(entry.at_ms for entry in effective(ledger) if entry.batch == batch)
    return [NewEntry(batch, EntryKind.ENDED, last_ms, writing.by, {"reason": "none left"})]


def end(batch: int, reason: str, writing: Writing) -> Builder:
    """Record that a batch is no more, and why."""

    def build(entries: Sequence[LedgerEntry]) -> Sequence[NewEntry]:
        alive(fold(entries), batch, writing)
        if not reason.strip():
            raise LedgerRuleError(Phrase('no reason is given: say why with --why "sold out"'))
        data = {"reason": reason.strip()}
        new = [NewEntry(batch, EntryKind.ENDED, writing.at_ms, writing.by, data)]
        return agreed(entries, new, writing)

    return build
