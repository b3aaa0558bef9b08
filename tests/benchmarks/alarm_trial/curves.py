"""Each reference as a curve: what it can do at every setting, and at its best.

A point is one setting: how often it wakes someone for nothing, and how much warning it
leaves. Of a family two settings are named: the one with the most warning among those
that wake for nothing once a month at most, and the one that wakes least among those
that leave half of the time.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from monitor.units import TemperatureUnit, to_celsius
from tests.benchmarks.alarm_trial.coolers import Month
from tests.benchmarks.alarm_trial.detectors import (
    Detector,
    cusum,
    ewma,
    for_nothing,
    held,
    longest,
    needless,
    share_left,
)

NEEDLESS_A_MONTH: Final = 1.0
SHARE_LEFT: Final = 0.5
_MONTH_DAYS: Final = 30.0
_MINUTES: Final = (0.0, 5.0, 10.0, 15.0, 20.0, 30.0, 40.0, 45.0, 60.0, 90.0)
_TOPS_F: Final = (40.0, 41.0, 42.0, 43.0, 45.0, 48.0)


def _top_c(top_f: float) -> float:
    return to_celsius(top_f, TemperatureUnit.FAHRENHEIT)


FAMILIES: Final[dict[str, dict[str, Detector]]] = {
    "a limit on the air, held": {
        f"{top:g} °F for {minutes:g} min": held(minutes, _top_c(top))
        for top in _TOPS_F
        for minutes in _MINUTES
    },
    "the first week's longest, times": {
        f"{factor:g}": longest(factor) for factor in (0.5, 0.7, 0.85, 1.0, 1.15, 1.3, 1.6, 2.0, 3.0)
    },
    "EWMA chart": {
        f"weight {weight:g}, {sigmas:g} sigma": ewma(weight, sigmas)
        for weight in (0.005, 0.01, 0.02, 0.05, 0.1, 0.2)
        for sigmas in (3.0, 4.0, 6.0, 8.0, 12.0, 16.0, 24.0, 32.0)
    },
    "CUSUM chart": {
        f"k {slack:g}, h {decision:g}": cusum(slack, decision)
        for slack in (0.5, 1.0, 1.5, 2.0, 3.0, 4.0)
        for decision in (4.0, 10.0, 20.0, 40.0, 60.0, 100.0, 160.0, 240.0)
    },
}


@dataclass(frozen=True, slots=True)
class Point:
    """What one setting did: needless a month, share left in the median and worst tenth.

    ``for_nothing`` are those of the needless that found the contents in their band.
    """

    setting: str
    needless: float
    for_nothing: float
    share: float
    worst: float
    caught: int
    died: int


def point(setting: str, found: Detector, played: Sequence[Month]) -> Point:
    """Return what one detector did with the coolers."""
    told = [found(each) for each in played]
    days = sum(each.sound_days for each in played)
    left = np.array([
        share_left(month, each)
        for month, each in zip(played, told, strict=True)
        if month.died_ms is not None
    ])  # fmt: skip
    worst, middle = (float(each) for each in np.quantile(np.maximum(left, -1.0), [0.1, 0.5]))
    return Point(
        setting,
        sum(map(needless, played, told)) * _MONTH_DAYS / days,
        sum(map(for_nothing, played, told)) * _MONTH_DAYS / days,
        middle,
        worst,
        int(np.isfinite(left).sum()),
        left.size,
    )


def front(points: Iterable[Point]) -> list[Point]:
    """Return the points that no other betters in both: the family's curve, quietest first."""
    kept: list[Point] = []
    for each in sorted(points, key=lambda one: (one.needless, -one.share)):
        if not kept or each.share > kept[-1].share:
            kept.append(each)
    return kept


def best(curve: Sequence[Point]) -> tuple[Point | None, Point | None]:
    """Return the most warning within the quiet allowed, and the quietest with enough warning."""
    quiet = [each for each in curve if each.needless <= NEEDLESS_A_MONTH]
    early = [each for each in curve if each.share >= SHARE_LEFT]
    return (quiet[-1] if quiet else None, early[0] if early else None)


__all__ = ["FAMILIES", "NEEDLESS_A_MONTH", "SHARE_LEFT", "Point", "best", "front", "point"]
