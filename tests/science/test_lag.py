"""What the contents feel, over steps, series and gaps."""

import itertools

import numpy as np
import pytest

from monitor.errors import OutOfRangeError
from monitor.science import lag
from monitor.science.series import Samples

MINUTE_MS = 60_000


def _minutes(values: list[float], gap_after: int | None = None) -> Samples:
    at_ms = np.arange(len(values), dtype=np.int64) * MINUTE_MS
    if gap_after is not None:
        at_ms[gap_after + 1 :] += 60 * MINUTE_MS
    return Samples(at_ms, np.array(values), 180.0)


def test_a_long_step_does_not_overshoot() -> None:
    """Four time constants in one step end just short of the air, as physics does."""
    assert 9.8 < float(lag.held_step_c(2.0, 10.0, 3600.0, 900.0)) < 10.0


def test_a_series_is_its_steps_one_by_one() -> None:
    """The vectorised recursion gives what stepping through the readings gives."""
    values = [4.0, 4.5, 9.0, 3.0, 3.5, 8.0, 2.0]
    stepped = [3.0]
    for before, after in itertools.pairwise(values):
        stepped.append(float(lag.linear_step_c(stepped[-1], before, after, 60.0, 900.0)))
    np.testing.assert_allclose(lag.follow(_minutes(values), 900.0, 3.0).value_c, stepped)


def test_after_a_gap_the_contents_are_unknown_again() -> None:
    """Across a gap nothing is carried over: contents start from the air, unsettled."""
    lasting = lag.follow(_minutes([4.0] * 5 + [20.0] * 5, gap_after=4), 7200.0, start_c=4.0)
    assert lasting.value_c[4:].tolist() == pytest.approx([4.0] + [20.0] * 5)
    followed = lag.follow(_minutes([4.0] * 5 + [20.0] * 5, gap_after=4), 60.0, start_c=4.0)
    assert followed.settled[:5].all()
    assert followed.settled[5:].tolist() == [False, False, False, True, True]


def test_an_unknown_start_settles_after_three_time_constants() -> None:
    """Without a known start the first three time constants are marked as unsettled."""
    followed = lag.follow(_minutes([5.0] * 10), 120.0)
    assert followed.settled.tolist() == [False] * 6 + [True] * 4


def test_no_readings_give_no_contents() -> None:
    """An empty series is followed by an empty one; one reading by itself."""
    assert lag.follow(_minutes([]), 900.0).value_c.size == 0
    one = lag.follow(_minutes([6.0]), 900.0)
    assert one.value_c.tolist() == [6.0]
    assert one.settled.tolist() == [False]


def test_impossible_lags_are_refused() -> None:
    """A time constant, a step or a share out of range is an error."""
    with pytest.raises(OutOfRangeError, match="tau is 0"):
        lag.follow(_minutes([1.0]), 0.0)
    with pytest.raises(OutOfRangeError, match="step is -1"):
        lag.held_step_c(2.0, 10.0, -1.0, 900.0)
    with pytest.raises(OutOfRangeError, match="step is 0"):
        lag.linear_step_c(2.0, 2.0, 10.0, 0.0, 900.0)
    with pytest.raises(OutOfRangeError, match="share is 1"):
        lag.time_to_share_s(1.0, 900.0)
