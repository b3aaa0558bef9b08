"""Defrosts and door openings, told apart in air temperature alone.

Both lift the air over the peaks of the usual cycle. A door mixes room air in at once:
the climb is steep from its first minute. A defrost melts its frost first: the air climbs
no faster than at rest, or stalls, and rises late; and a timer repeats it at the same
hours; but a steep climb is a door at any hour, for people keep hours too. What fits
neither is called unclear.
"""

from enum import StrEnum
from typing import Final, NamedTuple

import numpy as np

from monitor.science.checking import Flags, Floats, Ints
from monitor.science.cycle import Cycles, Usual
from monitor.science.series import Samples

LEAST_OVER_K: Final = 0.8
_SPREADS: Final = 4.0
_DOOR_STEEPNESS: Final = 5.0  # times the usual climb
_DOOR_K_MIN: Final = 0.25
_DOOR_CLIMB_S: Final = 900.0
_DEFROST_S: Final = (480.0, 5400.0)
_DAY_MS: Final = 86_400_000
_SAME_HOUR_MS: Final = 900_000
_REPEATS: Final = 0.6
_LEAST_DAYS: Final = 3


class EventKind(StrEnum):
    """What lifted the air."""

    DOOR = "door"
    DEFROST = "defrost"
    UNCLEAR = "unclear"


class Event(NamedTuple):
    """One lift of the air over its usual peaks.

    ``from_ms`` is the turn before it, ``until_ms`` the turn after it; the steepest climb
    is over two minutes or one step of the readings. ``on_timer`` says that most days
    have one like it at this hour (UTC).
    """

    kind: EventKind
    from_ms: int
    peak_ms: int
    until_ms: int
    peak_c: float
    over_k: float
    steepest_k_min: float
    on_timer: bool


def lifted(of: Cycles, normal: Usual) -> Flags:
    """Return which cycles peak well over the usual: events, not the thermostat."""
    over_k = max(LEAST_OVER_K, _SPREADS * normal.high_spread_k)
    return np.asarray(of.high_c - normal.high_c > over_k)


def _steepest_k_min(air: Samples, from_ms: int, peak_ms: int) -> float:
    """Return the steepest climb between two times, over two minutes or one step. [K/min]"""
    first, last = np.searchsorted(air.at_ms, [from_ms, peak_ms])
    at_min = air.at_ms[first : last + 1] / 60_000.0
    value = air.value[first : last + 1]
    if len(at_min) < 2:  # noqa: PLR2004
        return 0.0
    back = np.minimum(np.searchsorted(at_min, at_min - 2.0, side="left"), len(at_min) - 1)
    back = np.minimum(back, np.maximum(np.arange(len(at_min)) - 1, 0))
    climb = value - value[back]
    took = at_min - at_min[back]
    return float((climb[1:] / took[1:]).max())


def _on_timer(peak_ms: Ints) -> Flags:
    """Return which peaks recur at their hour on most of the days covered."""
    if not len(peak_ms):
        return np.zeros(0, dtype=np.bool_)
    days = int((peak_ms[-1] - peak_ms[0]) // _DAY_MS) + 1
    apart = np.abs(peak_ms[:, None] - peak_ms[None, :])
    off = apart % _DAY_MS
    same = np.minimum(off, _DAY_MS - off) <= _SAME_HOUR_MS
    day = (apart + _SAME_HOUR_MS) // _DAY_MS
    others = np.array([len(np.unique(day[k][same[k]])) for k in range(len(peak_ms))])
    return np.asarray((others >= _REPEATS * days) & (days >= _LEAST_DAYS))


def _kind(steepest_k_min: float, climb_s: float, normal: Usual, on_timer: bool) -> EventKind:
    steep = steepest_k_min >= max(_DOOR_K_MIN, _DOOR_STEEPNESS * normal.rise_k_h / 60.0)
    if steep:
        return EventKind.DOOR
    if on_timer or _DEFROST_S[0] <= climb_s <= _DEFROST_S[1]:
        return EventKind.DEFROST
    return EventKind.UNCLEAR


def events(air: Samples, of: Cycles, normal: Usual) -> list[Event]:
    """Return the lifts of the air with what each looks like.

    Parameters
    ----------
    air : Samples
        The readings the cycles were found in. [°C]
    of, normal : Cycles, Usual
        Of those readings.
    """
    which = np.flatnonzero(lifted(of, normal))
    timed = _on_timer(of.peak_ms[which])
    found = []
    for k, on_timer in zip(which.tolist(), timed.tolist(), strict=True):
        begin, peak = int(of.from_ms[k]), int(of.peak_ms[k])
        steepest = _steepest_k_min(air, begin, peak)
        kind = _kind(steepest, (peak - begin) / 1000.0, normal, on_timer)
        over = float(of.high_c[k]) - normal.high_c
        found.append(
            Event(
                kind,
                begin,
                peak,
                int(of.until_ms[k]),
                float(of.high_c[k]),
                over,
                steepest,
                on_timer,
            )
        )
    return found


def recovery_s(found: list[Event], normal: Usual, air: Samples) -> Floats:
    """Return how long after its peak each event was back at the usual peak. [s]

    NaN where the readings do not show it.
    """
    waits = np.full(len(found), np.nan)
    for k, event in enumerate(found):
        after = (air.at_ms >= event.peak_ms) & (air.at_ms <= event.until_ms)
        back = air.at_ms[after][air.value[after] <= normal.high_c]
        if back.size:
            waits[k] = (int(back[0]) - event.peak_ms) / 1000.0
    return waits
