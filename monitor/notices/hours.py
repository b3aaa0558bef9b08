"""Quiet hours and mornings by the farm's clock, through the changes of the year.

A local time that comes twice means the earlier; one that is left out means the instant
it would have been by the clock before the change (PEP 495, fold 0).
"""

from datetime import UTC, date, datetime, time, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from monitor.farm import NoticeRules

_DAY: Final = timedelta(days=1)


def instant_ms(day: date, at: time, zone: ZoneInfo) -> int:
    """Return a local time of a day. [ms since 1970]"""
    wall = datetime.combine(day, at.replace(fold=0, tzinfo=None), zone)
    return round(wall.astimezone(UTC).timestamp() * 1000)


def local_day(now_ms: int, zone: ZoneInfo) -> date:
    """Return the farm's date."""
    return datetime.fromtimestamp(now_ms / 1000, zone).date()


def quiet_until_ms(now_ms: int, rules: NoticeRules, zone: ZoneInfo) -> int | None:
    """Return when the quiet hours end that it is in now, or None outside them. [ms]"""
    if rules.quiet_from is None or rules.quiet_until is None:
        return None
    today = local_day(now_ms, zone)
    for day in (today - _DAY, today):
        last = day if rules.quiet_from < rules.quiet_until else day + _DAY
        from_ms = instant_ms(day, rules.quiet_from, zone)
        until_ms = instant_ms(last, rules.quiet_until, zone)
        if rules.quiet_from != rules.quiet_until and from_ms <= now_ms < until_ms:
            return until_ms
    return None


def morning_due(
    last_day: date | None, now_ms: int, rules: NoticeRules, zone: ZoneInfo
) -> date | None:
    """Return the day whose morning message is due now, or None.

    Parameters
    ----------
    last_day : date, optional
        The farm's day of the last morning message that was looked at, told or not.
    now_ms : int
        Now. [ms]
    rules : NoticeRules
        With the time of the message.
    zone : ZoneInfo
        The farm's.
    """
    today = local_day(now_ms, zone)
    if last_day is not None and last_day >= today:
        return None
    return today if now_ms >= instant_ms(today, rules.morning_at, zone) else None


def next_morning_ms(last_day: date | None, now_ms: int, rules: NoticeRules, zone: ZoneInfo) -> int:
    """Return when the next morning message is due; now, where one is. [ms]"""
    if morning_due(last_day, now_ms, rules, zone) is not None:
        return now_ms
    today = local_day(now_ms, zone)
    at_ms = instant_ms(today, rules.morning_at, zone)
    done = last_day is not None and last_day >= today
    return instant_ms(today + _DAY, rules.morning_at, zone) if done or at_ms < now_ms else at_ms
