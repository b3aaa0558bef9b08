"""Tonight and this morning's heat, read from the store: a farm's own evenings and nights.

Past nights come from the hourly summaries, so that a year of them is read in the time of
a page; only the last hours and the mornings of a month are read as readings.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

import numpy as np

from monitor.batches import Book, open_batches
from monitor.batches.combining import combine
from monitor.farm import ChannelSpec, Place, calibrated
from monitor.model import Batch, Channel, Quantity
from monitor.report.reading import Stores
from monitor.report.recorded import Posting, postings_in
from monitor.science.checking import Floats, Ints
from monitor.science.moist_air import dew_point_c, vapour_pressure_pa
from monitor.science.series import Samples, value_at
from monitor.science.sun import solar_day, sun_times
from monitor.science.tunnel_heat import GRID_STEPS, day_course_c
from monitor.store import Width
from monitor.watch.heat import Heat, heat
from monitor.watch.nights import DAYS_BACK, HOUR_MS, NO_NIGHTS, Hours, Where, night_day, past_nights
from monitor.watch.tonight import (
    FRESH_MS,
    OUTDOOR,
    Lack,
    Now,
    Tonight,
    Typed,
    asked_at,
    blank_of,
    limit_of,
    tonight,
)

DAY_MS: Final = 24 * HOUR_MS
PAST_MORNINGS: Final = 30
_PLAUSIBLE_C: Final = (-40.0, 45.0)
_PLAUSIBLE_PCT: Final = (0.0, 100.0)
_BACK_MS: Final = 16 * HOUR_MS  # from now back to dusk, and two hours further
_KNOWN: Final = 0.9  # of an hour, were its readings no further apart than allowed
_FALL_MS: Final = 2 * HOUR_MS
_AIR, _DAMP = Quantity.TEMPERATURE, Quantity.HUMIDITY


@dataclass(frozen=True, slots=True)
class Grounds:
    """What an outlook is made from: the stores, the batches, and when. [ms]"""

    stores: Stores
    book: Book
    now_ms: int

    @property
    def where(self) -> Where:
        """Return where the farm lies."""
        return Where(self.stores.farm.latitude, self.stores.farm.longitude)

    def places(self) -> list[Place]:
        """Return the tunnels and fields."""
        return [each for each in self.stores.farm.places.values() if each.kind in OUTDOOR]

    def batches(self, place: str) -> list[Batch]:
        """Return the batches in a place."""
        here = ((each, each.stay) for each in open_batches(self.book))
        return [batch for batch, stay in here if stay is not None and stay.place == place]

    def matters(self, place: Place) -> bool:
        """Return whether something stands there by the records; all, where none are kept."""
        return not self.book.batches or bool(self.batches(place.id))


def all_tonight(grounds: Grounds, typed: Typed | None) -> list[Tonight]:
    """Return tonight's outlook for each tunnel and field.

    Raises
    ------
    StoreError
        If the readings cannot be read.
    """
    return [place_tonight(grounds, place, typed) for place in grounds.places()]


def place_tonight(grounds: Grounds, place: Place, typed: Typed | None) -> Tonight:
    """Return tonight's outlook for one place; ``typed`` is a forecast low given for it.

    Raises
    ------
    StoreError
        If the readings cannot be read.
    """
    farm, where = grounds.stores.farm, grounds.where
    limit = limit_of(place, grounds.batches(place.id), farm.crops)
    day = night_day(grounds.now_ms, where)
    blank = blank_of(
        place, day, where, typed, limit, place.cover, holds=grounds.matters(place)
    )  # fmt: skip
    now = _now(grounds, place, blank)
    past = NO_NIGHTS
    if isinstance(now, Now) and blank.night is not None:
        after_h = (now.at_ms - blank.night.set_ms) / HOUR_MS
        past = past_nights(_hours(grounds, place.id), where, after_h, day)
    return tonight(blank, now, past, where, under_cover=place.kind is OUTDOOR[0])


def _now(grounds: Grounds, place: Place, blank: Tonight) -> Now | Lack:
    """Return the newest moment whose air and dew point are known, or what is missing."""
    night, now_ms = blank.night, grounds.now_ms
    postings = postings_in(grounds.stores.past, grounds.stores.farm.sensors, place.id)
    hang = {s.quantity for each in postings if each.until_ms is None for s in each.sensor.channels}
    for quantity, lack in ((_AIR, Lack.NO_AIR), (_DAMP, Lack.NO_HUMIDITY)):
        if quantity not in hang:
            return lack
    since_ms = now_ms - _BACK_MS
    air, damp = (_course(grounds, place.id, each, since_ms, now_ms) for each in (_AIR, _DAMP))
    for course, lack in ((air, Lack.AIR_OLD), (damp, Lack.HUMIDITY_OLD)):
        if not len(course.at_ms) or course.at_ms[-1] < now_ms - FRESH_MS:
            return lack
    newest_ms = min(int(air.at_ms[-1]), int(damp.at_ms[-1]))
    at_ms = newest_ms if night is None else asked_at(night, newest_ms)
    dusk_ms = at_ms if night is None else night.set_ms + _FALL_MS
    times = np.array([at_ms, at_ms - _FALL_MS, dusk_ms], dtype=np.int64)
    air_c = value_at(air, times)
    dew_c = _dew_c(air_c, value_at(damp, times))
    if np.isnan(air_c[0]):
        return Lack.AIR_OLD
    if np.isnan(dew_c[0]):
        return Lack.OUTSIDE
    dusk_c = float(air_c[2]) if dusk_ms <= at_ms else float("nan")
    fall_c, fall_dew = float(air_c[0] - air_c[1]), float(dew_c[0] - dew_c[1])
    return Now(at_ms, float(air_c[0]), float(dew_c[0]), fall_c, fall_dew, dusk_c)


def _course(
    grounds: Grounds, place: str, quantity: Quantity, since_ms: int, until_ms: int
) -> Samples:
    series = grounds.stores.series(place, since_ms, until_ms, (quantity,))
    return combine(series, since_ms, until_ms).samples


def _dew_c(air_c: Floats, damp_pct: Floats) -> Floats:
    """Return the dew point; NaN where air or humidity is unknown or not plausible."""
    low_c, high_c = _PLAUSIBLE_C
    known = (air_c >= low_c) & (air_c <= high_c) & (damp_pct >= 0.0) & (damp_pct <= 100.0)  # noqa: PLR2004
    found = np.full(air_c.shape, np.nan)
    if known.any():
        found[known] = dew_point_c(vapour_pressure_pa(air_c[known], damp_pct[known]))
    return found


def _hours(grounds: Grounds, place: str) -> Hours:
    """Return the place's last 400 days hour by hour, by the mean of its sensors."""
    last = grounds.now_ms // HOUR_MS
    first = last - DAYS_BACK * 24
    start_ms: Ints = np.arange(first, last, dtype=np.int64) * HOUR_MS
    postings = postings_in(grounds.stores.past, grounds.stores.farm.sensors, place)
    air_c, low_c = _mean_hours(grounds, postings, _AIR, start_ms)
    damp_pct, _ = _mean_hours(grounds, postings, _DAMP, start_ms)
    return Hours(start_ms, air_c, low_c, _dew_c(air_c, damp_pct))


