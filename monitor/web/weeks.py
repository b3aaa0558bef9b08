"""How many alarms a week: figures with a bar each, of which the part of the nights is filled."""

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from monitor.alarms.scorecard import Week, weeks, weeks_since_ms
from monitor.days import MONTHS
from monitor.phrase import Phrase
from monitor.web.look import Look

_BAR: Final = 100  # its whole length, as the drawing counts


@dataclass(frozen=True, slots=True)
class WeekLine:
    """One week of the table; ``all`` and ``night`` are lengths of its bar."""

    name: str
    alarms: int
    woke: int
    needless: int
    all: int
    night: int


def week_lines(look: Look) -> list[WeekLine]:
    """Return the last weeks, this one first; none where there has been no alarm in them."""
    ledger, zone = look.desk.ledger, look.farm.zone
    since_ms = weeks_since_ms(zone, look.now_ms)
    alarms, rang = ledger.alarms_since(since_ms), ledger.rang_since(since_ms)
    found = weeks(alarms, ledger.scores(), rang, zone, look.now_ms)
    most = max((each.alarms for each in found), default=0) or 1
    return [_line(number, each, most) for number, each in enumerate(found)]


def _line(ago: int, week: Week, most: int) -> WeekLine:
    sunday = week.monday + timedelta(days=6)
    names = (Phrase("this week"), Phrase("last week"))
    name = names[ago] if ago < len(names) else _between(week.monday, sunday)
    return WeekLine(
        name, week.alarms, week.woke, week.needless,
        round(_BAR * week.alarms / most), round(_BAR * week.woke / most),
    )  # fmt: skip


def _between(monday: date, sunday: date) -> str:
    """Return ``"3 to 9 Nov"``, or ``"27 Oct to 2 Nov"`` over the end of a month."""
    begin, months = str(monday.day), (MONTHS[monday.month - 1], MONTHS[sunday.month - 1])
    if monday.month != sunday.month:
        begin = Phrase("{day} {month}", day=monday.day, month=months[0])
    return Phrase("{begin} to {day} {month}", begin=begin, day=sunday.day, month=months[1])
