"""Degree-days from readings and from daily extremes."""

import numpy as np
import pytest

from monitor.errors import OutOfRangeError
from monitor.science import thermal_time
from monitor.science.series import Samples

HOUR_MS = 3_600_000


def _hours(values: list[float], gap_after: int | None = None) -> Samples:
    at_ms = np.arange(len(values), dtype=np.int64) * HOUR_MS
    if gap_after is not None:
        at_ms[gap_after + 1 :] += 10 * HOUR_MS
    return Samples(at_ms, np.array(values, dtype=np.float64), 7200.0)


def test_a_steady_day_is_its_warmth() -> None:
    """A day at 10 °C over a base of 4 °C is six degree-days."""
    assert thermal_time.from_readings(_hours([10.0] * 25), 4.0).degree_days == pytest.approx(6.0)


def test_a_cutoff_counts_warmer_as_itself() -> None:
    """Over the upper threshold nothing more is gained."""
    found = thermal_time.from_readings(_hours([30.0] * 25), 5.0, 25.0)
    assert found.degree_days == pytest.approx(20.0)


def test_a_gap_is_not_known_time() -> None:
    """Unknown hours add nothing, and the known time says how many there were."""
    found = thermal_time.from_readings(_hours([10.0] * 5, gap_after=2), 4.0)
    assert found.known_s == 3 * 3600.0
    assert found.degree_days == pytest.approx(6.0 * 3 / 24)


def test_a_sine_that_stays_on_one_side_needs_no_angle() -> None:
    """Days wholly over or under the base are plain means, and a level day is itself."""
    ours = thermal_time.single_sine(np.array([6.0, -9.0, 7.0]), np.array([12.0, 3.0, 7.0]), 5.0)
    assert ours.tolist() == pytest.approx([4.0, 0.0, 2.0])


def test_bad_days_are_refused() -> None:
    """Extremes or thresholds the wrong way round, and a false 85 °C sample, are errors."""
    with pytest.raises(OutOfRangeError, match="maximum less minimum is -2"):
        thermal_time.single_sine(9.0, 7.0, 5.0)
    with pytest.raises(OutOfRangeError, match="upper threshold"):
        thermal_time.single_sine(5.0, 7.0, 5.0, 5.0)
    with pytest.raises(OutOfRangeError, match="temperature is 85"):
        thermal_time.from_readings(_hours([20.0, 85.0]), 5.0)
    with pytest.raises(OutOfRangeError, match="lower threshold is nan"):
        thermal_time.from_readings(_hours([20.0]), float("nan"))
