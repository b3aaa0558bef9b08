"""What was told, beside what would have been told by today's files, and by others."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time
from typing import Any, Final
from zoneinfo import ZoneInfo

from monitor import notices
from monitor.daemon.replaying import Replayed
from monitor.farm import Farm, NoticeRules
from monitor.model import Alarm, AlarmState, AuditLine, NoticeKind
from monitor.store import Ledger
from monitor.units import iso_utc

_EVERY: Final = 1_000_000
_NIGHT: Final = (time(22), time(7))  # common practice, where no quiet hours are set


@dataclass(frozen=True, slots=True)
class Occurrence:
    """One alarm, as it was or would have been: times in [ms], None while it has not happened.

    ``notified_ms`` is None too where nobody is told: it was expected, or waits for the morning.
    """

    kind: str
    place: str | None
    sensor: str | None
    priority: str
    raised_ms: int
    returned_ms: int | None
    notified_ms: int | None
    text: str


@dataclass(frozen=True, slots=True)
class Account:
    """What one set of files, or the ledger, amounts to; ``nights`` on which someone is woken."""

    name: str
    alarms: tuple[Occurrence, ...]
    nights: tuple[date, ...]

    @property
    def told(self) -> int:
        """Return how many of the alarms somebody was told of by themselves."""
        return sum(each.notified_ms is not None for each in self.alarms)


def replayed(name: str, found: Sequence[Replayed], farm: Farm) -> Account:
    """Return what a replay amounts to."""
    rows = tuple(
        Occurrence(
            each.raised.key.kind.value, each.raised.place, each.raised.sensor,
            each.raised.priority.value, each.raised.at_ms, each.returned_ms, each.notified_ms,
            each.text,
        )
        for each in found
    )  # fmt: skip
    return Account(name, rows, nights(rows, farm.notices, farm.zone))


def recorded(ledger: Ledger, farm: Farm, since_ms: int, until_ms: int) -> Account:
    """Return what the ledger says was told from one time to another. [ms]

    What the monitor told of itself is left out: no reading tells it again.
    """
    rows = [
        row
        for alarm in ledger.alarms(limit=_EVERY)
        if alarm.key.subject
        for row in _occurrences(ledger, alarm)
        if since_ms <= row.raised_ms < until_ms
    ]
    rows.sort(key=lambda each: each.raised_ms)
    return Account("as it was", tuple(rows), nights(rows, farm.notices, farm.zone))


def _occurrences(ledger: Ledger, alarm: Alarm) -> list[Occurrence]:
    """Return each raising of one row: it may have come again before anybody had seen it."""
    raisings = [each for each in ledger.audit(alarm.id) if _is_raising(each)]
    due_ms = {
        each.created_ms: each.due_ms
        for each in ledger.notices_of(alarm.id)
        if each.kind is NoticeKind.RAISED
    }
    found = [
        Occurrence(
            alarm.key.kind.value, alarm.place, alarm.sensor, alarm.priority.value, each.at_ms,
            None, due_ms.get(each.at_ms), each.note,
        )
        for each in raisings
    ]  # fmt: skip
    if found:
        last = found[-1]
        found[-1] = replace(last, raised_ms=alarm.raised_ms, returned_ms=alarm.returned_ms)
    return found


def _is_raising(line: AuditLine) -> bool:
    quiet = (AlarmState.NORMAL, AlarmState.RETURNED_UNACKNOWLEDGED)
    fresh = line.before in quiet and line.after is AlarmState.SUPPRESSED
    return fresh or (
        line.after is AlarmState.UNACKNOWLEDGED and line.before is not AlarmState.UNACKNOWLEDGED
    )


def nights(rows: Sequence[Occurrence], rules: NoticeRules, zone: ZoneInfo) -> tuple[date, ...]:
    """Return the nights on which a notice rings, each by the date of its morning.

    A night is the quiet hours; 22:00 to 7:00 where none are set.
    """
    if rules.quiet_from is None or rules.quiet_until is None:
        rules = replace(rules, quiet_from=_NIGHT[0], quiet_until=_NIGHT[1])
    ends_ms = {
        end_ms
        for each in rows
        if each.notified_ms is not None
        and (end_ms := notices.quiet_until_ms(each.notified_ms, rules, zone)) is not None
    }
    return tuple(sorted(datetime.fromtimestamp(each / 1000, zone).date() for each in ends_ms))


def compared_json(accounts: Sequence[Account], since_ms: int, until_ms: int) -> dict[str, Any]:
    """Return a comparison in the shape that others may rely on."""
    return {
        "since": iso_utc(since_ms),
        "until": iso_utc(until_ms),
        "accounts": [
            {
                "name": each.name, "raised": len(each.alarms), "told": each.told,
                "nights_woken": len(each.nights),
                "nights": [day.isoformat() for day in each.nights],
                "alarms": [_row(one) for one in each.alarms],
            }
            for each in accounts
        ],
    }  # fmt: skip


def _row(each: Occurrence) -> dict[str, Any]:
    return {
        "kind": each.kind, "place": each.place, "sensor": each.sensor, "priority": each.priority,
        "raised_at": iso_utc(each.raised_ms), "returned_at": iso_utc(each.returned_ms),
        "notified_at": iso_utc(each.notified_ms), "text": each.text,
    }  # fmt: skip
