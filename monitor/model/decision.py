"""What one look at an alarm's row decides, written in one transaction."""

from dataclasses import dataclass

from monitor.model.alarm import Alarm, AuditLine
from monitor.model.notice import Notice


@dataclass(frozen=True, slots=True)
class Decision:
    """The alarm's new row, its audit lines and the outbox rows it causes.

    ``alarm.id`` is 0 for a new occurrence; notices then carry ``alarm=0`` and are given
    the new id as they are written. ``withdraw`` drops what still waits to tell of it.
    """

    alarm: Alarm
    audit: tuple[AuditLine, ...]
    notices: tuple[Notice, ...] = ()
    withdraw: bool = False
