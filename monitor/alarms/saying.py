"""Figures, times and lists as people say them, in the farm's units and zone."""

from collections.abc import Sequence
from datetime import datetime
from typing import Final
from zoneinfo import ZoneInfo

from monitor.days import NEAR, WEEKDAYS, dated
from monitor.model import Quantity
from monitor.phrase import Phrase, together
from monitor.units import TemperatureUnit, difference_from_celsius, from_celsius

_HOUR_S: Final = 3600
_DAY_S: Final = 86_400
_WEEK_DAYS: Final = 7
_LEVEL_PER_H: Final = 0.5  # slower changes are not worth a word


def say_value(value: float, quantity: Quantity | None, unit: TemperatureUnit) -> str:
    """Return ``"43.8 °F"`` or ``"93 %"`` from [°C] or [%]."""
    if quantity is Quantity.HUMIDITY:
        return f"{value:.0f} %"
    mark = "K" if unit is TemperatureUnit.KELVIN else f"°{unit.value}"
    return f"{_no_minus_zero(from_celsius(value, unit)):.1f} {mark}"


def say_trend(per_h: float | None, quantity: Quantity | None, unit: TemperatureUnit) -> str:
    """Return ``" and rising 3 °F an hour"`` from [K/h] or [%/h]; nothing when level."""
    change = say_change(per_h, quantity, unit)
    return Phrase(" and {change}", change=change) if change else ""


def say_change(per_h: float | None, quantity: Quantity | None, unit: TemperatureUnit) -> str:
    """Return ``"rising 3 °F an hour"`` from [K/h] or [%/h]; nothing when level."""
    if per_h is None:
        return ""
    mark = "%" if quantity is Quantity.HUMIDITY else f"°{unit.value}"
    if quantity is not Quantity.HUMIDITY:
        per_h = difference_from_celsius(per_h, unit)
    if abs(per_h) < _LEVEL_PER_H:
        return ""
    change = f"{abs(per_h):.0f} {mark}"
    if per_h > 0:
        return Phrase("rising {change} an hour", change=change)
    return Phrase("falling {change} an hour", change=change)


def say_span(seconds: float) -> str:
    """Return ``"45 s"``, ``"12 min"``, ``"1 h 25 min"`` or ``"3 d 4 h"``."""
    if seconds < 60:  # noqa: PLR2004  # a minute
        return f"{seconds:.0f} s"
    minutes = round(seconds / 60)
    if minutes < 60:  # noqa: PLR2004  # an hour
        return f"{minutes} min"
    hours, rest = divmod(minutes, 60)
    if hours < 48:  # noqa: PLR2004  # two days
        return f"{hours} h {rest} min" if rest else f"{hours} h"
    days, hours = divmod(hours, 24)
    return f"{days} d {hours} h" if hours else f"{days} d"


def say_time(at_ms: int, zone: ZoneInfo, now_ms: int) -> str:
    """Return ``"03:12"`` today, else with its day: ``"Tuesday 03:12"``, ``"12 Nov 03:12"``."""
    day = say_day(at_ms, zone, now_ms)
    clock = f"{datetime.fromtimestamp(at_ms / 1000, zone):%H:%M}"
    return clock if day == "today" else Phrase("{day} {clock}", day=day, clock=clock)


def say_day(at_ms: int, zone: ZoneInfo, now_ms: int) -> str:
    """Return ``"today"``, ``"yesterday"``, ``"Tuesday"`` within a week, else ``"12 Nov"``."""
    at = datetime.fromtimestamp(at_ms / 1000, zone).date()
    today = datetime.fromtimestamp(now_ms / 1000, zone).date()
    past = (today - at).days
    if past in (-1, 0, 1):
        return NEAR[past]
    if abs(past) < _WEEK_DAYS:
        return WEEKDAYS[at.weekday()]
    return dated(at, today)


def say_list(words: Sequence[str]) -> str:
    """Return ``"a, b and c"``."""
    if len(words) < 2:  # noqa: PLR2004  # nothing to join
        return words[0] if words else ""
    return Phrase("{all} and {last}", all=together(words[:-1], ", "), last=words[-1])


def _no_minus_zero(value: float) -> float:
    return 0.0 if -0.05 < value <= 0.0 else value  # noqa: PLR2004  # what rounds to -0.0
