"""Simulated cooler-months, as an instrument in each would have read them."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final
from zoneinfo import ZoneInfo

import numpy as np

from monitor.watch.events import Times, Values
from simulator.alone import around_cooler, play_cooler
from simulator.cooler import random_size
from simulator.faults import Fault, FaultKind
from simulator.lagging import follow
from simulator.weather import Climate
from simulator.working_day import Habits

TOP_C: Final = 4.444  # 40 °F
DAYS: Final = 30.0
_LEAST_MIN: Final = 30
_BEFORE_MIN, _AFTER_MIN = 30, 60
_SHARED: Final = 12
_ZONE: Final = ZoneInfo("America/New_York")
_START_MS: Final = 1_770_000_000_000
_DAY_MS: Final = 86_400_000


@dataclass(frozen=True, slots=True)
class Month:
    """Readings of one cooler; where it died: when, and when its contents left the band. [ms]

    ``warm_ms`` are the minutes in which its contents truly were over the band, with the
    half hour before each and the hour after.
    """

    at_ms: Times
    value: Values
    interval_ms: int
    died_ms: int | None
    harmed_ms: int | None
    warm_ms: Times

    @property
    def sound_days(self) -> float:
        """Return for how long nothing was wrong. [d]"""
        end_ms = int(self.at_ms[-1]) if self.died_ms is None else self.died_ms
        return (end_ms - int(self.at_ms[0])) / _DAY_MS


def months(sound: int, dying: int, seed: int) -> Iterator[Month]:
    """Yield coolers of all sizes and loads, the sound ones first."""
    dice = np.random.default_rng([seed, 7])
    around = None
    for number in range(sound + dying):
        if number % _SHARED == 0:
            start_ms = _START_MS + int(dice.uniform(0.0, 300.0)) * _DAY_MS
            climate = Climate(dice.uniform(30.0, 48.0), -73.3)
            around = around_cooler(climate, _ZONE, seed + number, start_ms, days=DAYS)
        if around is None:
            return
        died_ms = None
        if number >= sound:
            died_ms = int(around.at_ms[0]) + int(dice.uniform(8.0, DAYS - 1.2) * _DAY_MS)
        faults = () if died_ms is None else (Fault(FaultKind.COMPRESSOR_DEAD, died_ms),)
        truth = play_cooler(
            random_size(dice), _habits(dice), around, _ZONE, seed * 1000 + number, faults=faults
        )
        at_ms, value, interval_ms = _read(truth.at_ms, truth.air_c, dice)
        if died_ms is None:
            warm_ms = around_warm_ms(truth.at_ms, truth.contents_c)
            yield Month(at_ms, value, interval_ms, None, None, warm_ms)
            continue
        out_ms = harmed_ms(truth.at_ms, truth.contents_c, died_ms)
        if out_ms is not None:
            before = at_ms <= out_ms + 3_600_000
            warm_ms = around_warm_ms(truth.at_ms, truth.contents_c)
            yield Month(at_ms[before], value[before], interval_ms, died_ms, out_ms, warm_ms)


def _habits(dice: np.random.Generator) -> Habits:
    return Habits(
        doors_a_day=dice.uniform(4.0, 20.0),
        door_s=dice.uniform(25.0, 90.0),
        loads_a_day=dice.uniform(0.2, 0.9),
        defrosts_a_day=int(dice.integers(2, 7)),
        defrost_s=dice.uniform(900.0, 1800.0),
    )


def _read(true_ms: Times, air_c: Values, dice: np.random.Generator) -> tuple[Times, Values, int]:
    """Return what a late, noisy, rounded probe says, now and then unheard."""
    step = 5 if dice.random() < 0.2 else 1  # one in five speaks each 5 minutes
    probe = follow(air_c, float(air_c[0]), 60.0 / dice.uniform(20.0, 180.0))
    jitter_ms = dice.normal(0.0, dice.uniform(200.0, 3000.0), true_ms[::step].size)
    at_ms = np.unique(true_ms[::step] + jitter_ms.astype(np.int64))
    value = np.interp(at_ms, true_ms, probe) + dice.normal(0.0, 0.15)
    value += dice.normal(0.0, dice.choice([0.03, 0.06, 0.1, 0.2]), at_ms.size)
    digit = dice.choice([0.01, 0.0625, 0.1, 0.1, 0.1])
    heard = dice.random(at_ms.size) >= dice.choice([0.0, 0.002, 0.01, 0.03])
    for _ in range(int(dice.integers(0, 6))):
        lost_ms = dice.uniform(int(at_ms[0]), int(at_ms[-1]))
        heard &= ~((at_ms > lost_ms) & (at_ms < lost_ms + dice.exponential(3_600_000.0)))
    return at_ms[heard], (np.round(value / digit) * digit)[heard], step * 60_000


def around_warm_ms(at_ms: Times, contents_c: Values) -> Times:
    """Return the minutes at and around which the contents are over the band. [ms]"""
    warm = np.convolve(contents_c > TOP_C, np.ones(_BEFORE_MIN + _AFTER_MIN + 1))
    return np.asarray(at_ms[warm[_BEFORE_MIN : _BEFORE_MIN + at_ms.size] > 0.5])


def harmed_ms(at_ms: Times, contents_c: Values, died_ms: int) -> int | None:
    """Return when the contents leave the band for over half an hour, if they were in it. [ms]"""
    first = int(np.searchsorted(at_ms, died_ms))
    out = contents_c[first:] > TOP_C
    inside = np.concatenate(([-1], np.flatnonzero(~out), [out.size]))
    runs = np.flatnonzero(np.diff(inside) > _LEAST_MIN + 1)
    if not runs.size or inside[runs[0]] < 5:  # out already as it died
        return None
    return int(at_ms[first + int(inside[runs[0]]) + 1])
