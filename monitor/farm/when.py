"""Times as people write them on a command line, in the farm's time zone.

Of a local hour that comes twice the earlier is meant, unless an offset says otherwise; a
local hour that is left out is an error. (PEP 495 names the two readings *fold*.)
"""

import re
from datetime import UTC, date, datetime, time, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from monitor.errors import LedgerRuleError, OutOfRangeError, UnitError
from monitor.farm.when_spanish import in_english
from monitor.phrase import Phrase
from monitor.units import parse_duration_s

FUTURE_MS: Final = 60_000
_HOW: Final = Phrase("write it as 16:00, yesterday 16:00, 2026-11-25 16:00, 2 h ago or now")
_AGO = re.compile(r"(.+?)\s+ago", re.ASCII)
_DAY = re.compile(r"(today|yesterday|tomorrow)(?:\s+(?:at\s+)?(\S+))?", re.ASCII)
_DAYS: Final = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
_WEEKDAY = re.compile(rf"({'|'.join(_DAYS)})(?:\s+(?:at\s+)?(\S+))?", re.ASCII)
_CLOCK = re.compile(r"([01]?\d|2[0-3]):([0-5]\d)(?::([0-5]\d))?", re.ASCII)
_DATE = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
_STAMP = re.compile(
    r"(\d{4}-\d{2}-\d{2})[ T](\d{2}:\d{2}(?::\d{2}(?:\.\d{1,6})?)?)\s*(Z|[+-]\d{2}:?\d{2})?",
    re.ASCII | re.IGNORECASE,
)


def parse_when(text: str, zone: ZoneInfo, now_ms: int, *, future: bool = False) -> int:
    """Return the time a person meant.

    Parameters
    ----------
    text : str
        ``"now"``, ``"2 h ago"``, ``"16:00"`` (today), ``"yesterday 16:00"``, ``"Saturday 15:00"``
        (the last, or the next where the future is meant), ``"today"`` and
        ``"2026-11-25"`` (from its first moment), ``"2026-11-25 16:00"``, or ISO 8601 with
        ``Z`` or an offset. In Spanish as well: ``"hace 2 h"``, ``"ayer a las 16:00"``.
    zone : ZoneInfo
        The farm's time zone, which a time without an offset is in.
    now_ms : int
        Now. [ms since 1970]
    future : bool
        Whether a time more than a minute ahead is meant to be allowed.

    Returns
    -------
    int
        UTC. [ms since 1970]

    Raises
    ------
    UnitError
        If the text is no time.
    LedgerRuleError
        If it is in the future, or is a local time that the change to summer time left out.
    """
    try:
        at_ms = _read(text.strip(), zone, now_ms, future=future)
    except (OverflowError, OutOfRangeError) as failure:
        raise UnitError(_no_time(text)) from failure
    if at_ms < 0:
        raise UnitError(
            Phrase(
                "{text!r} is no time, as it lies before 1970: {how}",
                text=text,
                how=_HOW,
            )
        )
    if not future and at_ms > now_ms + FUTURE_MS:
        said = format_when(at_ms, zone)
        raise LedgerRuleError(
            Phrase(
                "{text!r} is {when}, which is in the future: it is {now} at the farm; give a "
                "time that has been",
                text=text,
                when=said,
                now=format_when(now_ms, zone),
            )
        )
    return at_ms


def from_now(text: str) -> bool:
    """Return whether a time is told from the moment of writing, and not by a clock."""
    words = in_english(text.strip().lower())
    return words == "now" or _AGO.fullmatch(words) is not None


def _no_time(text: str) -> Phrase:
    return Phrase("{text!r} is no time: {how}", text=text, how=_HOW)


def _read(text: str, zone: ZoneInfo, now_ms: int, *, future: bool) -> int:
    words = in_english(text.lower())
    if words == "now":
        return now_ms
    if ago := _AGO.fullmatch(words):
        return now_ms - _span_ms(ago[1], text)
    today = datetime.fromtimestamp(now_ms / 1000, zone).date()
    if _CLOCK.fullmatch(words):
        return _at(today, words, zone, text)
    try:
        named = _named_day(words, today, zone, now_ms, future=future)
    except UnitError as failure:
        raise UnitError(_no_time(text)) from failure  # as it was typed
    if named is not None:
        return named
    if _DATE.fullmatch(text):
        return _first_moment(_date(text, text), zone)
    if stamp := _STAMP.fullmatch(text):
        return _stamp(stamp, zone, text)
    raise UnitError(_no_time(text))


