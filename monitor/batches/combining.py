"""Several sensors in one place, as one course of one quantity.

The rule: at each moment the *mean of the sensors known then*. A sensor is known between
two of its samples no further apart than its allowed gap. How far the sensors lay apart
is told beside it, so that a mean of two unlike figures is seen for what it is.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from monitor.model import Quantity
from monitor.science.checking import Flags, Floats, Ints
from monitor.science.series import Samples, clip, value_at

RULE: Final = "mean of the sensors known at each moment"


@dataclass(frozen=True, slots=True)
class SensorSeries:
    """One sensor's calibrated samples of one quantity. [°C] or [%]"""

    sensor: str
    quantity: Quantity
    samples: Samples


@dataclass(frozen=True, slots=True)
class Disagreement:
    """How far the sensors of a place lay apart, where at least two were known. [K] or [%]"""

    mean: float
    largest: float
    largest_at_ms: int


@dataclass(frozen=True, slots=True)
class CombinedSamples(Samples):
    """Samples whose steps are known where any of the sensors knew them, shape (n-1,)."""

    known: Flags

    @property
    def joined(self) -> Flags:
        """Return which steps are interpolated, shape (n-1,)."""
        return self.known


@dataclass(frozen=True, slots=True)
class Course:
    """One quantity of one place through a period, and whose samples tell it.

    ``disagreement`` is None where never two sensors were known at once.
    """

    samples: Samples
    sensors: tuple[str, ...]
    disagreement: Disagreement | None


def combine(series: Sequence[SensorSeries], since_ms: int, until_ms: int) -> Course:
    """Return the course that the sensors of one place tell of a period.

    Parameters
    ----------
    series : sequence of SensorSeries
        All of one quantity; any may be empty. Hand in samples from a little before to a
        little after the period, else its edges count as unknown.
    since_ms, until_ms : int
        The period. [ms]
    """
    parts = [(each.sensor, clip(each.samples, since_ms, until_ms)) for each in series]
    told = [(sensor, part) for sensor, part in parts if part.at_ms.size]
    sensors = tuple(sensor for sensor, _ in told)
    if not told:
        return Course(Samples(np.empty(0, np.int64), np.empty(0), 1.0), (), None)
    if len(told) == 1:
        return Course(told[0][1], sensors, None)
    samples = [part for _, part in told]
    grid: Ints = np.unique(np.concatenate([each.at_ms for each in samples]))
    values = np.stack([value_at(each, grid) for each in samples])
    covered = np.stack([_steps_known(each, grid) for each in samples])
    here = _counting(np.isfinite(values), covered)
    mean = np.where(here, values, 0.0).sum(axis=0) / here.sum(axis=0)
    gap_s = max(each.allowed_gap_s for each in samples)
    combined = CombinedSamples(grid, mean, gap_s, np.asarray(covered.sum(axis=0) > 0))
    return Course(combined, sensors, _disagreement(grid, values, here))


def _steps_known(samples: Samples, grid: Ints) -> Flags:
    """Return which steps from one grid point to the next a sensor knows."""
    before = np.searchsorted(samples.at_ms, grid[:-1], side="right") - 1
    joined = np.append(samples.joined, False)  # after the last sample: no
    return np.asarray(joined[np.clip(before, 0, None)] & (before >= 0))


def _counting(here: Flags, covered: Flags) -> Flags:
    """Leave out a lone sample amid a sensor's silence, where another sensor tells more."""
    edge = np.zeros((len(covered), 1), np.bool_)
    joined = here & (np.hstack([covered, edge]) | np.hstack([edge, covered]))
    return np.asarray(np.where(joined.sum(axis=0) > 0, joined, here))


def _disagreement(grid: Ints, values: Floats, here: Flags) -> Disagreement | None:
    """Return how far apart the sensors lay at the times when two or more were known."""
    both = np.asarray(here.sum(axis=0) > 1)
    if not both.any():
        return None
    counting = np.where(here, values, np.nan)[:, both]
    spread = np.nanmax(counting, axis=0) - np.nanmin(counting, axis=0)
    worst = int(np.argmax(spread))
    return Disagreement(float(spread.mean()), float(spread[worst]), int(grid[both][worst]))
