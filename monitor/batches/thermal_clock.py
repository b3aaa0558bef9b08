"""Thermal time as a clock: how much had passed by a moment, and when more will have.

Hours whose air is not known count like the mean of those that are, and say so by their
share: a forecast widens with it, and is refused where too little is known.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from monitor.science.checking import Figures, Floats, positive
from monitor.science.series import Samples, clip

DAY_MS: Final = 86_400_000
LEAST_COVERAGE: Final = 0.5
RECENT_MS: Final = 3 * DAY_MS
_LEAST_RATE: Final = 0.2  # slower than this roots are as good as at rest [°C d a day]


@dataclass(frozen=True, slots=True)
class Part:
    """A part of the time, and the air then; the samples may be empty. [ms], [°C]"""

    since_ms: int
    until_ms: int
    air: Samples


@dataclass(frozen=True, slots=True)
class ThermalClock:
    """Thermal time since a stage began.

    ``at_ms`` and ``degree_days`` (shape (n,), never falling) are its course up to now;
    ``rate`` is what the coming days are taken to bring. [°C d a day]
    """

    at_ms: Floats
    degree_days: Floats
    rate: float
    coverage: float

    @property
    def now(self) -> float:
        """Return the thermal time passed so far. [°C d]"""
        return float(self.degree_days[-1])

    def passed(self, at_ms: Figures) -> Floats:
        """Return the thermal time passed by moments up to now. [°C d]"""
        return np.asarray(np.interp(at_ms, self.at_ms, self.degree_days))

    def reached_ms(self, degree_days: Floats, rate_factor: Floats) -> Floats:
        """Return when thermal times are reached: as it went until now, then by the rate.

        Parameters
        ----------
        degree_days : ndarray, shape (n,)
            Since the stage began. [°C d]
        rate_factor : ndarray, shape (n,)
            Times the rate of the coming days, over zero.
        """
        past = np.interp(degree_days, self.degree_days, self.at_ms)
        left = np.maximum(degree_days - self.now, 0.0)
        return np.asarray(past + left / (self.rate * rate_factor) * DAY_MS)


def thermal_clock(parts: Sequence[Part], base_c: float) -> ThermalClock | None:
    """Return the thermal time of a stage, or None where it cannot be told.

    That is: under half of the hours are known, none of the time has passed, or the air
    is so near the base that roots rest.

    Parameters
    ----------
    parts : sequence of Part
        The stage from its beginning to now, in order of time.
    base_c : float
        Base of thermal time. [°C]
    """
    if not parts or parts[-1].until_ms <= parts[0].since_ms:
        return None
    pieces = [_steps(part, base_c) for part in parts]
    at_ms = np.concatenate([np.array([float(parts[0].since_ms)]), *(each[0] for each in pieces)])
    gained = np.concatenate([each[1] for each in pieces])  # NaN where unknown
    step_d = np.diff(at_ms) / DAY_MS
    known = ~np.isnan(gained)
    known_d, whole_d = float(step_d[known].sum()), float(step_d.sum())
    if whole_d <= 0.0 or known_d < LEAST_COVERAGE * whole_d:
        return None
    mean = float(gained[known].sum()) / known_d
    filled = np.where(known, gained, mean * step_d)
    recent = known & (at_ms[1:] > at_ms[-1] - RECENT_MS)
    recent_d = float(step_d[recent].sum())
    rate = float(gained[recent].sum()) / recent_d if recent_d > 0.0 else mean
    if rate < _LEAST_RATE:
        return None
    course = np.concatenate([[0.0], np.cumsum(filled)])
    return ThermalClock(at_ms, course, positive("the rate", rate), known_d / whole_d)


def _steps(part: Part, base_c: float) -> tuple[Floats, Floats]:
    """Return the ends of a part's steps [ms] and what each gained [°C d], NaN if unknown."""
    air = clip(part.air, part.since_ms, part.until_ms)
    over = np.maximum(air.value - base_c, 0.0)
    ends, gained = air.at_ms.astype(np.float64), np.full(len(over), np.nan)
    if len(over) > 1:
        area = (over[1:] + over[:-1]) / 2.0 * air.step_s / 86_400.0
        gained[1:] = np.where(air.joined, area, np.nan)
    if len(over) and ends[0] == part.since_ms:
        ends, gained = ends[1:], gained[1:]
    if not len(ends) or ends[-1] < part.until_ms:
        ends, gained = np.append(ends, float(part.until_ms)), np.append(gained, np.nan)
    return ends, gained
