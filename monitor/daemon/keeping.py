"""Keeps readings, but never in the room that was let go for the ledger."""

import logging
from dataclasses import asdict, dataclass
from typing import Final

from monitor.errors import StoreError
from monitor.model import AlarmKind
from monitor.mqtt.worker import Owed
from monitor.store import (
    Commit,
    Committed,
    FullError,
    Gap,
    Ledger,
    ReadingReader,
    ReadingStore,
    Reserve,
)

log = logging.getLogger("cormwatch")

_OWED: Final = "gap_owed"


@dataclass
class Keeping:
    """The store of readings as the intake sees it; ``let_go`` while the reserve is gone.

    What the reserve has freed would be filled with readings in no time, and then no alarm
    could be written. So readings wait until the disk has room for the reserve again.
    """

    store: ReadingStore
    reserve: Reserve
    let_go: bool = False

    def commit(self, work: Commit) -> Committed:
        """Write all of it or nothing.

        Raises
        ------
        FullError
            While what room there is belongs to the ledger.
        StoreError
            If it could not be written.
        """
        if self.let_go:
            if not self.reserve.make():
                needed = self.reserve.needed_bytes // 1_000_000
                raise FullError(
                    f"{self.store.path} may not grow: the little room left on the disk is for "
                    f"alarms; free at least {needed} MB"
                )
            self.let_go = False
        return self.store.commit(work)

    def mark_unsure(self, since_ms: int, until_ms: int) -> int:
        """Mark readings timed by a clock that was wrong; return how many. [ms, inclusive]

        Raises
        ------
        StoreError
            If the marks could not be written.
        """
        return self.store.mark_unsure(since_ms, until_ms)

    def release(self) -> None:
        """Leave the reserve's room to the ledger from now on."""
        self.reserve.release()
        self.let_go = True

    def reader(self) -> ReadingReader:
        """Return a reader for any one thread."""
        return self.store.reader()


class OwedInLedger(Owed):
    """What was heard and not kept, in the ledger: a kill on a full disk forgets none of it."""

    def __init__(self, ledger: Ledger) -> None:
        self._ledger = ledger
        kept = ledger.get(_OWED)
        told = any(
            each.key.kind is AlarmKind.STORE_FAILED and each.active and each.returned_ms is None
            for each in ledger.alarms(open_only=True)
        )
        super().__init__(Gap(**kept) if kept else None, told)

    def owe(self, gap: Gap | None) -> None:
        """Keep it in mind, and write it down where the ledger still can be written."""
        super().owe(gap)
        try:
            self._ledger.put(_OWED, asdict(gap) if gap else None)
        except StoreError as failure:
            log.warning("what is not kept is counted in memory alone: %s", failure)
