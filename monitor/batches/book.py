"""What the batch ledger amounts to: batches, what was seen, what was cut and what left."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from monitor.model import Batch, LedgerEntry, Stay
from monitor.model.batch import Loading


class Purpose(StrEnum):
    """Why stems or corms left."""

    SOLD = "sold"
    USED = "used"
    GIVEN = "given"
    CULLED = "culled"


@dataclass(frozen=True, slots=True)
class Roots:
    """A sample of corms looked at for roots: their lengths, or how many had reached a length.

    ``lengths_mm`` is empty where only a share was noted; ``at_length_mm`` is the length
    that share was judged by, None for the farm's own. [mm]
    """

    lengths_mm: tuple[float, ...]
    rooted: int | None
    looked_at: int | None
    share: float | None
    at_length_mm: float | None

    def share_at(self, length_mm: float) -> float | None:
        """Return the share of the sample at or beyond a length [mm], where it is known."""
        if self.lengths_mm:
            return sum(each >= length_mm for each in self.lengths_mm) / len(self.lengths_mm)
        return self.share


@dataclass(frozen=True, slots=True)
class Observation:
    """What a person saw at one look at one batch."""

    entry: int
    batch: int
    at_ms: int
    by: str
    roots: Roots | None
    mould: str | None
    softness: str | None
    moisture: str | None
    culls: int | None
    all_fine: bool
    note: str | None
    count: int | None
    rough: bool
    held_for: str | None
    held: int | None


@dataclass(frozen=True, slots=True)
class Out:
    """Stems, plants or corms that left a batch for good."""

    entry: int
    batch: int
    at_ms: int
    by: str
    purpose: Purpose
    count: int
    rough: bool
    bunches: int | None
    bunch_of: int | None
    to: str | None


@dataclass(frozen=True, slots=True)
class Cutting:
    """Stems cut from a growing batch into a stems batch; ``cut_ms`` is when they were cut."""

    entry: int
    source: int
    into: int
    at_ms: int
    cut_ms: int
    count: int
    rough: bool


@dataclass(frozen=True, slots=True)
class Hold:
    """Stems promised to an order and still here."""

    held_for: str
    count: int


@dataclass(frozen=True, slots=True)
class Contradiction:
    """An entry that the entries before it do not allow; it has no effect."""

    entry: int
    batch: int
    at_ms: int
    message: str


@dataclass(frozen=True, slots=True)
class Book:
    """The ledger's entries, folded: nothing here that an entry does not say.

    ``undone`` names the entries that no longer count.
    """

    batches: Mapping[int, Batch]
    observations: Mapping[int, tuple[Observation, ...]]
    outs: Mapping[int, tuple[Out, ...]]
    holds: Mapping[int, tuple[Hold, ...]]
    cuttings: tuple[Cutting, ...]
    undone: frozenset[int]
    contradictions: tuple[Contradiction, ...]
    loadings: tuple[Loading, ...] = ()


def open_batches(book: Book) -> list[Batch]:
    """Return the batches that have not ended, by their number."""
    return [batch for _, batch in sorted(book.batches.items()) if batch.ended_ms is None]


def stay_at(batch: Batch, at_ms: int) -> Stay | None:
    """Return the stay a batch was in at a time, or None outside its life here."""
    for stay in batch.stays:
        if stay.since_ms <= at_ms and (stay.until_ms is None or at_ms < stay.until_ms):
            return stay
    return None


def observed(entry: LedgerEntry) -> Observation:
    """Read an entry as the observation it records."""
    data = entry.data
    return Observation(
        entry=entry.id, batch=entry.batch, at_ms=entry.at_ms, by=entry.by,
        roots=_roots(data.get("roots")), mould=data.get("mould"), softness=data.get("softness"),
        moisture=data.get("moisture"), culls=data.get("culls"),
        all_fine=bool(data.get("all_fine")), note=data.get("note"), count=data.get("count"),
        rough=bool(data.get("rough")), held_for=data.get("held_for"), held=data.get("held"),
    )  # fmt: skip


def _roots(data: Mapping[str, Any] | None) -> Roots | None:
    if data is None:
        return None
    return Roots(
        lengths_mm=tuple(float(each) for each in data.get("lengths_mm", ())),
        rooted=data.get("rooted"),
        looked_at=data.get("of"),
        share=data.get("share"),
        at_length_mm=data.get("at_length_mm"),
    )


def left(entry: LedgerEntry) -> Out:
    """Read an entry as the leaving it records."""
    data = entry.data
    return Out(
        entry=entry.id, batch=entry.batch, at_ms=entry.at_ms, by=entry.by,
        purpose=Purpose(data["purpose"]), count=int(data["count"]), rough=bool(data.get("rough")),
        bunches=data.get("bunches"), bunch_of=data.get("bunch_of"), to=data.get("to"),
    )  # fmt: skip
