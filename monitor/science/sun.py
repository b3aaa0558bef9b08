"""Sunrise and sunset of a solar day, and hours after sunset.

A sunset of a solar day far west of Greenwich falls on the next date in UTC, a sunrise far
east on the one before. Libraries that work by UTC dates, NREL's SPA example among them,
then hand out the neighbour's event, one or two minutes off; so neighbouring dates are
asked as well and the event on the right side of this day's own noon is taken.

References
----------
astral (NOAA's equations), within 30 s of NREL SPA up to 52 degrees of latitude, 40 s at 60.
"""

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from typing import Final, NamedTuple

from astral import Observer
from astral.sun import sunrise, sunset

from monitor.science.checking import within

_DAY_MS: Final = 86_400_000
_EPOCH: Final = date(1970, 1, 1)


class Sun(NamedTuple):
    """Sunrise and sunset of one solar day, UTC [ms]; None where there is none."""

    rise_ms: int | None
    set_ms: int | None


class Night(NamedTuple):
    """From one sunset to the next sunrise, UTC [ms]."""

    set_ms: int
    rise_ms: int

    @property
    def hours(self) -> float:
        """Return the length of the night. [h]"""
        return (self.rise_ms - self.set_ms) / 3_600_000.0


def _mean_noon_ms(day: date, longitude: float) -> int:
    """Return mean solar noon of a date at a longitude. UTC [ms]"""
    return round((day - _EPOCH).days * _DAY_MS + _DAY_MS / 2 - longitude / 360.0 * _DAY_MS)


def solar_day(at_ms: int, longitude: float) -> date:
    """Return the date that the sun tells at a longitude. [° east, -180 to 180]

    Raises
    ------
    OutOfRangeError
        If the longitude lies outside.
    """
    east = float(within("longitude", longitude, -180.0, 180.0, "°"))
    return _EPOCH + timedelta(days=(at_ms + round(east / 360.0 * _DAY_MS)) // _DAY_MS)


def _event_ms(
    find: Callable[..., datetime], observer: Observer, day: date, window_ms: tuple[int, int]
) -> int | None:
    for shift in (0, -1, 1):
        try:
            found = find(observer, day + timedelta(days=shift), tzinfo=UTC)
        except ValueError:  # the sun does not cross the horizon on that date
            continue
        at_ms = round(found.timestamp() * 1000.0)
        if window_ms[0] <= at_ms < window_ms[1]:
            return at_ms
    return None


def sun_times(day: date, latitude: float, longitude: float) -> Sun:
    """Return sunrise and sunset of a solar day.

    Parameters
    ----------
    day : date
        As the sun tells it there: the farm's civil date around noon.
    latitude, longitude : float
        Degrees north, -90 to 90, and east, -180 to 180. [°]

    Raises
    ------
    OutOfRangeError
        If a coordinate lies outside.
    """
    north = float(within("latitude", latitude, -90.0, 90.0, "°"))
    east = float(within("longitude", longitude, -180.0, 180.0, "°"))
    noon_ms = _mean_noon_ms(day, east)
    observer = Observer(north, east, 0.0)
    half = _DAY_MS // 2
    return Sun(
        _event_ms(sunrise, observer, day, (noon_ms - half, noon_ms)),
        _event_ms(sunset, observer, day, (noon_ms, noon_ms + half)),
    )


def night_of(evening: date, latitude: float, longitude: float) -> Night | None:
    """Return the night that begins on a solar date, or None where the sun stays up or down.

    Raises
    ------
    OutOfRangeError
        If a coordinate lies outside.
    """
    begins = sun_times(evening, latitude, longitude).set_ms
    ends = sun_times(evening + timedelta(days=1), latitude, longitude).rise_ms
    return None if begins is None or ends is None else Night(begins, ends)


def hours_after_sunset(at_ms: int, latitude: float, longitude: float) -> float | None:
    """Return the time since sunset of the evening around a moment; negative before. [h]

    Before solar noon the evening is yesterday's; None where there is no sunset.

    Raises
    ------
    OutOfRangeError
        If a coordinate lies outside.
    """
    evening = solar_day(at_ms - _DAY_MS // 2, longitude)
    begins = sun_times(evening, latitude, longitude).set_ms
    return None if begins is None else (at_ms - begins) / 3_600_000.0
