"""Quiet hours and mornings against zoneinfo, at the two changes of the year.

Expected instants come from the rules of the zones in the IANA data base: in New York
clocks go from 02:00 EST to 03:00 EDT on 8 March 2026 and back on 1 November 2026; in
Berlin at 01:00 UTC on 29 March and 25 October 2026.
"""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest

from monitor.farm import NoticeRules
from monitor.notices import morning_due, next_morning_ms, quiet_until_ms

NEW_YORK, BERLIN = ZoneInfo("America/New_York"), ZoneInfo("Europe/Berlin")
NIGHT = NoticeRules(quiet_from=time(21), quiet_until=time(6), morning_at=time(7))


def _utc_ms(*when: int) -> int:
    return round(datetime(*when, tzinfo=UTC).timestamp() * 1000)  # type: ignore[misc,arg-type]


@pytest.mark.outside
@pytest.mark.parametrize(
    ("zone", "now", "until"),
    [
        (NEW_YORK, (2026, 3, 8, 5, 0), (2026, 3, 8, 10, 0)),  # midnight EST to 06:00 EDT
        (NEW_YORK, (2026, 11, 1, 5, 30), (2026, 11, 1, 11, 0)),  # 01:30 EDT to 06:00 EST
        (NEW_YORK, (2026, 11, 1, 6, 30), (2026, 11, 1, 11, 0)),  # 01:30 EST, the second one
        (BERLIN, (2026, 3, 28, 22, 0), (2026, 3, 29, 4, 0)),
        (BERLIN, (2026, 10, 24, 22, 0), (2026, 10, 25, 5, 0)),
        (NEW_YORK, (2026, 7, 1, 3, 0), (2026, 7, 1, 10, 0)),  # 23:00 EDT
    ],
)
def test_quiet_hours_end_by_the_local_clock(
    zone: ZoneInfo, now: tuple[int, ...], until: tuple[int, ...]
) -> None:
    """A quiet night of 23 or of 25 hours ends at its local hour."""
    assert quiet_until_ms(_utc_ms(*now), NIGHT, zone) == _utc_ms(*until)


@pytest.mark.outside
@pytest.mark.parametrize("now", [(2026, 3, 8, 10, 0), (2026, 3, 8, 15, 0), (2026, 3, 9, 0, 59)])
def test_outside_quiet_hours(now: tuple[int, ...]) -> None:
    """From 06:00 to 21:00 by the local clock nothing is put off."""
    assert quiet_until_ms(_utc_ms(*now), NIGHT, NEW_YORK) is None


@pytest.mark.outside
def test_quiet_hours_within_a_day() -> None:
    """Quiet hours that do not pass midnight hold within their day; none hold never."""
    siesta = NoticeRules(quiet_from=time(12), quiet_until=time(14))
    assert quiet_until_ms(_utc_ms(2026, 7, 1, 11, 0), siesta, BERLIN) == _utc_ms(2026, 7, 1, 12, 0)
    assert quiet_until_ms(_utc_ms(2026, 7, 1, 12, 0), siesta, BERLIN) is None
    assert quiet_until_ms(_utc_ms(2026, 7, 1, 12, 0), NoticeRules(), BERLIN) is None


@pytest.mark.outside
@pytest.mark.parametrize("zone", [NEW_YORK, BERLIN])
@pytest.mark.parametrize("at", [time(7), time(2, 30), time(1, 30)])
def test_one_morning_message_a_local_day(zone: ZoneInfo, at: time) -> None:
    """Looking every quarter of an hour through a year, each local day has one message."""
    rules = NoticeRules(morning_at=at)
    last: date | None = None
    days: list[date] = []
    for quarter in range(366 * 96):
        now_ms = _utc_ms(2026, 1, 1) + quarter * 900_000
        day = morning_due(last, now_ms, rules, zone)
        if day is not None:
            last = day
            days.append(day)
    assert len(days) == len(set(days))
    assert days == [days[0] + timedelta(days=n) for n in range(len(days))]
    assert len(days) in (366, 367)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("now", "expected"),
    [
        ((2026, 3, 7, 13, 0), (2026, 3, 8, 11, 0)),  # 23 hours between two mornings
        ((2026, 10, 31, 12, 0), (2026, 11, 1, 12, 0)),  # 25 hours
        ((2026, 7, 1, 12, 0), (2026, 7, 2, 11, 0)),
    ],
)
def test_the_next_morning_by_the_local_clock(
    now: tuple[int, ...], expected: tuple[int, ...]
) -> None:
    """After a day's message the next is due at the same local time, through the changes."""
    now_ms = _utc_ms(*now)
    done = datetime.fromtimestamp(now_ms / 1000, NEW_YORK).date()
    assert next_morning_ms(done, now_ms, NIGHT, NEW_YORK) == _utc_ms(*expected)
    assert morning_due(done, _utc_ms(*expected) - 1, NIGHT, NEW_YORK) is None
    assert morning_due(done, _utc_ms(*expected), NIGHT, NEW_YORK) is not None
