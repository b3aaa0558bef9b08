"""What is usual for one cooler, learned from its own air day by day.

A day gives the low and the high end of its air and the noise of its readings; the level
that the cycle stays under follows from the medians of a week. Each rise above that level
is kept with its hour and how long the air went on rising: a defrost comes back at its
hour on most days, a door belongs to the hours of work, and neither says how long the
other may last.

References
----------
The shares, factors and times were chosen by trial on simulated coolers
(``tests/benchmarks/alarm_trial``), common practice otherwise: air recovers from a door in
5 to 20 minutes, a defrost takes 15 to 30.
"""

from dataclasses import dataclass, field
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt

from monitor.watch.events import Times, Values

DAY_MS: Final = 86_400_000
LEAST_DAYS: Final = 6
KEPT_DAYS: Final = 7
KEPT_RISES_MS: Final = 21 * DAY_MS
_MOST_RISES: Final = 600
_LEAST_SAMPLES: Final = 60

_LOW_SHARE, _HIGH_SHARE = 0.05, 0.7
_TO_PEAK: Final = 0.4  # of the way between the two shares, added to reach the cycle's peaks
_LEAST_OVER_K, _OVER_NOISES = 0.15, 2.0
_MOST_NOISE_K: Final = 0.3  # in few readings a quick cycle looks like noise
_LEAST_DIGIT_K, _MOST_DIGIT_K = 1e-6, 1.0
_DIGIT_NOISE: Final = 0.4
_OVER_DIGITS: Final = 1.1  # so that one count up is no sign
_TURNED_DAYS: Final = 2  # after which a dial that was turned up is taken for meant

_LEAST_RISE_MS: Final = 11 * 60_000
_SAME_WORK_MS: Final = 3 * 3_600_000
_SAME_TIMER_MS: Final = 25 * 60_000
_TIMER_MS: Final = 15 * 60_000
_TIMER_SHARE: Final = 0.6
_TIMER_DAYS: Final = 3
_LONGER: Final = 1.4  # than any rise at this hour of the day
_LONGER_WORK: Final = 1.25  # than any rise that people caused, where they are at work
_LONGER_TIMER: Final = 1.15
_LONGER_TODAY: Final = 1.25  # than what was told of today and is over
_TIMER_SPARE_MS: Final = 180_000
_LONGER_ABOVE: Final = 2.5  # than any stay above the level
_LEAST_ABOVE_MS: Final = 24 * 60_000


class Day(NamedTuple):
    """One day's air: its low and its high end [°C], a reading's noise and least digit [K]."""

    low_c: float
    high_c: float
    noise_k: float
    digit_k: float


class Rise(NamedTuple):
    """One stay above the level, and whether it was told of.

    When it began, how long the air rose, how long it lasted. [ms]
    """

    began_ms: int
    rose_ms: int
    lasted_ms: int
    told: bool = False


class Allowed(NamedTuple):
    """How long the air may rise, and how long it may stay above the level. [ms]"""

    rise_ms: int
    above_ms: int


@dataclass(frozen=True, slots=True)
class Habits:
    """What is usual for one cooler; ``on_timer`` tells which rises come back at their hour.

    ``level_c`` is None until a day is known.
    """

    days: tuple[Day, ...] = ()
    rises: tuple[Rise, ...] = ()
    on_timer: tuple[bool, ...] = field(default=())
    level_c: float | None = None
    noise_k: float = 0.1

    @property
    def learning(self) -> bool:
        """Return whether too few days are known to tell by."""
        return len(self.days) < LEAST_DAYS

    def allowed(self, at_ms: int, today: tuple[Rise, ...] = ()) -> Allowed:
        """Return what is usual for a rise that begins at a time of day. [ms]

        What was told of ``today`` and is over counts at once, at whichever hour it was.
        """
        usual = self._usual(at_ms)
        rose = max((each.rose_ms for each in today if each.told), default=0)
        lasted = max((each.lasted_ms for each in today if each.told), default=0)
        return Allowed(
            max(usual.rise_ms, round(_LONGER_TODAY * rose)),
            max(usual.above_ms, round(_LONGER_TODAY * lasted)),
        )

    def _usual(self, at_ms: int) -> Allowed:
        if not self.rises:
            return Allowed(_LEAST_RISE_MS, _LEAST_ABOVE_MS)
        began, rose, lasted, _ = np.array(self.rises, dtype=np.int64).T
        timer = np.array(self.on_timer, dtype=np.bool_)
        apart = _apart_ms(began, at_ms)
        work = ~timer & (apart < _SAME_WORK_MS)
        here = int(rose[work].max(initial=0))
        timed = int(rose[timer & (apart < _SAME_TIMER_MS)].max(initial=0))
        usual = max(_LONGER * here, min(_LONGER * timed, _LONGER_TIMER * timed + _TIMER_SPARE_MS))
        if work.any():
            usual = max(usual, _LONGER_WORK * int(rose[~timer].max(initial=0)))
        above_ms = max(_LEAST_ABOVE_MS, round(_LONGER_ABOVE * int(lasted.max())))
        return Allowed(max(_LEAST_RISE_MS, round(usual)), above_ms)


