"""The words of the calendar."""

from datetime import date
from typing import Final

from monitor.phrase import Phrase

WEEKDAYS: Final = (
    Phrase("Monday"), Phrase("Tuesday"), Phrase("Wednesday"), Phrase("Thursday"),
    Phrase("Friday"), Phrase("Saturday"), Phrase("Sunday"),
)  # fmt: skip
MONTHS: Final = (
    Phrase("Jan"), Phrase("Feb"), Phrase("Mar"), Phrase("Apr"), Phrase("May"), Phrase("Jun"),
    Phrase("Jul"), Phrase("Aug"), Phrase("Sep"), Phrase("Oct"), Phrase("Nov"), Phrase("Dec"),
)  # fmt: skip
MONTH_NAMES: Final = (
    Phrase("January"), Phrase("February"), Phrase("March"), Phrase("April"), Phrase("May"),
    Phrase("June"), Phrase("July"), Phrase("August"), Phrase("September"), Phrase("October"),
    Phrase("November"), Phrase("December"),
)  # fmt: skip
SHORT: Final = (
    Phrase("Mon"), Phrase("Tue"), Phrase("Wed"), Phrase("Thu"), Phrase("Fri"), Phrase("Sat"),
    Phrase("Sun"),
)  # fmt: skip
NEAR: Final = {-1: Phrase("tomorrow"), 0: Phrase("today"), 1: Phrase("yesterday")}
"""What a day is called by how many days ago it was."""


def dated(day: date, today: date) -> Phrase:
    """Return ``"12 Nov"``, with its year where that is not today's."""
    return of_year(day) if day.year == today.year else with_year(day)


def of_year(day: date) -> Phrase:
    """Return ``"12 Nov"``."""
    return Phrase("{day} {month}", day=day.day, month=MONTHS[day.month - 1])


def with_year(day: date) -> Phrase:
    """Return ``"12 Nov 2026"``."""
    return Phrase("{day} {month} {year}", day=day.day, month=MONTHS[day.month - 1], year=day.year)
