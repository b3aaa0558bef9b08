"""The season's scorecard and the last weeks: counted by hand in these tests."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime
from zoneinfo import ZoneInfo

from monitor.alarms import on_transition, wording
from monitor.alarms.scorecard import WEEKS, Week, scorecard, weeks, weeks_since_ms
from monitor.model import Alarm, AlarmState, Notice, NoticeKind, NoticeStatus
from tests.alarms.test_machine import RAISE
from tests.watch.made import START_MS, farm

ZONE = ZoneInfo("America/New_York")


def _ms(text: str) -> int:
    """Return a time of the farm's clock. [ms]"""
    return round(datetime.fromisoformat(text).replace(tzinfo=ZONE).timestamp() * 1000)


NOW_MS = _ms("2026-11-25 12:00")  # a Wednesday


def _alarm(number: int, raised: str, state: AlarmState = AlarmState.NORMAL) -> Alarm:
    decision = on_transition(RAISE, wording(farm()), START_MS)(None)
    assert decision is not None
    return replace(decision.alarm, id=number, raised_ms=_ms(raised), state=state)


def _sent(alarm: int, at: str, kind: NoticeKind = NoticeKind.RAISED) -> Notice:
    at_ms = _ms(at)
    return Notice(
        0, alarm, kind, "ida", "1", "", "", at_ms, at_ms, NoticeStatus.SENT, sent_ms=at_ms
    )


ALARMS = (
    _alarm(1, "2026-11-23 00:00"),  # Monday's first minute is this week
    _alarm(2, "2026-11-22 23:59"),  # Sunday's last is the week before
    _alarm(3, "2026-11-24 14:00", AlarmState.UNACKNOWLEDGED),
    _alarm(4, "2026-11-24 15:00", AlarmState.SUPPRESSED),  # expected only
    _alarm(5, "2026-11-24 16:00"),  # over before it was worth telling
    replace(_alarm(6, "2026-11-10 09:00"), acknowledged_ms=1),
)
SENT: Sequence[Notice] = (
    _sent(1, "2026-11-23 00:01"),
    _sent(1, "2026-11-23 00:31", NoticeKind.REMINDER),
    _sent(2, "2026-11-23 07:00"),
    _sent(3, "2026-11-24 21:59"),
    _sent(5, "2026-11-24 23:00", NoticeKind.CLEARED),
)


def test_a_week_counts_what_somebody_was_told_or_saw() -> None:
    """By the farm's Mondays, this week first, none before the first alarm; quiet weeks as zero."""
    assert weeks(ALARMS, {1: True, 3: False}, SENT, ZONE, NOW_MS) == [
        Week(date(2026, 11, 23), alarms=2, woke=1, needless=1),
        Week(date(2026, 11, 16), alarms=1, woke=0, needless=0),
        Week(date(2026, 11, 9), alarms=1, woke=0, needless=0),
    ]


def test_no_alarm_makes_no_week() -> None:
    """Nothing is said of weeks of which nothing is known, or that are too long ago."""
    assert weeks((), {}, (), ZONE, NOW_MS) == []
    assert weeks(ALARMS[3:5], {}, (), ZONE, NOW_MS) == []
    old = weeks((_alarm(1, "2026-03-02 09:00"),), {}, [_sent(1, "2026-03-02 09:00")], ZONE, NOW_MS)
    assert [each.alarms for each in old] == [0] * WEEKS


def test_the_weeks_begin_on_a_monday_of_the_farm_over_a_change_of_the_clock() -> None:
    """Six weeks with this one, at midnight by the farm though summer time ended in between."""
    assert weeks_since_ms(ZONE, NOW_MS) == _ms("2026-10-19 00:00")


def test_the_year_counts_what_rang_and_the_nights_it_broke() -> None:
    """A night is one however often it rang, and what nobody judged is told as that."""
    card = scorecard(ALARMS, {1: True, 2: False}, SENT, ZONE, NOW_MS)
    assert (card.real, card.needless, card.not_said, card.nights_woken) == (1, 1, 1, 1)
