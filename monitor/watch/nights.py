"""A place's own past nights, read hour by hour: evenings at one hour, and their minima."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache
from typing import Final, NamedTuple

import numpy as np

from monitor.science import sun
from monitor.science.checking import Floats, Ints
from monitor.science.frost_outlook import NEWEST_NIGHTS
from monitor.science.frost_prior import Evening
from monitor.science.sun import Night

HOUR_MS: Final = 3_600_000
DAYS_BACK: Final = 400
_AFTER_SUNRISE_MS: Final = HOUR_MS  # the air is often coolest a little after sunrise
_KNOWN: Final = 0.9  # share of a night's hours that must be known for its minimum to count
_HALF_YEAR_D: Final = 183.0
_YEAR_D: Final = 365.25


class Where(NamedTuple):
    """Degrees north and east. [°]"""

    latitude: float
    longitude: float


@dataclass(frozen=True, slots=True)
class Hours:
    """One place hour by hour, without a hole in the hours: NaN where nothing is known.

    Starts of hours [ms], mean air, least air and mean dew point [°C], shapes (n,).
    """

    start_ms: Ints
    air_c: Floats
    low_c: Floats
    dew_c: Floats


class PastNights(NamedTuple):
    """Past nights in order of time: evenings at one hour after sunset, and their minima."""

    evening: Evening
    least_c: Floats


NO_NIGHTS: Final = PastNights(Evening(*(np.empty(0) for _ in Evening._fields)), np.empty(0))


def night_day(now_ms: int, where: Where) -> date:
    """Return the evening of the night that runs now, or that comes next."""
    day = sun.solar_day(now_ms, where.longitude)
    rise_ms = sun.sun_times(day, *where).rise_ms
    return day - timedelta(days=1) if rise_ms is not None and now_ms < rise_ms else day


@lru_cache(maxsize=2048)
def night_of(day: date, where: Where) -> Night | None:
    """Return the night that begins on a date there, None where the sun stays up or down."""
    return sun.night_of(day, *where)


def season_day(day: date, where: Where) -> float:
    """Return the day of the northern year: half a year on in the south. [d]"""
    own = float(day.timetuple().tm_yday)
    return own if where.latitude >= 0.0 else (own + _HALF_YEAR_D) % _YEAR_D


def past_nights(hours: Hours, where: Where, after_sunset_h: float, before: date) -> PastNights:
    """Return the newest sixty nights before a date whose evening and minimum are known.

    Parameters
    ----------
    hours : Hours
        Of the place; what lies further back than 400 days is not looked at.
    where : Where
        Of the farm.
    after_sunset_h : float
        The hour at which the evenings are taken; negative before sunset. [h]
    before : date
        Evening of the night that is not counted any more.
    """
    if not len(hours.start_ms):
        return NO_NIGHTS
    rows: list[tuple[float, ...]] = []
    for row in _rows(hours, where, after_sunset_h, before):
        rows.append(row)
        if len(rows) == NEWEST_NIGHTS:
            break
    if not rows:
        return NO_NIGHTS
    *evening, least_c = (np.array(column) for column in zip(*reversed(rows), strict=True))
    return PastNights(Evening(*evening), least_c)


def _rows(
    hours: Hours, where: Where, after_sunset_h: float, before: date
) -> Iterator[tuple[float, ...]]:
    """Yield the usable nights, the newest first."""
    for back in range(1, DAYS_BACK + 1):
        day = before - timedelta(days=back)
        rough_ms = round((day - date(1970, 1, 1)).days * 24 * HOUR_MS)
        if rough_ms + 48 * HOUR_MS < hours.start_ms[0]:
            return
        if not _any_known(hours, rough_ms):
            continue
        night = night_of(day, where)
        least_c = None if night is None else _least_c(hours, night)
        if night is None or least_c is None:
            continue
        at_ms = night.set_ms + round(after_sunset_h * HOUR_MS)
        air_c, dew_c = _at(hours, hours.air_c, at_ms), _at(hours, hours.dew_c, at_ms)
        if np.isnan(air_c + dew_c):
            continue
        yield (
            air_c, dew_c, after_sunset_h, season_day(day, where),
            air_c - _at(hours, hours.air_c, at_ms - 2 * HOUR_MS),
            dew_c - _at(hours, hours.dew_c, at_ms - 2 * HOUR_MS), least_c,
        )  # fmt: skip


def _index(hours: Hours, at_ms: int) -> int:
    return int((at_ms - hours.start_ms[0]) // HOUR_MS)


def _any_known(hours: Hours, rough_ms: int) -> bool:
    first = max(0, _index(hours, rough_ms))
    return bool(np.isfinite(hours.air_c[first : max(0, first + 48)]).any())


def _least_c(hours: Hours, night: Night) -> float | None:
    """Return the least air from sunset to an hour after sunrise, if enough of it is known."""
    first = _index(hours, night.set_ms)
    last = _index(hours, night.rise_ms + _AFTER_SUNRISE_MS)
    if first < 0 or last >= len(hours.start_ms):
        return None
    low_c = hours.low_c[first : last + 1]
    known = np.isfinite(low_c)
    return float(low_c[known].min()) if known.mean() >= _KNOWN else None


def _at(hours: Hours, value: Floats, at_ms: int) -> float:
    """Return a value between the middles of two hours; NaN where one is not known."""
    place = (at_ms - int(hours.start_ms[0])) / HOUR_MS - 0.5
    before = int(np.floor(place))
    if before < 0 or before + 1 >= len(value):
        return float("nan")
    share = place - before
    return float((1.0 - share) * value[before] + share * value[before + 1])
