"""The season's scorecard: how many alarms were real, how many nights were broken, by week. Pure."""

from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass
from datetime import date, datetime, time, timedelta
from typing import Any, Final
from zoneinfo import ZoneInfo

from monitor.model import Alarm, AlarmState, Notice, NoticeKind, NoticeStatus

WEEKS: Final = 6
_TELLING = (NoticeKind.RAISED, NoticeKind.REMINDER)
_EVENING_H, _MORNING_H = 22, 6  # a night, as people sleep; common practice


@dataclass(frozen=True, slots=True)
class Scorecard:
    """Alarms of this year that rang, by what was thought of them, and nights woken."""

    real: int
    needless: int
    not_said: int
    nights_woken: int

    def as_json(self) -> dict[str, Any]:
        """Return it as plain JSON values."""
        return asdict(self)


def scorecard(
    alarms: Iterable[Alarm], scores: Mapping[int, bool], notices: Iterable[Notice],
    zone: ZoneInfo, now_ms: int,
) -> Scorecard:  # fmt: skip
    """Return the scorecard of the farm's year so far; ``scores`` says which were needless."""
    year = _local(now_ms, zone).year
    sent = _sent(notices)
    rang = {each.alarm for each in sent}
    ids = [
        each.id for each in alarms
        if each.id in rang and _local(each.raised_ms, zone).year == year
    ]  # fmt: skip
    said = [scores.get(each) for each in ids]
    nights = {
        (at - timedelta(hours=12)).date()
        for each in sent
        if _is_night(at := _local(each.sent_ms or 0, zone)) and at.year == year
    }
    return Scorecard(said.count(False), said.count(True), said.count(None), len(nights))


@dataclass(frozen=True, slots=True)
class Week:
    """The alarms raised in one week: how many of them woke someone, how many were needless."""

    monday: date
    alarms: int
    woke: int
    needless: int


def weeks(
    alarms: Iterable[Alarm], scores: Mapping[int, bool], notices: Iterable[Notice],
    zone: ZoneInfo, now_ms: int,
) -> list[Week]:  # fmt: skip
    """Return the last weeks, this one first, none before the first alarm of them.

    An alarm counts that somebody was told of or had to look at: not what was only expected, nor
    what was over before it was worth telling.
    """
    sent = _sent(notices)
    rang = {each.alarm for each in sent}
    woken = {each.alarm for each in sent if _is_night(_local(each.sent_ms or 0, zone))}
    found = [each for each in alarms if each.id in rang or _was_looked_at(each)]
    mondays = {each.id: _monday(each.raised_ms, zone) for each in found}
    first, this = min(mondays.values(), default=None), _monday(now_ms, zone)
    told = []
    for number in range(WEEKS):
        monday = this - timedelta(weeks=number)
        ids = {each for each, when in mondays.items() if when == monday}
        needless = sum(scores.get(each) is True for each in ids)
        if first is not None and monday >= first:
            told.append(Week(monday, len(ids), len(ids & woken), needless))
    return told


def weeks_since_ms(zone: ZoneInfo, now_ms: int) -> int:
    """Return when the earliest of the weeks told begins. [ms]"""
    monday = _monday(now_ms, zone) - timedelta(weeks=WEEKS - 1)
    return round(datetime.combine(monday, time(), zone).timestamp() * 1000)


def _sent(notices: Iterable[Notice]) -> list[Notice]:
    return [
        each for each in notices
        if each.alarm is not None and each.kind in _TELLING
        and each.status is NoticeStatus.SENT and each.sent_ms is not None
    ]  # fmt: skip


def _was_looked_at(alarm: Alarm) -> bool:
    """Return whether an alarm stood until somebody saw it, or stands now."""
    quiet = (AlarmState.NORMAL, AlarmState.SUPPRESSED)
    return alarm.acknowledged_ms is not None or alarm.state not in quiet


def _monday(at_ms: int, zone: ZoneInfo) -> date:
    day = _local(at_ms, zone).date()
    return day - timedelta(days=day.weekday())


def _local(at_ms: int, zone: ZoneInfo) -> datetime:
    return datetime.fromtimestamp(at_ms / 1000, zone)


def _is_night(at: datetime) -> bool:
    return at.hour >= _EVENING_H or at.hour < _MORNING_H
