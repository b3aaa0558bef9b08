"""Two sensors in one place, told as one."""

import numpy as np
import pytest

from monitor.batches.combining import SensorSeries, combine
from monitor.model import Quantity

MINUTE_MS = 60_000


def series(sensor: str, minutes: list[float], values: list[float], gap_s: float) -> SensorSeries:
    """Return a sensor's samples at minutes."""
    at_ms = np.array([int(each * MINUTE_MS) for each in minutes], np.int64)
    return SensorSeries(sensor, Quantity.TEMPERATURE, at_ms, np.array(values, float), gap_s)


def test_one_sensor_is_its_own_course() -> None:
    """A lone sensor's samples stand as they are; a long gap is not known."""
    course = combine([series("north", [0, 1, 5], [2.0, 3.0, 4.0], 120)])
    assert course.value.tolist() == [2.0, 3.0, 4.0]
    assert course.known.tolist() == [True, False]
    assert course.sensors == ("north",)
    assert course.disagreement is None


def test_two_sensors_are_their_mean_and_their_distance_is_told() -> None:
    """At each sample of either the mean of both stands, by the straight line between samples."""
    course = combine(
        [series("north", [0, 2], [2.0, 4.0], 180), series("south", [0, 1, 2], [4.0, 4.0, 6.0], 90)]
    )
    assert course.at_ms.tolist() == [0, MINUTE_MS, 2 * MINUTE_MS]
    assert course.value.tolist() == [3.0, 3.5, 5.0]
    assert course.known.tolist() == [True, True]
    assert course.disagreement is not None
    assert course.disagreement.largest == 2.0
    assert course.disagreement.largest_at_ms == 0
    assert course.disagreement.mean == pytest.approx((2 + 1 + 2) / 3)


def test_a_sensor_that_fell_silent_leaves_the_other_to_tell() -> None:
    """In one sensor's silence, and at a lone sample amid it, the other stands alone."""
    north = series("north", [0, 1, 2, 3], [2.0, 2.0, 2.0, 2.0], 60)
    south = series("south", [0, 9, 10], [6.0, 6.0, 6.0], 60)
    course = combine([north, south])
    assert (course.at_ms // MINUTE_MS).tolist() == [0, 1, 2, 3, 9, 10]
    assert course.value.tolist() == [2.0, 2.0, 2.0, 2.0, 6.0, 6.0]
    assert course.known.tolist() == [True, True, True, False, True]


def test_no_samples_are_an_empty_course() -> None:
    """A place with no sensor, or a silent one, tells nothing."""
    empty = combine([series("north", [], [], 60)])
    assert empty.at_ms.size == 0
    assert empty.known.size == 0
    assert empty.sensors == ()
    assert combine([]).disagreement is None


def test_a_single_sample_knows_no_time() -> None:
    """One reading is a moment, not a span."""
    course = combine([series("north", [3], [2.0], 60)])
    assert course.value.tolist() == [2.0]
    assert course.known.size == 0
