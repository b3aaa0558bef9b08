"""People at work: doors, warm stems coming in, and the timer of the defrosts."""

from dataclasses import dataclass
from typing import Final
from zoneinfo import ZoneInfo

import numpy as np

from simulator.dice import Floats, Times, dice
from simulator.surroundings import offset_ms

_DAY_MS: Final = 86_400_000
_SUNDAY: Final = 3  # 1970 began on a Thursday
_REST_DAY_SHARE: Final = 0.4


@dataclass(frozen=True, slots=True)
class Habits:
    """How a room is used.

    Attributes
    ----------
    doors_a_day : float
        Openings, on average.
    door_s : float
        Their usual length. [s]
    loads_a_day : float
        Chance that new stems come in on a working day.
    defrosts_a_day : int
        By the timer, evenly spread.
    defrost_s : float
        Length of each. [s]
    """

    doors_a_day: float = 10.0
    door_s: float = 35.0
    loads_a_day: float = 0.6
    defrosts_a_day: int = 4
    defrost_s: float = 1_500.0


@dataclass(frozen=True, slots=True)
class Work:
    """Work over a stretch: door's open share, share of contents changed, defrost on."""

    door: Floats
    load: Floats
    defrost: Floats


class WorkingDays:
    """The seeded days of one room; the same day is the same whenever it is asked for."""

    def __init__(self, habits: Habits, zone: ZoneInfo, seed: int, name: str) -> None:
        self._habits = habits
        self._zone = zone
        self._seed = seed
        self._name = name
        self._first_h = float(dice(seed, name, "timer").uniform(0.0, 24.0))

    def work(self, at_ms: Times, step_s: float) -> Work:
        """Return the work in steps that end at ``at_ms``, evenly ``step_s`` apart."""
        door, load = np.zeros(at_ms.shape), np.zeros(at_ms.shape)
        step_ms = int(step_s * 1000)
        first_ms = int(at_ms[0]) - step_ms
        ahead_ms = offset_ms(self._zone, first_ms)
        first, last = (first_ms + ahead_ms) // _DAY_MS, (int(at_ms[-1]) + ahead_ms) // _DAY_MS
        for day in range(first - 1, last + 1):
            spells, loads = self._day(day)
            began_ms = day * _DAY_MS - ahead_ms
            for start_s, length_s in spells:
                _open(door, began_ms - first_ms + start_s * 1000, length_s * 1000, step_ms)
            for start_s, share in loads:
                row = int((began_ms - first_ms + start_s * 1000) // step_ms)
                if 0 <= row < load.size:
                    load[row] = share
        return Work(np.minimum(door, 1.0), load, self._defrosts(at_ms))

    def _day(self, day: int) -> tuple[list[tuple[float, float]], list[tuple[float, float]]]:
        """Return a day's door openings (start, length) [s] and loads (start [s], share)."""
        habits, roll = self._habits, dice(self._seed, self._name, "day", day)
        share = _REST_DAY_SHARE if day % 7 == _SUNDAY else 1.0
        count = int(roll.poisson(habits.doors_a_day * share))
        starts_s = roll.uniform(6.5 * 3600, 19.0 * 3600, count)
        lengths_s = habits.door_s * np.exp(roll.normal(0.0, 0.7, count))
        spells = [*zip(starts_s.tolist(), lengths_s.tolist(), strict=True)]
        loads = []
        if roll.random() < habits.loads_a_day * share:
            at_s = float(roll.uniform(8.0 * 3600, 11.0 * 3600))
            loads.append((at_s + 240.0, float(roll.uniform(0.05, 0.25))))
            spells += [(at_s + gap_s, float(roll.uniform(60.0, 150.0))) for gap_s in (0, 200, 400)]
        return spells, loads

    def _defrosts(self, at_ms: Times) -> Floats:
        """Return 1 while the timer calls for a defrost; timers keep UTC."""
        if not self._habits.defrosts_a_day:
            return np.zeros(at_ms.shape)
        apart_s = 86_400.0 / self._habits.defrosts_a_day
        since_s = (at_ms / 1000.0 - self._first_h * 3600.0) % apart_s
        return (since_s < self._habits.defrost_s).astype(np.float64)


def _open(door: Floats, start_ms: float, length_ms: float, step_ms: int) -> None:
    """Add a spell of open door to the steps it touches."""
    until_ms = start_ms + length_ms
    first, last = int(start_ms // step_ms), int(until_ms // step_ms)
    for row in range(max(first, 0), min(last, door.size - 1) + 1):
        overlap_ms = min(until_ms, (row + 1) * step_ms) - max(start_ms, row * step_ms)
        door[row] += max(overlap_ms, 0.0) / step_ms
