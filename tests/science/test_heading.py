"""Where a quantity is heading: by what it did in the last day."""

import numpy as np
import pytest

from monitor.errors import OutOfRangeError
from monitor.science.heading import heading
from monitor.science.series import Samples

MINUTE_MS = 60_000
DAY = np.arange(0, 24 * 60, 2, dtype=np.int64)


def _day(value: np.ndarray, gap_s: float = 600.0) -> Samples:
    return Samples(DAY * MINUTE_MS, value, gap_s)


def test_what_stands_still_stays() -> None:
    """A constant is told to be itself, without width."""
    told = heading(_day(np.full(DAY.size, 4.0)))
    assert told is not None
    assert tuple(told) == pytest.approx((4.0, 4.0, 4.0))


def test_a_straight_line_goes_on() -> None:
    """A steady climb of half a degree an hour is half a degree higher in an hour."""
    told = heading(_day(10.0 + DAY / 120.0))
    assert told is not None
    assert told.middle == pytest.approx(10.0 + DAY[-1] / 120.0 + 0.5)
    assert told.high - told.low == pytest.approx(0.0, abs=1e-9)


def test_a_restless_room_gets_a_wide_answer() -> None:
    """The interval of independent noise is its own tenth to ninth tenth of a difference."""
    noise = np.random.default_rng(5).normal(0.0, 1.0, DAY.size)
    restless, calm = heading(_day(4.0 + noise)), heading(_day(4.0 + noise / 10.0))
    assert restless is not None
    assert calm is not None
    assert restless.high - restless.low == pytest.approx(10.0 * (calm.high - calm.low))
    assert restless.low <= restless.middle <= restless.high


@pytest.mark.parametrize("count", [0, 1, 40])
def test_too_little_known_tells_nothing(count: int) -> None:
    """An hour of readings, or none, is no past to judge by."""
    assert heading(Samples(DAY[:count] * MINUTE_MS, np.ones(count), 600.0)) is None


def test_nothing_is_guessed_across_a_gap() -> None:
    """Readings that only just came back after a long silence have no present trend."""
    known = np.concatenate((np.arange(DAY.size - 300), np.arange(DAY.size - 5, DAY.size)))
    past = Samples(DAY[known] * MINUTE_MS, np.ones(known.size), 600.0)
    assert heading(past) is None


def test_no_time_ahead_is_refused() -> None:
    """Nothing lies ahead in no time."""
    with pytest.raises(OutOfRangeError, match="ahead"):
        heading(_day(np.ones(DAY.size)), 0.0)
