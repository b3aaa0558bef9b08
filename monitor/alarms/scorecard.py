"""The season's scorecard: how many alarms were real, how many nights were broken. Pure."""

from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from monitor.model import Alarm, Notice, NoticeKind, NoticeStatus

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
    sent = [
        each for each in notices
        if each.alarm is not None and each.kind in _TELLING
        and each.status is NoticeStatus.SENT and each.sent_ms is not None
    ]  # fmt: skip
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


def _local(at_ms: int, zone: ZoneInfo) -> datetime:
    return datetime.fromtimestamp(at_ms / 1000, zone)


def _is_night(at: datetime) -> bool:
    return at.hour >= _EVENING_H or at.hour < _MORNING_H
