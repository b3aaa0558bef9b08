"""One batch as a report sees it: its record, what it lived through, and its alarms."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from monitor.batches import Book, fold
from monitor.batches.combining import Course, SensorSeries, combine
from monitor.batches.history import History, history
from monitor.batches.pieces import Piece, Version, pieces
from monitor.batches.rules.writing import known
from monitor.batches.unknown import AIR, Unknown, unknown_air
from monitor.model import Alarm, Batch, LedgerEntry, Quantity
from monitor.report.reading import JUDGED, Stores
from monitor.report.recorded import versions_of
from monitor.store import Configuration, Ledger

ALARMS: Final = 100_000
Met = Sequence[tuple[Piece, Mapping[Quantity, Course]]]


@dataclass(frozen=True, slots=True)
class Subject:
    """A batch, up to now or to its end. [ms]

    ``met`` is its life in pieces with their courses; ``alarms`` are those of its places
    while it stood there, and its own.
    """

    stores: Stores
    book: Book
    batch: Batch
    entries: Sequence[LedgerEntry]
    now_ms: int
    series: Mapping[str, Sequence[SensorSeries]]
    versions: Sequence[Version]
    history: History
    met: Met
    unknown: Sequence[Unknown]
    alarms: Sequence[Alarm]

    @property
    def until_ms(self) -> int:
        """Return when its life here ends: now, or its end. [ms]"""
        ended_ms = self.batch.ended_ms
        return self.now_ms if ended_ms is None else min(ended_ms, self.now_ms)

    @property
    def stage_since_ms(self) -> int:
        """Return since when it is, or last was, at its stage, whatever the place. [ms]"""
        last = self.batch.stays[-1]
        since_ms = last.since_ms
        for stay in reversed(self.batch.stays):
            if stay.stage != last.stage:
                break
            since_ms = stay.since_ms
        return since_ms


@dataclass(frozen=True, slots=True)
class Record:
    """What the ledger says, read once: entries, what they amount to, and the alarms."""

    entries: Sequence[LedgerEntry]
    book: Book
    alarms: Sequence[Alarm]
    accepted: Sequence[Configuration]


def record_of(ledger: Ledger) -> Record:
    """Read what a report needs from the ledger."""
    entries = ledger.entries()
    return Record(entries, fold(entries), ledger.alarms(limit=ALARMS), ledger.configurations())


def subject(stores: Stores, record: Record, number: int, now_ms: int) -> Subject:
    """Gather one batch.

    Raises
    ------
    UnknownNameError
        If there is no such batch.
    """
    book = record.book
    batch = known(book, number)
    until_ms = now_ms if batch.ended_ms is None else min(batch.ended_ms, now_ms)
    versions = versions_of(stores.past, batch.crop)
    series = stores.of_stays(batch.stays, until_ms)
    parts = pieces(batch, versions, until_ms)
    met = [(part, _courses(part, series.get(part.place, ()))) for part in parts]
    places = stores.farm.places
    return Subject(
        stores=stores,
        book=book,
        batch=batch,
        entries=[each for each in record.entries if each.batch == number],
        now_ms=now_ms,
        series=series,
        versions=versions,
        history=history(batch, series, versions, until_ms, base_c=_base_c(stores, batch)),
        met=met,
        unknown=[
            run
            for part, courses in met
            for run in unknown_air(
                part, courses[AIR], places[part.place].kind if part.place in places else None
            )
        ],
        alarms=[each for each in record.alarms if _concerns(each, batch, now_ms)],
    )


def _base_c(stores: Stores, batch: Batch) -> float:
    crop = stores.farm.crops.get(batch.crop)
    return crop.roots.base_c if crop else 0.0


def _courses(part: Piece, here: Sequence[SensorSeries]) -> dict[Quantity, Course]:
    return {
        quantity: combine(
            [each for each in here if each.quantity is quantity], part.since_ms, part.until_ms
        )
        for quantity in JUDGED
    }


def _concerns(alarm: Alarm, batch: Batch, now_ms: int) -> bool:
    """Return whether an alarm stood while the batch was in its place, or is the batch's own."""
    if batch.id in alarm.batches:
        return True
    until_ms = now_ms if alarm.returned_ms is None else alarm.returned_ms
    return any(
        alarm.place == stay.place
        and alarm.began_ms < (now_ms if stay.until_ms is None else stay.until_ms)
        and until_ms > stay.since_ms
        for stay in batch.stays
    )
