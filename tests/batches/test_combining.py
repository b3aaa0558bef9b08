"""Two sensors in one place, told as one."""

import numpy as np
import pytest

from monitor.batches.combining import Course, SensorSeries, combine
from monitor.model import Quantity
from monitor.science.series import Samples

MINUTE_MS = 60_000


def series(sensor: str, minutes: list[float], values: list[float], gap_s: float) -> SensorSeries:
    """Return a sensor's samples at minutes."""
    at_ms = np.array([int(each * MINUTE_MS) for each in minutes], np.int64)
    return SensorSeries(
        sensor, Quantity.TEMPERATURE, Samples(at_ms, np.array(values, float), gap_s)
    )


def told(*sensors: SensorSeries) -> Course:
    """Return what sensors tell of the first ten minutes."""
    return combine(sensors, 0, 10 * MINUTE_MS)


def test_one_sensor_is_its_own_course() -> None:
    """A lone sensor's samples stand as they are; a long gap is not known."""
    course = told(series("north", [0, 1, 5], [2.0, 3.0, 4.0], 120))
    assert course.samples.value.tolist() == [2.0, 3.0, 4.0]
    assert course.samples.joined.tolist() == [True, False]
    assert course.sensors == ("north",)
    assert course.disagreement is None


def test_two_sensors_are_their_mean_and_their_distance_is_told() -> None:
    """At each sample of either the mean of both stands, by the straight line between samples."""
    course = told(
        series("north", [0, 2], [2.0, 4.0], 180), series("south", [0, 1, 2], [4.0, 4.0, 6.0], 90)
    )
    assert course.samples.at_ms.tolist() == [0, MINUTE_MS, 2 * MINUTE_MS]
    assert course.samples.value.tolist() == [3.0, 3.5, 5.0]
    assert course.samples.joined.tolist() == [True, True]
    assert course.disagreement is not None
    assert course.disagreement.largest == 2.0
    assert course.disagreement.largest_at_ms == 0
    assert course.disagreement.mean == pytest.approx((2 + 1 + 2) / 3)


def test_a_sensor_that_fell_silent_leaves_the_other_to_tell() -> None:
    """In one sensor's silence, and at a lone sample amid it, the other stands alone."""
    north = series("north", [0, 1, 2, 3], [2.0, 2.0, 2.0, 2.0], 60)
    south = series("south", [0, 9, 10], [6.0, 6.0, 6.0], 60)
    course = told(north, south)
    assert (course.samples.at_ms // MINUTE_MS).tolist() == [0, 1, 2, 3, 9, 10]
    assert course.samples.value.tolist() == [2.0, 2.0, 2.0, 2.0, 6.0, 6.0]
    assert course.samples.joined.tolist() == [True, True, True, False, True]
    assert course.samples.known_s == 240.0


def test_each_sensor_keeps_its_own_allowed_gap() -> None:
    """A quick sensor's long gap stays unknown beside a slow one that is silent."""
    quick = series("quick", [0, 1, 6, 7], [2.0, 2.0, 2.0, 2.0], 60)
    slow = series("slow", [0, 1], [2.0, 2.0], 600)
    assert told(quick, slow).samples.joined.tolist() == [True, False, True]


def test_a_course_is_cut_to_its_period_by_the_line() -> None:
    """The ends of a period are interpolated where they are known."""
    course = combine([series("north", [0, 2], [2.0, 4.0], 180)], MINUTE_MS, 10 * MINUTE_MS)
    assert course.samples.at_ms.tolist() == [MINUTE_MS, 2 * MINUTE_MS]
    assert course.samples.value.tolist() == [3.0, 4.0]


def test_no_samples_are_an_empty_course() -> None:
    """A place with no sensor, or a silent one, tells nothing."""
    empty = told(series("north", [], [], 60))
    assert empty.samples.at_ms.size == 0
    assert empty.samples.known_s == 0.0
    assert empty.sensors == ()
    assert told().disagreement is None


def test_a_single_sample_knows_no_time() -> None:
    """One reading is a moment, not a span."""
    course = told(series("north", [3], [2.0], 60))
    assert course.samples.value.tolist() == [2.0]
    assert course.samples.known_s == 0.0
