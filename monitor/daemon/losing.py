"""A record of batches that was lost with its file: told for as long as none stands there again."""

from typing import Final

from monitor.daemon.judge import Judge
from monitor.model import AlarmKind
from monitor.phrase import Phrase, together
from monitor.store import LOST

_DETAIL: Final = Phrase(
    "Its file was damaged and nothing of it could be read: it begins anew, and what was there of "
    "alarms and messages may be missing too. Places are watched as before, batches only once they "
    "stand in the record again. The damaged file is kept beside it as {name}."
)
_BACK: Final = Phrase(
    "A copy made by cormwatch backup holds the batches: restore it into a new folder, stop the "
    "monitor, and put the copy's data/ledger.db in the place of this one."
)


def mind(judge: Judge) -> None:
    """Raise that the record of batches was lost, or end it: a batch stands there again.

    Raises
    ------
    StoreError
        If the ledger cannot be read.
    """
    name = judge.ledger.get(LOST)
    bad = name is not None and not judge.book.batches
    detail = together([Phrase(_DETAIL, name=str(name)), _BACK]) if bad else ""
    judge.own(AlarmKind.RECORD_LOST, judge.clock.now_ms(), bad=bad, detail=detail)
