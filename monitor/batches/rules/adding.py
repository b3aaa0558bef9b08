"""A batch begins."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from monitor.batches.counts import Count, positive, unit_word
from monitor.batches.rules.writing import Builder, Writing, agreed
from monitor.errors import LedgerRuleError
from monitor.model import EntryKind, LedgerEntry, NewEntry
from monitor.phrase import Phrase


@dataclass(frozen=True, slots=True)
class Start:
    """What is known of a batch as it begins; ``count`` None where nobody counted.

    ``crop``, ``place`` and ``stage`` are ids; ``unit`` is what the stage is counted in.
    """

    crop: str
    cultivar: str
    place: str
    stage: str
    unit: str
    count: Count | None = None
    supplier: str | None = None
    lot: str | None = None
    grade: str | None = None
    received: int | None = None
    rotten: int | None = None
    note: str | None = None
    parents: tuple[int, ...] = ()

    def data(self) -> dict[str, Any]:
        """Return what the entry records: JSON values only."""
        count = self.count
        return {
            "crop": self.crop, "cultivar": self.cultivar, "place": self.place,
            "stage": self.stage, "unit": self.unit, "count": count and count.number,
            "rough": bool(count and count.rough), "supplier": self.supplier, "lot": self.lot,
            "grade": self.grade, "received": self.received, "rotten": self.rotten,
            "note": self.note, "parents": list(self.parents),
        }  # fmt: skip


def sound(start: Start) -> Start:
    """Return the start with its count, where received and rotten tell it.

    Raises
    ------
    LedgerRuleError
        If the figures contradict each other.
    """
    if start.received is None:
        if start.count is not None:
            positive(start.count, start.unit)
        return start
    good = start.received - (start.rotten or 0)
    if good < 0:
        raise LedgerRuleError(
            Phrase(
                "{rotten} rotten of {received} received cannot be: correct one of them",
                rotten=start.rotten,
                received=start.received,
            )
        )
    count = start.count or Count(good)
    if count.number > good and not count.rough:
        raise LedgerRuleError(
            Phrase(
                "{number} {unit} are more than the {good} that {received} received and "
                "{rotten} rotten leave: correct --count, --received or --rotten",
                number=count.number,
                unit=unit_word(start.unit),
                good=good,
                received=start.received,
                rotten=start.rotten or 0,
            )
        )
    return replace(start, count=positive(count, start.unit))


def add(start: Start, writing: Writing) -> Builder:
    """Record a new batch."""

    def build(entries: Sequence[LedgerEntry]) -> Sequence[NewEntry]:
        if start.rotten is not None and start.received is None:
            raise LedgerRuleError(Phrase("--rotten needs --received: how many came in all"))
        data = sound(start).data()
        return agreed(
            entries,
            [NewEntry(None, EntryKind.ADDED, writing.at_ms, writing.by, data)],
            writing,
        )

    return build
