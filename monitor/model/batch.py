"""Batches, their stays, and the append-only entries they are folded from."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any, Final, NamedTuple


class PlaceState(StrEnum):
    """How a place, or a batch in it, stands against its bands."""

    IN_BAND = "in_band"
    DRIFTING = "drifting"
    HARM = "harm"
    UNKNOWN = "unknown"


class EntryKind(StrEnum):
    """What an entry of the batch ledger records."""

    ADDED = "added"
    MOVED = "moved"
    HARVESTED = "harvested"  # stems taken from a growing batch that keeps its own count
    GATHERED = "gathered"  # the same stems arriving in a stems batch
    OUT = "out"  # bunches or stems that left: sold, used, given, culled
    OBSERVED = "observed"
    SPLIT = "split"  # part of a batch became another batch
    DIVIDED = "divided"  # clumps became several: a count may grow
    ENDED = "ended"
    LOADING = "loading"  # of no batch: a place is being loaded until a time, or no longer
    UNDONE = "undone"  # an earlier entry (with its group) no longer counts


NO_BATCH: Final = 0
"""What an entry that belongs to no batch bears as its batch."""


class Loading(NamedTuple):
    """A place whose door stands open because people load it. [ms]"""

    place: str
    from_ms: int
    until_ms: int


@dataclass(frozen=True, slots=True)
class NewEntry:
    """An entry that is about to be written; ``batch`` None asks for a new batch id.

    ``data`` holds JSON values only. Entries written together share one group.
    """

    batch: int | None
    kind: EntryKind
    at_ms: int
    by: str
    data: Mapping[str, Any] = field(default_factory=dict)


class Slip(NamedTuple):
    """What an entry is known again by when it is sent twice.

    ``token`` was made where it was written down, ``digest`` stands for what it asks.
    """

    token: str
    digest: str


@dataclass(frozen=True, slots=True)
class LedgerEntry:
    """An entry as it stands in the ledger."""

    id: int
    group: int
    batch: int
    kind: EntryKind
    at_ms: int
    recorded_ms: int
    by: str
    data: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Stay:
    """One batch in one place at one stage; ``until_ms`` None while it is there."""

    place: str
    stage: str
    since_ms: int
    until_ms: int | None


@dataclass(frozen=True, slots=True)
class Batch:
    """Corms, plants or stems that move together, as its entries tell."""

    id: int
    crop: str
    cultivar: str
    supplier: str | None
    lot: str | None
    grade: str | None
    count: int | None
    rough: bool
    counted_at_ms: int | None
    received: int | None
    rotten: int | None
    unit: str  # "corms", "plants", "stems", "bunches", "clumps", "bulbs"
    stays: tuple[Stay, ...]
    ended_ms: int | None
    held_for: str | None
    parents: tuple[int, ...]

    @property
    def stay(self) -> Stay | None:
        """The stay it is in now, or None once it has ended."""
        return self.stays[-1] if self.stays and self.ended_ms is None else None