def _mean_hours(
    grounds: Grounds, postings: Sequence[Posting], quantity: Quantity, start_ms: Ints
) -> tuple[Floats, Floats]:
    """Return mean and least value of each hour by the mean of the sensors; NaN unknown."""
    total, least, count = np.zeros((3, len(start_ms)))
    for posting in postings:
        for spec in posting.sensor.channels:
            if spec.quantity is quantity:
                place, mean, low = _sensor_hours(grounds, posting, spec, start_ms)
                total[place] += mean
                least[place] += low
                count[place] += 1.0
    known = np.where(count > 0.0, count, np.nan)
    return total / known, least / known


def _sensor_hours(
    grounds: Grounds, posting: Posting, spec: ChannelSpec, start_ms: Ints
) -> tuple[Ints, Floats, Floats]:
    """Return which hours a sensor may know, by its number of readings: their mean and least."""
    since_ms, end_ms = int(start_ms[0]), int(start_ms[-1]) + HOUR_MS
    until_ms = end_ms if posting.until_ms is None else min(end_ms, posting.until_ms)
    told = grounds.stores.reader.summaries(
        Channel(posting.sensor.id, spec.quantity), since_ms, end_ms, Width.HOUR
    )
    mean = calibrated(spec, told.start_ms, told.mean)
    low = calibrated(spec, told.start_ms, told.low)
    fewest = _KNOWN * HOUR_MS / 1000 / posting.sensor.allowed_gap_s
    kept = (told.suspect == 0) & (told.n >= fewest)
    kept &= (told.start_ms >= max(since_ms, posting.since_ms)) & (told.start_ms < until_ms)
    least, most = _PLAUSIBLE_C if spec.quantity is _AIR else _PLAUSIBLE_PCT
    kept &= (low >= least) & (mean <= most)
    return (told.start_ms[kept] - since_ms) // HOUR_MS, mean[kept], low[kept]


