"""One cooler alone, for trials with hundreds of cooler-months."""

from typing import Final
from zoneinfo import ZoneInfo

import numpy as np

from monitor.errors import OutOfRangeError
from simulator.cooler import CoolerSize, begun, cooler
from simulator.faults import Fault
from simulator.places import RoomPlace
from simulator.surroundings import Surroundings, surroundings
from simulator.truth import Truth
from simulator.weather import Climate, Weather
from simulator.working_day import Habits, WorkingDays

_FEWEST: Final = 2


def around_cooler(
    climate: Climate, zone: ZoneInfo, seed: int, start_ms: int, *, days: float, step_s: float = 60.0
) -> Surroundings:
    """Return what lies around a cooler, to be shared by several. Times in [ms], [s].

    Raises
    ------
    OutOfRangeError
        If the days have not even two steps.
    """
    count = round(days * 86_400.0 / step_s)
    if count < _FEWEST:
        raise OutOfRangeError(
            f"{days:g} days in steps of {step_s:g} s are {count}: give time for at least two steps"
        )
    at_ms = start_ms + round(step_s * 1000) * np.arange(1, count + 1, dtype=np.int64)
    return surroundings(Weather(climate, seed), zone, at_ms)


def play_cooler(
    size: CoolerSize,
    habits: Habits,
    around: Surroundings,
    zone: ZoneInfo,
    seed: int,
    *,
    faults: tuple[Fault, ...] = (),
) -> Truth:
    """Return how one cooler fares in its surroundings.

    Parameters
    ----------
    size, habits : CoolerSize, Habits
        The cooler, and how it is used.
    around : Surroundings
        Evenly spaced times, from `around_cooler`.
    zone : ZoneInfo
        Whose working hours are kept.
    seed : int
        Whose doors, loads and defrost times these are.
    faults : tuple of Fault
        Their subjects are not looked at.
    """
    room = cooler(size)
    middle_c = (size.low_c + size.high_c) / 2.0
    place = RoomPlace(
        room, begun(room, middle_c, 88.0), WorkingDays(habits, zone, seed, "alone"), faults
    )
    return place.play(around, float(around.at_ms[1] - around.at_ms[0]) / 1000.0)
