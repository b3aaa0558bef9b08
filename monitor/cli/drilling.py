"""A drill by the monitor that runs: its own courier sends, and each result is printed."""

import time
from collections.abc import Sequence
from contextlib import closing
from typing import Final

from monitor.cli.opening import open_ledger
from monitor.clock import monotonic_s
from monitor.errors import NoticeError
from monitor.farm import Farm
from monitor.model import Notice, NoticeStatus
from monitor.store import Ledger

WITHIN_S: Final = 60.0
_LOOK_S: Final = 0.5
_OVER: Final = (NoticeStatus.SENT, NoticeStatus.FAILED, NoticeStatus.DROPPED)


def by_the_monitor(farm: Farm, tests: Sequence[Notice], within_s: float = WITHIN_S) -> None:
    """Put tests into the running monitor's outbox and print what comes of each.

    Raises
    ------
    NoticeError
        If one of them is not sent within the time. [s]
    """
    with closing(open_ledger(farm)) as ledger:
        waiting = {each.id for each in ledger.add_notices(tests)}
        sent = _followed(farm, ledger, waiting, monotonic_s() + within_s)
    if sent < len(tests):
        raise NoticeError(
            f"{len(tests) - sent} of {len(tests)} addresses were not reached by the running "
            f"monitor within {within_s:g} s"
        )


def _followed(farm: Farm, ledger: Ledger, ids: set[int], until_s: float) -> int:
    """Print each result as it is recorded; return how many were sent."""
    said: dict[int, str] = {}
    while True:
        rows = [each for each in reversed(ledger.notices(1000)) if each.id in ids]
        over = monotonic_s() >= until_s
        for row in rows:
            result = _result(row, over=over)
            if result and said.get(row.id) != result:
                said[row.id] = result
                name = farm.people[row.person].name
                print(f"{name}, address {row.address}: {result}", flush=True)
        if over or all(row.status in _OVER for row in rows):
            return sum(row.status is NoticeStatus.SENT for row in rows)
        time.sleep(_LOOK_S)


def _result(notice: Notice, *, over: bool) -> str:
    if notice.status is NoticeStatus.SENT:
        return "sent"
    if notice.status in _OVER:
        return f"NOT SENT: {notice.last_error}"
    if notice.last_error:
        return f"NOT SENT yet: {notice.last_error}; the monitor will try again"
    return "NOT SENT yet: the monitor has not come to it" if over else ""
