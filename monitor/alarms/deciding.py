"""What every decider about an alarm shares: its type, and its audit line."""

from collections.abc import Callable
from typing import Final

from monitor.model import Alarm, AlarmState, AuditLine, Decision

Decider = Callable[[Alarm | None], Decision | None]
"""Is given the ledger's row; None where nothing changes: asking twice is harmless."""

WATCH: Final = "watch"


def line(before: AlarmState, after: Alarm, by: str, now_ms: int, note: str) -> AuditLine:
    """Return the audit line of a transition, with the value and limit in force."""
    return AuditLine(now_ms, by, before, after.state, after.value, after.limit, note)
