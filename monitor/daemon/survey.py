"""How things stand, for a command that runs beside the daemon or without it."""

from monitor.batches import Book, fold, open_batches
from monitor.daemon.restoring import restore
from monitor.farm import Farm
from monitor.model import PlaceState
from monitor.store import Ledger, ReadingReader, ReadingStore
from monitor.watch import WatchState
from monitor.watch import batch_states as states_of


def open_reader(farm: Farm) -> ReadingReader:
    """Return a reader of the farm's readings, for this thread; an empty file is made first.

    Raises
    ------
    StoreError
        If the file cannot be made.
    """
    path = farm.data_dir / "readings.db"
    if not path.exists():
        ReadingStore.open(path).close()
    return ReadingReader(path)


def survey(farm: Farm, now_ms: int) -> tuple[WatchState, Book]:
    """Return the watch's state and the book, judged afresh from what is stored.

    Raises
    ------
    StoreError
        If a file of the store cannot be read.
    """
    ledger = Ledger.open(farm.data_dir / "ledger.db")
    reader = open_reader(farm)
    try:
        book = fold(ledger.entries())
        restored = restore(
            farm, book, reader, now_ms, open_alarms=ledger.alarms(open_only=True),
            accepted=ledger.configurations(),
        )  # fmt: skip
    finally:
        reader.close()
        ledger.close()
    return restored.state, book


def batch_states(farm: Farm, now_ms: int) -> dict[int, PlaceState]:
    """Return how each open batch stands, by number."""
    state, book = survey(farm, now_ms)
    return states_of(state, open_batches(book), now_ms)
