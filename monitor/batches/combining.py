"""Several sensors in one place, as one course of one quantity.

The rule: at each moment the *mean of the sensors known then*. A sensor is known between
two of its samples no further apart than its allowed gap. How far the sensors lay apart
is told beside it, so that a mean of two unlike figures is seen for what it is.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from monitor.model import Quantity

Times = NDArray[np.int64]
Values = NDArray[np.float64]
Mask = NDArray[np.bool_]

RULE: Final = "mean of the sensors known at each moment"


@dataclass(frozen=True, slots=True)
class SensorSeries:
    """One sensor's calibrated samples of one quantity, in order of time.

    Attributes
    ----------
    sensor : str
        Its id.
    quantity : Quantity
        What it measures.
    at_ms : ndarray of int64, shape (n,)
        Sample times, strictly increasing. [ms]
    value : ndarray of float64, shape (n,)
        [°C] or [%].
    allowed_gap_s : float
        The longest time between two samples that still counts as known. [s]
    """

    sensor: str
    quantity: Quantity
    at_ms: Times
    value: Values
    allowed_gap_s: float


@dataclass(frozen=True, slots=True)
class Disagreement:
    """How far the sensors of a place lay apart, where at least two were known. [K] or [%]"""

    mean: float
    largest: float
    largest_at_ms: int


@dataclass(frozen=True, slots=True)
class Course:
    """One quantity of one place through time.

    Attributes
    ----------
    at_ms : ndarray of int64, shape (n,)
        Every sample time of every sensor. [ms]
    value : ndarray of float64, shape (n,)
        The combined value; between two times it runs straight. [°C] or [%]
    known : ndarray of bool, shape (n - 1,) or (0,)
        Whether the time from one sample to the next is known.
    sensors : tuple of str
        Whose samples these are.
    disagreement : Disagreement or None
        None where never two sensors were known at once.
    """

    at_ms: Times
    value: Values
    known: Mask
    sensors: tuple[str, ...]
    disagreement: Disagreement | None


def combine(series: Sequence[SensorSeries]) -> Course:
    """Return the course that the samples of one place's sensors tell.

    Parameters
    ----------
    series : sequence of SensorSeries
        All of one quantity; any may be empty.
    """
    told = [each for each in series if each.at_ms.size]
    if not told:
        return Course(np.empty(0, np.int64), np.empty(0), np.empty(0, np.bool_), (), None)
    sensors = tuple(each.sensor for each in told)
    if len(told) == 1:
        return Course(told[0].at_ms, told[0].value, _short(told[0]), sensors, None)
    grid = np.unique(np.concatenate([each.at_ms for each in told]))
    each_value = np.stack([_values_at(each, grid) for each in told])
    covered = np.stack([_segments_known(each, grid) for each in told])
    here = _counting(np.isfinite(each_value), covered)
    mean = np.where(here, each_value, 0.0).sum(axis=0) / here.sum(axis=0)
    known: Mask = covered.sum(axis=0) > 0
    return Course(grid, mean, known, sensors, _disagreement(grid, each_value, here))


def _short(series: SensorSeries) -> Mask:
    """Return which gaps between its samples a sensor's allowed gap bridges."""
    return np.diff(series.at_ms) <= series.allowed_gap_s * 1000


def _values_at(series: SensorSeries, grid: Times) -> Values:
    """Return a sensor's value at each time, NaN where it is not known then."""
    value = np.interp(grid, series.at_ms, series.value, left=np.nan, right=np.nan)
    before = np.clip(np.searchsorted(series.at_ms, grid, side="right") - 1, 0, None)
    on_sample = series.at_ms[before] == grid
    bridged = np.append(_short(series), False)  # after the last sample: no
    value[~(on_sample | bridged[before])] = np.nan
    return value


def _segments_known(series: SensorSeries, grid: Times) -> Mask:
    """Return which times from one grid point to the next a sensor knows."""
    before = np.searchsorted(series.at_ms, grid[:-1], side="right") - 1
    bridged = np.append(_short(series), False)  # after the last sample: no
    known: Mask = bridged[np.clip(before, 0, None)] & (before >= 0)
    return known


def _counting(here: Mask, covered: Mask) -> Mask:
    """Leave out a lone sample amid a sensor's silence, where another sensor tells more."""
    edge = np.zeros((len(covered), 1), np.bool_)
    joined = here & (np.hstack([covered, edge]) | np.hstack([edge, covered]))
    counting: Mask = np.where(joined.sum(axis=0) > 0, joined, here)
    return counting


def _disagreement(grid: Times, each_value: Values, here: Mask) -> Disagreement | None:
    """Return how far apart the sensors lay at the times when two or more were known."""
    both: Mask = here.sum(axis=0) >= 2  # noqa: PLR2004 - it takes two to disagree
    if not both.any():
        return None
    values = each_value[:, both]
    spread = np.nanmax(values, axis=0) - np.nanmin(values, axis=0)
    worst = int(np.argmax(spread))
    return Disagreement(float(spread.mean()), float(spread[worst]), int(grid[both][worst]))
