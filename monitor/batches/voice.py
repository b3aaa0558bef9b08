"""Figures and times as they are said to people: the farm's unit, its zone, plain words."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Final
from zoneinfo import ZoneInfo

from monitor.days import NEAR, WEEKDAYS, dated
from monitor.phrase import Phrase, together
from monitor.units import TemperatureUnit, difference_from_celsius, from_celsius

_WEEK_D: Final = 7
_MONTH_D: Final = 25
_INCH_MM: Final = 25.4


@dataclass(frozen=True, slots=True)
class Voice:
    """How the farm speaks, and when. [ms]"""

    unit: TemperatureUnit
    zone: ZoneInfo
    now_ms: int

    def degrees(self, value_c: float, digits: int = 0) -> str:
        """Return a temperature [°C]: ``"52 °F"``."""
        shown = round(from_celsius(value_c, self.unit), digits) + 0.0
        return f"{shown:.{digits}f} °{self.unit.value}"

    def kelvins(self, difference_k: float) -> str:
        """Return a difference of temperature [K]: ``"5 °F"``."""
        return f"{difference_from_celsius(difference_k, self.unit):.0f} °{self.unit.value}"

    def length(self, length_mm: float) -> str:
        """Return a length [mm]: ``"1.5 in"`` on a farm of °F, else ``"38 mm"``."""
        if self.unit is TemperatureUnit.FAHRENHEIT:
            return f"{round(length_mm / _INCH_MM, 2):g} in"
        return f"{length_mm:.0f} mm"

    def date(self, at_ms: float) -> date:
        """Return the farm's date of a moment."""
        return datetime.fromtimestamp(at_ms / 1000, self.zone).date()

    def clock(self, at_ms: float) -> str:
        """Return the time of day: ``"03:30"``."""
        return f"{datetime.fromtimestamp(at_ms / 1000, self.zone):%H:%M}"

    def day(self, at_ms: float) -> str:
        """Return ``today``, ``yesterday``, ``Thursday`` within a week, else ``12 Nov``."""
        at, today = self.date(at_ms), self.date(self.now_ms)
        ahead = (at - today).days
        if abs(ahead) <= 1:
            return NEAR[-ahead]
        if abs(ahead) < _WEEK_D:
            return WEEKDAYS[at.weekday()]
        return dated(at, today)

    def when(self, at_ms: float) -> str:
        """Return a moment: ``"Saturday 15:00"``, ``"today 07:10"``."""
        return Phrase("{day} {clock}", day=self.day(at_ms), clock=self.clock(at_ms))

    def on_days(self, at_ms: Sequence[float]) -> str:
        """Return which days moments fall on: ``on the 14th``, ``on 5 days``, ``today``."""
        dates = sorted({self.date(each) for each in at_ms})
        if len(dates) > 2:  # noqa: PLR2004 - more are counted, not listed
            return Phrase("on {number} days", number=len(dates))
        if dates == [self.date(self.now_ms)]:
            return NEAR[0]
        near = all((self.date(self.now_ms) - each).days <= _MONTH_D for each in dates)
        said = [
            Phrase("the {day:th}", day=Nth(each.day)) if near else dated(each, each)
            for each in dates
        ]
        return Phrase("on {days}", days=listed(said))


class Nth(int):
    """A day of the month: ``14th`` by the format ``th``, which other languages leave out."""

    def __format__(self, form: str, /) -> str:
        """Return the number, as an ordinal where that is asked for."""
        return ordinal(self) if form == "th" else str(int(self))


def ordinal(number: int) -> str:
    """Return ``1st``, ``2nd``, ``13th``."""
    if number % 100 in (11, 12, 13):
        return f"{number}th"
    return f"{number}{ {1: 'st', 2: 'nd', 3: 'rd'}.get(number % 10, 'th') }".replace(" ", "")


def span(seconds: float) -> str:
    """Return ``"12 min"``, ``"1 h 25 min"``, ``"9 h"`` or ``"3 d 4 h"``."""
    minutes = round(seconds / 60)
    if minutes < 60:  # noqa: PLR2004 - an hour
        return f"{minutes} min"
    hours, rest = divmod(minutes, 60)
    if hours >= 48:  # noqa: PLR2004 - two days
        days, hours = divmod(hours, 24)
        return f"{days} d {hours} h" if hours else f"{days} d"
    if hours >= 3 or not rest:  # noqa: PLR2004 - minutes say nothing then
        return f"{round(minutes / 60)} h"
    return f"{hours} h {rest} min"


def percent(share: float) -> str:
    """Return a share in whole per cent, never 0 or 100 for what is not quite that."""
    whole = round(100 * share)
    if whole == 0 and share > 0:
        return Phrase("under {share}", share="1 %")
    if whole == 100 and share < 1:  # noqa: PLR2004 - the whole
        return Phrase("over {share}", share="99 %")
    return f"{whole} %"


def listed(words: Sequence[str]) -> str:
    """Return ``"a, b and c"``."""
    if len(words) < 2:  # noqa: PLR2004 - nothing to join
        return words[0] if words else ""
    return Phrase("{all} and {last}", all=together(words[:-1], ", "), last=words[-1])
