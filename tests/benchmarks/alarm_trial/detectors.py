"""Our watch and the references: each gives the times it would have told. [ms]"""

from collections.abc import Callable
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.signal import lfilter

from monitor.watch.events import Times
from monitor.watch.warming import advance, newborn
from tests.benchmarks.alarm_trial.coolers import TOP_C, Month

Detector = Callable[[Month], Times]
_WEEK_MS: Final = 7 * 86_400_000
_REST: Final = 60  # readings after one alarm that belong to it


def habits(month: Month) -> Times:
    """Tell when the air rises for longer than this cooler's own doors and defrosts take."""
    seen = advance(newborn(), month.at_ms, month.value)
    told = [each.rising.raised_ms for each in seen.ended]
    if seen.warming.told is not None:
        told.append(seen.warming.told.raised_ms)
    return np.array([each for each in told if each is not None], dtype=np.int64)


def held(minutes: float, top_c: float = TOP_C) -> Detector:
    """Return a limit on the air, held for some minutes. [min, °C]"""

    def found(month: Month) -> Times:
        first, last = runs(month.value > top_c)
        long = month.at_ms[last] - month.at_ms[first] >= minutes * 60_000
        return np.asarray(month.at_ms[first][long] + round(minutes * 60_000))

    return found


def longest(factor: float) -> Detector:
    """Return a limit held for some times the longest run of the cooler's first week."""

    def found(month: Month) -> Times:
        first, last = runs(month.value > TOP_C)
        lasted = month.at_ms[last] - month.at_ms[first]
        week = month.at_ms[first] < month.at_ms[0] + _WEEK_MS
        allowed = factor * max(int(lasted[week].max(initial=0)), 600_000)
        long = ~week & (lasted >= allowed)
        return np.asarray(month.at_ms[first][long] + round(allowed))

    return found


def ewma(weight: float, sigmas: float) -> Detector:
    """Return an EWMA chart whose mean and spread are those of the first week.

    References
    ----------
    ISO 7870-6: limits at mean +- L sigma sqrt(weight / (2 - weight)) (from memory).
    """

    def found(month: Month) -> Times:
        mean, spread = _week(month)
        over = sigmas * spread * (weight / (2.0 - weight)) ** 0.5
        average = lfilter([weight], [1.0, weight - 1.0], month.value - mean)
        return np.asarray(month.at_ms[runs(average > over)[0]])

    return found


def cusum(slack: float, decision: float) -> Detector:
    """Return an upper CUSUM chart whose mean and spread are those of the first week.

    An alarm stands until the sum is back below the decision interval.

    References
    ----------
    ISO 7870-4: sums of what is over mean + k sigma, against h sigma (from memory).
    """

    def found(month: Month) -> Times:
        mean, spread = _week(month)
        walked = np.cumsum((month.value - mean) / spread - slack)
        total = walked - np.minimum(np.minimum.accumulate(walked), 0.0)
        return _apart(np.asarray(month.at_ms[runs(total > decision)[0]]))

    return found


def _week(month: Month) -> tuple[float, float]:
    first = month.value[month.at_ms < month.at_ms[0] + _WEEK_MS]
    return float(first.mean()), max(float(first.std()), 0.05)


def _apart(told_ms: Times) -> Times:
    """Return alarms at least an hour apart: those between belong to the one before."""
    kept: list[int] = []
    for each in told_ms.tolist():
        if not kept or each - kept[-1] >= _REST * 60_000:
            kept.append(each)
    return np.array(kept, dtype=np.int64)


def runs(out: npt.NDArray[np.bool_]) -> tuple[Times, Times]:
    """Return the first and the last sample of each run."""
    edge = np.diff(np.concatenate(([0], out.astype(np.int64), [0])))
    return np.flatnonzero(edge == 1), np.flatnonzero(edge == -1) - 1


def share_left(month: Month, told_ms: Times) -> float:
    """Return the share of the time from death to harm that was left; -inf where never told."""
    if month.died_ms is None or month.harmed_ms is None:
        return float("nan")
    after = told_ms[told_ms >= month.died_ms]
    if not after.size:
        return -float("inf")
    return (month.harmed_ms - int(after[0])) / (month.harmed_ms - month.died_ms)


def needless(month: Month, told_ms: Times) -> int:
    """Return how often someone was woken while the machine was sound."""
    return int(before_death(month, told_ms).size)


def for_nothing(month: Month, told_ms: Times) -> int:
    """Return how often someone was woken with the machine sound and the contents in the band."""
    minute = before_death(month, told_ms) // 60_000
    return int((~np.isin(minute, month.warm_ms // 60_000)).sum())


def before_death(month: Month, told_ms: Times) -> Times:
    """Return what was told while the machine was sound. [ms]"""
    return told_ms if month.died_ms is None else told_ms[told_ms < month.died_ms]


__all__ = [
    "Detector", "cusum", "ewma", "for_nothing", "habits", "held", "longest", "needless", "runs",
    "share_left",
]  # fmt: skip
