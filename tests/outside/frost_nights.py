"""The table of measured nights, as evenings for the outlook, and its fit."""

import gzip
from datetime import date, timedelta
from functools import cache
from typing import Final, NamedTuple

import numpy as np

from monitor.science.checking import Floats, Ints
from monitor.science.frost_prior import EARLIEST_FALL_H, Evening, Pooled, terms
from monitor.science.sun import sun_times
from tests.shared_files import SHARED

TABLE: Final = SHARED / "data" / "frost_nights_table.csv.gz"
_LATITUDE: Final = {"beijing": 39.9, "tmy_greensboro": 36.1, "nyc_JFK": 40.6}
_OTHERS: Final = 42.0  # the stations' whereabouts are not published: mid-latitudes
_NO_SUMMER_TIME: Final = {"beijing", "tmy_greensboro"}
CLOCKS: Final = (17, 19, 21)


class Nights(NamedTuple):
    """One row a night, ordered by station and day."""

    station: np.ndarray[tuple[int], np.dtype[np.str_]]
    month: Ints
    least_c: Floats
    evening: dict[int, Evening]
    plain_19h_c: Floats


@cache
def _sunset_h(latitude: float, year_day: int) -> float:
    """Return sunset by local mean solar time; stations lie near their zone's meridian. [h]"""
    day = date(2015, 1, 1) + timedelta(days=min(year_day, 365) - 1)
    set_ms = sun_times(day, latitude, 0.0).set_ms
    if set_ms is None:
        raise ValueError("no sunset at mid-latitudes")
    return set_ms / 3_600_000.0 % 24.0


def _clock_sunset_h(station: str, year_day: int) -> float:
    summer = station not in _NO_SUMMER_TIME and 69 <= year_day <= 305
    return _sunset_h(_LATITUDE.get(station, _OTHERS), year_day) + (1.0 if summer else 0.0)


def load() -> Nights:
    """Return the nights whose evening figures are sound."""
    with gzip.open(TABLE, "rt", encoding="utf-8") as file:
        names = file.readline().strip().split(",")
        rows = [line.rstrip("\n").split(",") for line in file]
    rows.sort(key=lambda row: (row[0], row[1]))
    column = {name: [row[k] for row in rows] for k, name in enumerate(names)}
    figure = {
        name: np.array(column[name], dtype=np.float64)
        for name in ("Tmin", "T17", "D17", "T19", "D19", "T21", "D21")
    }
    station = np.array(column["site"])
    days = [date.fromisoformat(text) for text in column["day"]]
    year_day = np.array([day.timetuple().tm_yday for day in days])
    sunset = np.array(
        [_clock_sunset_h(str(s), int(d)) for s, d in zip(station, year_day, strict=True)]
    )
    sound = np.abs(figure["T17"]) <= 45.0
    sound &= figure["D19"] <= figure["T19"] + 0.6
    evenings = {}
    for clock in CLOCKS:
        air, dew = figure[f"T{clock}"], figure[f"D{clock}"]
        known = clock > CLOCKS[0]
        earlier_air = figure[f"T{clock - 2}"] if known else np.full_like(air, np.nan)
        earlier_dew = figure[f"D{clock - 2}"] if known else np.full_like(air, np.nan)
        sound &= np.abs(air) <= 45.0
        evenings[clock] = Evening(
            air, dew, clock - sunset, year_day.astype(np.float64), air - earlier_air,
            dew - earlier_dew,
        )  # fmt: skip
    kept = {clock: Evening(*(part[sound] for part in at)) for clock, at in evenings.items()}
    plain = (-1.60 + 0.564 * figure["T19"] + 0.310 * figure["D19"])[sound]
    month = np.array([day.month for day in days], dtype=np.int64)[sound]
    return Nights(station[sound], month, figure["Tmin"][sound], kept, plain)


def fit(nights: Nights, used: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> Pooled:
    """Return the coefficients without and with the fall, from the nights used."""
    least = nights.least_c[used]

    def solve(clocks: tuple[int, ...], count: int) -> Floats:
        parts = [terms(nights.evening[clock])[used][:, :count] for clock in clocks]
        matrix, wanted = np.concatenate(parts), np.tile(least, len(clocks))
        keep = ~np.isnan(matrix).any(axis=1)
        if count > 11:
            hours = np.concatenate([nights.evening[c].after_sunset_h[used] for c in clocks])
            keep &= hours >= EARLIEST_FALL_H
        found = np.linalg.lstsq(matrix[keep], wanted[keep], rcond=None)[0]
        return np.asarray(found, dtype=np.float64)

    return Pooled(solve(CLOCKS, 11), solve(CLOCKS[1:], 13))
