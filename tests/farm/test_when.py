"""Times as people write them."""

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from monitor.errors import LedgerRuleError, UnitError
from monitor.farm import format_when, from_now, parse_when
from monitor.languages import in_language

ZONE = ZoneInfo("America/Denver")
NOW = datetime(2026, 11, 25, 15, 30, tzinfo=UTC)  # 08:30 in Denver
NOW_MS = int(NOW.timestamp() * 1000)


def _utc(text: str, *, future: bool = False) -> str:
    at_ms = parse_when(text, ZONE, NOW_MS, future=future)
    return datetime.fromtimestamp(at_ms / 1000, UTC).isoformat(timespec="seconds")


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("now", "2026-11-25T15:30:00+00:00"),
        ("07:30", "2026-11-25T14:30:00+00:00"),
        ("7:30", "2026-11-25T14:30:00+00:00"),
        ("today 07:30", "2026-11-25T14:30:00+00:00"),
        ("today", "2026-11-25T07:00:00+00:00"),
        ("Yesterday 16:00", "2026-11-24T23:00:00+00:00"),
        ("yesterday at 16:00", "2026-11-24T23:00:00+00:00"),
        ("yesterday", "2026-11-24T07:00:00+00:00"),
        ("2026-11-24", "2026-11-24T07:00:00+00:00"),
        ("2026-11-24 16:00", "2026-11-24T23:00:00+00:00"),
        ("2026-11-24T16:00:30", "2026-11-24T23:00:30+00:00"),
        ("2026-11-24T16:00:00Z", "2026-11-24T16:00:00+00:00"),
        ("2026-11-24T16:00:00+01:00", "2026-11-24T15:00:00+00:00"),
        ("2026-11-24 16:00 +0100", "2026-11-24T15:00:00+00:00"),
        ("2 h ago", "2026-11-25T13:30:00+00:00"),
        ("45 min ago", "2026-11-25T14:45:00+00:00"),
        ("3 days ago", "2026-11-22T15:30:00+00:00"),
    ],
)
def test_a_time_is_read_in_the_farms_zone(text: str, expected: str) -> None:
    """A time without an offset is the farm's, one with an offset is taken by it."""
    assert _utc(text) == expected


@pytest.mark.parametrize(
    ("spanish", "english"),
    [
        ("ahora", "now"), ("Hoy", "today"), ("hoy 07:30", "today 07:30"), ("AYER", "yesterday"),
        ("ayer 16:00", "yesterday 16:00"), ("ayer a las 16:00", "yesterday 16:00"),
        ("hoy a la 1:00", "today 1:00"), ("hace 2 h", "2 h ago"), ("Hace 2 horas", "2 h ago"),
        ("hace una hora", "1 h ago"), ("hace 45 minutos", "45 min ago"),
        ("hace 3 días", "3 days ago"), ("hace 3 dias", "3 days ago"), ("hace 1 semana", "7 d ago"),
        ("lunes 15:00", "monday 15:00"), ("el sábado a las 15:00", "saturday 15:00"),
        ("miércoles", "wednesday"), ("miercoles", "wednesday"),
        ("mie\u0301rcoles", "wednesday"),
    ],
)  # fmt: skip
def test_a_time_in_spanish_words_is_that_of_the_english(spanish: str, english: str) -> None:
    """With its accents, without, or typed as two signs; letters large or small."""
    assert _utc(spanish) == _utc(english)
    assert from_now(spanish) is from_now(english) is ("now" in english or "ago" in english)
    assert _utc("mañana 7:00", future=True) == _utc("tomorrow 7:00", future=True)


@pytest.mark.parametrize(
    "text", ["ayer 25:00", "hace 2 lunas", "ayer a las", "hoyo", "mañana 7:00"]
)
def test_spanish_that_is_no_time_is_refused_as_it_was_typed(text: str) -> None:
    """What is quoted is what was typed, and the way to write it is Spanish too."""
    with pytest.raises((UnitError, LedgerRuleError)) as refused:
        parse_when(text, ZONE, NOW_MS)
    told = in_language(str(refused.value), "es")
    assert told.startswith(f"'{text}' no es una hora")
    assert "ayer 16:00" in told


@pytest.mark.parametrize(
    "text",
    [
        "", "noon", "16", "25:00", "12:60", "tomorrow 16:00", "yesterday 4pm", "2026-13-01",
        "2026-02-30 10:00", "2026-11-24 24:30", "11/24/2026", "2 moons ago",
        "2026-11-24T16:00+99:99", "99999999999 weeks ago",
        "0001-01-01", "\u0661\u0666:\u0660\u0660",
    ],
)  # fmt: skip
def test_what_is_no_time_is_refused_with_examples(text: str) -> None:
    """A text that is no time is refused, with ways to write one."""
    with pytest.raises(UnitError, match="yesterday 16:00"):
        parse_when(text, ZONE, NOW_MS)


def test_the_future_is_refused_unless_it_is_meant() -> None:
    """More than a minute ahead is refused; where the future is allowed it is taken."""
    with pytest.raises(LedgerRuleError, match=r"in the future: it is 2026-11-25 08:30"):
        _utc("today 16:00")
    assert _utc("today 16:00", future=True) == "2026-11-25T23:00:00+00:00"
    assert _utc("2026-11-25T15:31:00Z") == "2026-11-25T15:31:00+00:00"


def test_the_later_of_two_like_hours_is_told_by_its_offset() -> None:
    """The repeated hour of 1 November 2026 is written apart, and read back right."""
    first = int(datetime(2026, 11, 1, 7, 30, tzinfo=UTC).timestamp() * 1000)
    second = first + 3_600_000
    assert format_when(first, ZONE) == "2026-11-01 01:30"
    assert format_when(second, ZONE) == "2026-11-01 01:30 -0700"
    for at_ms in (first, second):
        assert parse_when(format_when(at_ms, ZONE), ZONE, NOW_MS) == at_ms


@pytest.mark.parametrize(
    ("text", "future", "expected"),
    [
        ("Saturday 15:00", True, "2026-11-28T22:00:00+00:00"),
        ("Wednesday 09:00", True, "2026-11-25T16:00:00+00:00"),
        ("Wednesday 08:00", True, "2026-12-02T15:00:00+00:00"),
        ("tomorrow 16:00", True, "2026-11-26T23:00:00+00:00"),
        ("Wednesday 08:00", False, "2026-11-25T15:00:00+00:00"),
        ("saturday", False, "2026-11-21T07:00:00+00:00"),
    ],
)
def test_a_weekday_is_the_last_or_the_next_one(text: str, expected: str, *, future: bool) -> None:
    """A day of the week is the latest that has been, or the next where the future is meant."""
    assert _utc(text, future=future) == expected