def _apart_ms(began_ms: Times, at_ms: int | Times) -> Times:
    """Return how far apart times of day are. [ms]"""
    off = (began_ms - at_ms) % DAY_MS
    return np.asarray(np.minimum(off, DAY_MS - off), dtype=np.int64)


def habits_after(before: Habits, now_ms: int, air_c: Values, rises: tuple[Rise, ...]) -> Habits:
    """Return the habits once a day is over.

    Parameters
    ----------
    before : Habits
        At the day's beginning.
    now_ms : int
        Its end. [ms]
    air_c : ndarray
        Its readings, in order. [°C]
    rises : tuple of Rise
        Those that ended in it.
    """
    days = before.days
    if air_c.size >= _LEAST_SAMPLES:
        days = (*days, _day(air_c))[-KEPT_DAYS:]
    kept = tuple(
        each for each in (*before.rises, *rises) if each.began_ms > now_ms - KEPT_RISES_MS
    )[-_MOST_RISES:]
    level_c, noise_k = _level(days)
    return Habits(days, kept, _on_timer(kept, now_ms), level_c, noise_k)


def _day(air_c: Values) -> Day:
    low, high = np.quantile(air_c, [_LOW_SHARE, _HIGH_SHARE])
    bend = np.abs(air_c[2:] - 2.0 * air_c[1:-1] + air_c[:-2])
    noise_k = float(np.median(bend)) / (0.6745 * 6.0**0.5)
    steps = np.diff(np.unique(air_c))
    digit_k = float(steps[steps > _LEAST_DIGIT_K].min(initial=_MOST_DIGIT_K))
    return Day(float(low), float(high), noise_k, digit_k)


def _level(days: tuple[Day, ...]) -> tuple[float | None, float]:
    """Return the level that the cycle stays under [°C], and the noise of a reading. [K]"""
    if not days:
        return None, 0.1
    table = np.array(days)
    low, high, noise, digit = (float(each) for each in np.median(table, axis=0))
    noise = max(min(noise, _MOST_NOISE_K), _DIGIT_NOISE * digit)
    peaks = table[:, 1] + _TO_PEAK * (table[:, 1] - table[:, 0])
    usual = max(high + _TO_PEAK * (high - low), float(peaks[-_TURNED_DAYS:].min()))
    return usual + max(_LEAST_OVER_K, _OVER_NOISES * noise, _OVER_DIGITS * digit), noise


def _on_timer(rises: tuple[Rise, ...], now_ms: int) -> tuple[bool, ...]:
    """Return which rises come back at their hour on most of the days."""
    if not rises:
        return ()
    began = np.array([each.began_ms for each in rises], dtype=np.int64)
    day = (now_ms - began) // DAY_MS
    known = max(_TIMER_DAYS, int(day.max()) + 1)
    same: npt.NDArray[np.bool_] = _apart_ms(began[:, None], began[None, :]) < _TIMER_MS
    times = [np.unique(day[row]).size for row in same]
    return tuple(each >= _TIMER_SHARE * known for each in times)
