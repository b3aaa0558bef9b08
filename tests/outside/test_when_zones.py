"""Local times at both changes of the year, against the time zone database."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest

from monitor.errors import LedgerRuleError
from monitor.farm import format_when, parse_when

pytestmark = pytest.mark.outside
FUTURE_MS = int(datetime(2027, 1, 1, tzinfo=UTC).timestamp() * 1000)

# zone, the hour left out, the hour that comes twice; announced by each country for 2025 and
# 2026 (IANA time zone database); Lord Howe moves by half an hour, Santiago at midnight.
CHANGES = [
    ("America/Denver", "2026-03-08 02:30", "2026-11-01 01:30", 60),
    ("America/New_York", "2026-03-08 02:00", "2026-11-01 01:59", 60),
    ("Europe/Amsterdam", "2026-03-29 02:30", "2026-10-25 02:30", 60),
    ("Europe/London", "2026-03-29 01:15", "2026-10-25 01:15", 60),
    ("Australia/Lord_Howe", "2026-10-04 02:15", "2026-04-05 01:45", 30),
    ("America/Santiago", "2026-09-06 00:30", "2026-04-04 23:30", 60),
]


@pytest.mark.parametrize(("zone", "missing", "double", "shift_min"), CHANGES)
def test_a_missing_hour_is_an_error_and_a_double_one_the_earlier(
    zone: str, missing: str, double: str, shift_min: int
) -> None:
    """A local time that was left out is refused; one that comes twice is the first."""
    here = ZoneInfo(zone)
    with pytest.raises(LedgerRuleError, match="never was"):
        parse_when(missing, here, FUTURE_MS)
    wall = datetime.fromisoformat(double)
    both = {wall.replace(tzinfo=here, fold=fold).timestamp() * 1000 for fold in (0, 1)}
    assert max(both) - min(both) == shift_min * 60_000
    assert parse_when(double, here, FUTURE_MS) == min(both)


@pytest.mark.parametrize("zone", [row[0] for row in CHANGES])
def test_every_half_hour_of_a_year_is_written_and_read_back(zone: str) -> None:
    """What is written for a time is read as that time, all through a year."""
    here = ZoneInfo(zone)
    at = datetime(2025, 12, 31, tzinfo=UTC)
    while at.year < 2027:
        at_ms = int(at.timestamp() * 1000)
        assert parse_when(format_when(at_ms, here), here, FUTURE_MS) == at_ms
        at += timedelta(minutes=30)


def test_a_day_begins_at_its_first_moment() -> None:
    """On 6 September 2026 Santiago has no midnight, and its day begins at 04:00 UTC."""
    here = ZoneInfo("America/Santiago")
    at_ms = parse_when("2026-09-06", here, FUTURE_MS)
    assert at_ms == int(datetime(2026, 9, 6, 4, tzinfo=UTC).timestamp() * 1000)
    first = datetime.fromtimestamp(at_ms / 1000, here)
    assert (first.date(), first.time()) == (date(2026, 9, 6), time(1))
    before = datetime.fromtimestamp(at_ms / 1000 - 1, here)
    assert before.date() == date(2026, 9, 5)