class Mornings:
    """Past mornings' courses of each place, kept for the day: at most one set a place."""

    def __init__(self) -> None:
        self._kept: dict[str, tuple[tuple[date, str], Floats]] = {}

    def past(self, grounds: Grounds, place: Place, today: date) -> Floats:
        """Return the last thirty days' courses from sunrise, shape (days, 72). [°C]"""
        key = (today, grounds.stores.farm.digest)
        kept = self._kept.get(place.id)
        if kept is not None and kept[0] == key:
            return kept[1]
        days = [today - timedelta(days=back) for back in range(PAST_MORNINGS, 0, -1)]
        rises = [sun_times(day, *grounds.where).rise_ms for day in days]
        found = [_morning(grounds, place.id, each, each) for each in rises if each is not None]
        courses = np.stack(found) if found else np.empty((0, GRID_STEPS))
        self._kept[place.id] = key, courses
        return courses


def _morning(grounds: Grounds, place: str, rise_ms: int, from_ms: int) -> Floats:
    until_ms = min(from_ms + DAY_MS // 2, grounds.now_ms)
    return day_course_c(_course(grounds, place, _AIR, from_ms, until_ms), rise_ms)


def all_heat(grounds: Grounds, mornings: Mornings) -> list[Heat]:
    """Return when tunnels with something in them will pass their opening temperature.

    Only from sunrise on for nine hours; nothing where it is not likely or not known.

    Raises
    ------
    StoreError
        If the readings cannot be read.
    """
    today = solar_day(grounds.now_ms, grounds.where.longitude)
    rise_ms = sun_times(today, *grounds.where).rise_ms
    if rise_ms is None or not 0 <= grounds.now_ms - rise_ms <= 9 * HOUR_MS:
        return []
    tunnels = [each for each in grounds.places() if each.kind is OUTDOOR[0]]
    told = []
    for place in tunnels:
        if not grounds.matters(place):
            continue
        course = _morning(grounds, place.id, rise_ms, rise_ms)
        if not _current(course, rise_ms, grounds.now_ms):
            continue
        past = mornings.past(grounds, place, today)
        found = heat(place.id, open_at_c(grounds, place), rise_ms, course, past)
        told += [] if found is None else [found]
    return told


def _current(course: Floats, rise_ms: int, now_ms: int) -> bool:
    """Return whether a morning's course is known nearly up to now."""
    known = np.flatnonzero(np.isfinite(course))
    return bool(known.size) and now_ms - rise_ms - int(known[-1]) * 600_000 <= FRESH_MS


def open_at_c(grounds: Grounds, place: Place) -> float:
    """Return where a tunnel is to be opened: the farm's figure, or an earlier harm limit. [°C]"""
    farm = grounds.stores.farm
    bands: list[Mapping[Quantity, object]] = [place.bands]
    highs = [farm.notices.open_at_c]
    for batch in grounds.batches(place.id):
        crop, stay = farm.crops.get(batch.crop), batch.stay
        stage = crop.stages.get(stay.stage) if crop and stay else None
        bands += [] if stage is None else [stage.bands]
    for each in bands:
        harm = getattr(each.get(_AIR), "harm", None)
        if harm is not None and harm.high is not None:
            highs.append(harm.high)
    return min(highs)
