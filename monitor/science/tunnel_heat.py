"""When a closed tunnel passes its limit on a sunny day: told in the morning.

The morning's climb so far is laid over this tunnel's own past days: each past day that
climbed by then is stretched to today's climb, and tells when it would pass the limit.
Without five such days only the climb of the last hour is left, carried on straight, and
the range is wide and says so.
"""

from enum import StrEnum
from typing import Final, NamedTuple

import numpy as np

from monitor.errors import OutOfRangeError
from monitor.science.checking import Floats, Ints
from monitor.science.series import Samples, value_at

GRID_MIN: Final = 10
GRID_STEPS: Final = 72  # twelve hours from sunrise
LEAST_DAYS: Final = 5
LEAST_CLIMB_K: Final = 2.0
_STRETCH: Final = (0.5, 2.0)
_LIKENESS: Final = 0.35  # in the logarithm of the stretch
_FOOT_STEPS: Final = 18  # the coolest of the first three hours is the foot of the climb
_SLOPE_STEPS: Final = 6
_STRAIGHT: Final = (0.4, 4.0)  # holds 8 of 10 days that pass, on measured tunnels


class Basis(StrEnum):
    """What the answer rests on."""

    OWN_DAYS = "this tunnel's own days"
    CLIMB_ALONE = "this morning's climb alone"


class Passing(NamedTuple):
    """When the limit is passed, hours after sunrise: 80 % range and middle. [h]

    ``inf`` where it may never be. ``chance`` is the share of like days that pass it,
    None where none are known.
    """

    early_h: float
    middle_h: float
    late_h: float
    chance: float | None
    days: int
    basis: Basis


def day_course_c(air: Samples, sunrise_ms: int) -> Floats:
    """Return the air every ten minutes for twelve hours from sunrise, shape (72,). [°C]

    NaN where unknown: gaps, and what has not come yet.
    """
    at_ms: Ints = sunrise_ms + np.arange(GRID_STEPS, dtype=np.int64) * GRID_MIN * 60_000
    return value_at(air, at_ms)


def _feet(courses: Floats, until: int) -> Floats:
    """Return the coolest of each morning's first hours, NaN where all is unknown."""
    early = courses[:, : min(until, _FOOT_STEPS) + 1]
    least = np.where(np.isnan(early), np.inf, early).min(axis=1)
    return np.where(np.isfinite(least), least, np.nan)


def _quantiles(hours: Floats, weight: Floats) -> tuple[float, float, float]:
    order = np.argsort(hours)
    total = np.cumsum(weight[order]) / weight.sum()
    early, middle, late = (
        float(hours[order][min(int(np.searchsorted(total, share)), len(hours) - 1)])
        for share in (0.1, 0.5, 0.9)
    )
    return early, middle, late


def _crossing_h(courses: Floats, now: int, limit_c: float) -> Floats:
    """Return when each course passes a limit after now, ``inf`` where it does not. [h]"""
    ahead = np.nan_to_num(courses[:, now:], nan=-np.inf)
    over = ahead >= limit_c
    step = over.argmax(axis=1)
    row = np.arange(len(ahead))
    after, before = ahead[row, step], ahead[row, np.maximum(step - 1, 0)]
    rise = np.where((step > 0) & np.isfinite(before), after - before, np.inf)
    back = np.where(np.isfinite(rise), (after - limit_c) / np.where(rise > 0.0, rise, 1.0), 0.0)
    hours = (now + step - np.where(over.any(axis=1), back, 0.0)) * GRID_MIN / 60.0
    return np.where(over.any(axis=1), hours, np.inf)


def _by_own_days(today: Floats, past: Floats, now: int, limit_c: float) -> Passing | None:
    foot = _feet(today[None, :], now)[0]
    feet = _feet(past, now)
    climbs = past[:, now] - feet
    with np.errstate(invalid="ignore", divide="ignore"):
        stretch = (today[now] - foot) / climbs
        like = (climbs >= LEAST_CLIMB_K) & (stretch >= _STRETCH[0]) & (stretch <= _STRETCH[1])
    if int(like.sum()) < LEAST_DAYS:
        return None
    stretch = stretch[like]
    laid = foot + stretch[:, None] * (past[like] - feet[like, None])
    hours = _crossing_h(laid, now, limit_c)
    weight = np.exp(-0.5 * (np.log(stretch) / _LIKENESS) ** 2)
    chance = float(weight[np.isfinite(hours)].sum() / weight.sum())
    return Passing(*_quantiles(hours, weight), chance, int(like.sum()), Basis.OWN_DAYS)


def _by_climb(today: Floats, now: int, limit_c: float) -> Passing | None:
    since = max(0, now - _SLOPE_STEPS)
    if np.isnan(today[since]) or now == since:
        return None
    per_step = float(today[now] - today[since]) / (now - since)
    if per_step <= 0.0:
        return None
    ahead_h = (limit_c - float(today[now])) / per_step * GRID_MIN / 60.0
    now_h = now * GRID_MIN / 60.0
    early, late = (now_h + factor * ahead_h for factor in _STRAIGHT)
    return Passing(early, now_h + ahead_h, late, None, 0, Basis.CLIMB_ALONE)


def passing(today: Floats, past: Floats, limit_c: float) -> Passing | None:
    """Return when the tunnel passes its limit today, or None where nothing can be said.

    Nothing can be said before the air has climbed two kelvin from its morning low, once
    it has begun to fall, or while it is already over the limit.

    Parameters
    ----------
    today : ndarray, shape (72,)
        `day_course_c`, NaN from now on. [°C]
    past : ndarray, shape (days, 72)
        The same of past days, this tunnel's own, best closed and of this season. [°C]
    limit_c : float
        Limit. [°C]

    Raises
    ------
    OutOfRangeError
        If a shape is another.
    """
    if today.shape != (GRID_STEPS,) or past.ndim != 2 or past.shape[1] != GRID_STEPS:  # noqa: PLR2004
        raise OutOfRangeError(f"courses have {GRID_STEPS} steps: take them from day_course_c")
    known = np.flatnonzero(~np.isnan(today))
    if not known.size:
        return None
    now = int(known[-1])
    climbed = today[now] - _feet(today[None, :], now)[0]
    if not climbed >= LEAST_CLIMB_K or today[now] >= limit_c:
        return None
    return _by_own_days(today, past, now, limit_c) or _by_climb(today, now, limit_c)
