"""SQLite: readings with their summaries in one file, the ledger in the other."""

from monitor.store.arrivals import ArrivalReader, Late, Standing
from monitor.store.connection import DamagedError, FullError
from monitor.store.copying import Copied, make_copy, put_back, read_copy
from monitor.store.damage import set_aside
from monitor.store.ledger import Ledger
from monitor.store.lock import lock, lock_farm
from monitor.store.mending import LOST, mend, resume
from monitor.store.mirror_file import Advance, MirrorFile, Outcome, Position, RefusedReading
from monitor.store.outbox import WITHDRAWN
from monitor.store.reader import ReadingReader
from monitor.store.readings import ReadingStore
from monitor.store.records import (
    Commit,
    Committed,
    Configuration,
    Conflict,
    Drawn,
    Gap,
    RefusalCount,
    Series,
    Summaries,
    UnclaimedTopic,
    Width,
)
from monitor.store.reserve import Reserve

__all__ = [
    "LOST", "WITHDRAWN", "Advance", "ArrivalReader", "Commit", "Committed", "Configuration",
    "Conflict", "Copied", "DamagedError", "Drawn", "FullError", "Gap", "Late", "Ledger",
    "MirrorFile", "Outcome", "Position", "ReadingReader", "ReadingStore", "RefusalCount",
    "RefusedReading", "Reserve", "Series", "Standing", "Summaries", "UnclaimedTopic", "Width",
    "lock", "lock_farm", "make_copy", "mend", "put_back", "read_copy", "resume", "set_aside",
]  # fmt: skip
