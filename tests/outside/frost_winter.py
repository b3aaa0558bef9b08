"""Nights of a measured Dutch winter, judged two hours after sunset."""

from datetime import date, timedelta
from typing import Final

import numpy as np

from monitor.science import frost_prior, moist_air, sun
from monitor.science.checking import Floats
from monitor.science.series import Samples, clip, extremes, value_at
from tests.outside.checking import SHARED, column, rows

_FILE: Final = "data/nl2009_winter_5min.csv.gz"
WINTER: Final = SHARED / _FILE
_PLACE: Final = (52.0, 4.5)
_HOUR_MS: Final = 3_600_000


def winter_errors_k() -> Floats:
    """Return measured less forecast minima, shape (nights,). [K]"""
    table = rows(_FILE)
    at_ms = np.array([np.datetime64(row["time"], "ms").astype(np.int64) for row in table])
    at_ms -= _HOUR_MS  # the record runs by Central European Time
    air = Samples(at_ms, column(table, "T_C"), 1800.0)
    dew_point = moist_air.dew_point_c(column(table, "vapour_Pa"))
    sound = ~np.isnan(dew_point)
    dew = Samples(at_ms[sound], dew_point[sound], 1800.0)
    day, errors = date(2009, 10, 21), []
    while day < date(2010, 2, 28):
        night = sun.night_of(day, *_PLACE)
        day += timedelta(days=1)
        if night is None or night.rise_ms > int(at_ms[-1]):
            continue
        judged_ms = night.set_ms + 2 * _HOUR_MS
        asked = np.array([judged_ms, judged_ms - 2 * _HOUR_MS], dtype=np.int64)
        air_c, dew_c = value_at(air, asked), value_at(dew, asked)
        tonight = frost_prior.evening(
            float(air_c[0]), float(dew_c[0]), after_sunset_h=2.0,
            year_day=day.timetuple().tm_yday, falls_k=(air_c[0] - air_c[1], dew_c[0] - dew_c[1]),
        )  # fmt: skip
        found = extremes(clip(air, judged_ms, night.rise_ms + _HOUR_MS))
        if found is not None:
            errors.append(found.low - float(frost_prior.least_c(tonight)[0]))
    return np.array(errors)