def _named_day(words: str, today: date, zone: ZoneInfo, now_ms: int, *, future: bool) -> int | None:
    """Return the moment of a day that is named, or None where none is. [ms]"""
    if day := _DAY.fullmatch(words):
        shift = {"today": 0, "yesterday": -1, "tomorrow": 1}[day[1]]
        if shift <= 0 or future:
            return _on(today + timedelta(days=shift), day[2], zone, words)
    if weekday := _WEEKDAY.fullmatch(words):
        return _weekday(weekday, today, zone, now_ms, future=future)
    return None


def _on(day: date, clock: str | None, zone: ZoneInfo, text: str) -> int:
    return _at(day, clock, zone, text) if clock else _first_moment(day, zone)


def _weekday(
    found: re.Match[str], today: date, zone: ZoneInfo, now_ms: int, *, future: bool
) -> int:
    """Return the latest such day that has been, or the next where the future is meant. [ms]"""
    ahead = (_DAYS.index(found[1]) - today.weekday()) % 7
    days = (ahead, ahead + 7) if future else (ahead, ahead - 7)
    first, second = (_on(today + timedelta(days=d), found[2], zone, found[0]) for d in days)
    return first if (first >= now_ms) is future else second


def _span_ms(span: str, text: str) -> int:
    try:
        return round(parse_duration_s(span) * 1000)
    except UnitError as failure:
        raise UnitError(_no_time(text)) from failure


def _date(day: str, text: str) -> date:
    try:
        return date.fromisoformat(day)
    except ValueError as failure:
        raise UnitError(
            Phrase(
                "{text!r} is no time, as {day} is no day: {how}",
                text=text,
                day=day,
                how=_HOW,
            )
        ) from failure


def _at(day: date, clock: str, zone: ZoneInfo, text: str) -> int:
    found = _CLOCK.fullmatch(clock)
    if found is None:
        raise UnitError(_no_time(text))
    wall = time(int(found[1]), int(found[2]), int(found[3] or 0))
    return _local(datetime.combine(day, wall), zone)


def _stamp(stamp: re.Match[str], zone: ZoneInfo, text: str) -> int:
    day, clock, offset = stamp[1], stamp[2], stamp[3]
    _date(day, text)
    try:
        at = datetime.fromisoformat(f"{day}T{clock}{(offset or '').upper()}")
    except ValueError as failure:
        raise UnitError(_no_time(text)) from failure
    return _local(at, zone) if at.tzinfo is None else _to_ms(at)


def _to_ms(at: datetime) -> int:
    return (at - datetime(1970, 1, 1, tzinfo=UTC)) // timedelta(milliseconds=1)


def _exists(wall: datetime, zone: ZoneInfo) -> bool:
    back = wall.replace(tzinfo=zone).astimezone(UTC).astimezone(zone)
    return back.replace(tzinfo=None) == wall


def _local(wall: datetime, zone: ZoneInfo) -> int:
    """Return a local time as UTC: the earlier of two, never one that was left out. [ms]"""
    if not _exists(wall, zone):
        raise LedgerRuleError(
            Phrase(
                "{wall} never was in {zone}: the clocks went forward over it; "
                "give the hour before or after",
                wall=f"{wall:%Y-%m-%d %H:%M}",
                zone=zone.key,
            )
        )
    return _to_ms(wall.replace(tzinfo=zone))


def _first_moment(day: date, zone: ZoneInfo) -> int:
    """Return when a day begins, which is not midnight where the clocks change then. [ms]"""
    return _to_ms(datetime.combine(day, time(), zone))


def format_when(at_ms: int, zone: ZoneInfo) -> str:
    """Return a time as ``2026-11-25 16:00`` at the farm; `parse_when` reads it back.

    The later of two hours of the same name carries its offset.
    """
    at = datetime.fromtimestamp(at_ms / 1000, zone)
    offset = f" {at:%z}" if at.fold else ""
    return f"{at:%Y-%m-%d %H:%M}{offset}"
