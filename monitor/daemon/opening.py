"""Opens the farm's two files at a start, on a full disk and after a power cut too."""

import logging
from pathlib import Path

from monitor import watch
from monitor.batches import Book
from monitor.daemon.restoring import Restored, restore
from monitor.errors import BusyError, SchemaNewerError, StoreError
from monitor.farm import Farm
from monitor.store import Commit, DamagedError, Ledger, ReadingStore, Reserve, mend, resume

log = logging.getLogger("cormwatch")


def open_files(farm: Farm, reserve: Reserve) -> tuple[ReadingStore, Ledger]:
    """Return the readings and the ledger, open; on a full disk the reserve is let go first.

    Raises
    ------
    StoreError
        If a file cannot be opened all the same.
    """
    try:
        return _open(farm)
    except (BusyError, DamagedError, SchemaNewerError):
        raise
    except StoreError:  # want of room shows in several ways, "disk I/O error" among them
        if not reserve.release():
            raise
        return _open(farm)


def _open(farm: Farm) -> tuple[ReadingStore, Ledger]:
    store = ReadingStore.open(farm.data_dir / "readings.db")
    try:
        return store, _ledger(farm.data_dir / "ledger.db")
    except BaseException:
        store.close()
        raise


def _ledger(path: Path) -> Ledger:
    """Return the ledger; of a damaged one what can be read goes on in a new file."""
    resume(path)
    try:
        return Ledger.open(path)
    except DamagedError:
        told = mend(path).told
    log.error("%s", told)
    ledger = Ledger.open(path)
    ledger.told = told
    return ledger


def restored(farm: Farm, book: Book, store: ReadingStore, ledger: Ledger, now_ms: int) -> Restored:
    """Return the watch's state as it was; a readings file found damaged is replaced first.

    Raises
    ------
    StoreError
        If a file cannot be read all the same.
    """
    try:
        return _restored(farm, book, store, ledger, now_ms)
    except DamagedError:
        store.commit(Commit())  # sets the file aside, which the reader has told of
        return _restored(farm, book, store, ledger, now_ms)


def _restored(farm: Farm, book: Book, store: ReadingStore, ledger: Ledger, now_ms: int) -> Restored:
    reader = store.reader()
    try:
        return restore(
            farm,
            book,
            reader,
            now_ms,
            open_alarms=ledger.alarms(open_only=True),
            healed=ledger.alarms()[::-1],
            judged_to_ms=ledger.judged_to(),
            accepted=ledger.configurations(),
        )
    finally:
        reader.close()


def nothing_yet(farm: Farm, now_ms: int) -> watch.WatchState:
    """Return the state of a farm of which nothing has been heard. [ms]"""
    return watch.begin(watch.plan(farm, ()), now_ms)
