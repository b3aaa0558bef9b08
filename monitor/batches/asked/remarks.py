"""What is to be said of entries that were recorded all the same."""

from collections.abc import Iterator, Sequence

from monitor.batches.book import Book
from monitor.batches.counts import unit_word
from monitor.batches.placing import placing
from monitor.farm import Farm
from monitor.model import EntryKind, LedgerEntry
from monitor.phrase import Phrase


def remarks(farm: Farm, book: Book, entries: Sequence[LedgerEntry]) -> list[str]:
    """Return what is wrong with the places of batches, and which orders they cannot fill."""
    return [*_misplaced(farm, book, entries), *_short(book, entries)]


def _misplaced(farm: Farm, book: Book, entries: Sequence[LedgerEntry]) -> Iterator[str]:
    """Return what is wrong with the places that batches were put in."""
    for entry in entries:
        if entry.kind not in (EntryKind.ADDED, EntryKind.MOVED) or entry.batch not in book.batches:
            continue
        crop = farm.crops.get(book.batches[entry.batch].crop)
        stage = crop and crop.stages.get(entry.data["stage"])
        place = farm.places.get(entry.data["place"])
        if crop and stage and place:
            yield from placing(farm, crop, stage, place)


def _short(book: Book, entries: Sequence[LedgerEntry]) -> Iterator[str]:
    """Return where less is left than is held for orders."""
    for number in sorted({entry.batch for entry in entries} & set(book.batches)):
        batch = book.batches[number]
        held = sum(hold.count for hold in book.holds[number])
        if batch.count is not None and held > batch.count and batch.ended_ms is None:
            yield Phrase(
                "batch {batch} has {count:,} {unit} left and {held:,} are held for {held_for}",
                batch=number,
                count=batch.count,
                unit=unit_word(batch.unit),
                held=held,
                held_for=batch.held_for,
            )
