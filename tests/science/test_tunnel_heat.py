"""When a tunnel passes its limit, told in the morning."""

import numpy as np
import pytest

from monitor.errors import OutOfRangeError
from monitor.science import tunnel_heat
from monitor.science.checking import Floats
from monitor.science.series import Samples
from monitor.science.tunnel_heat import GRID_STEPS, Basis


def _day(peak_k: float, foot_c: float = 5.0) -> Floats:
    """Return a sunny day: half a sine over twelve hours from sunrise."""
    return foot_c + peak_k * np.sin(np.pi * np.arange(GRID_STEPS) / GRID_STEPS)


def _until(course: Floats, step: int) -> Floats:
    known = course.copy()
    known[step + 1 :] = np.nan
    return known


PAST = np.stack([_day(peak) for peak in (14.0, 16.0, 18.0, 20.0, 22.0, 24.0)])


def test_the_own_past_days_tell_when() -> None:
    """Two hours after sunrise a day like the past ones is timed to minutes."""
    today = _day(20.0, 7.0)
    found = tunnel_heat.passing(_until(today, 12), PAST, 21.0)
    assert found is not None
    assert found.basis is Basis.OWN_DAYS
    truth = float(np.interp(21.0, today[:36], np.arange(36) / 6.0))
    assert found.early_h <= truth + 0.05
    assert found.late_h >= truth - 0.05
    assert found.middle_h == pytest.approx(truth, abs=0.1)
    assert found.chance == 1.0


def test_a_limit_beyond_todays_climb_is_never_passed() -> None:
    """A weak sun stretches the past days to under the limit: the answer is never."""
    found = tunnel_heat.passing(_until(_day(16.0), 12), PAST, 27.0)
    assert found is not None
    assert found.middle_h == float("inf")
    assert found.chance is not None
    assert found.chance < 0.5


def test_without_past_days_the_climb_alone_speaks_and_says_so() -> None:
    """Fewer than five like days leave a straight line with a wide range."""
    found = tunnel_heat.passing(_until(_day(20.0), 12), PAST[:3], 20.0)
    assert found is not None
    assert (found.basis, found.chance, found.days) == (Basis.CLIMB_ALONE, None, 0)
    assert found.early_h < found.middle_h < found.late_h


def test_before_the_climb_nothing_is_said() -> None:
    """At sunrise, on a dull morning, over the limit or once it falls, there is no answer."""
    assert tunnel_heat.passing(_until(_day(20.0), 1), PAST, 20.0) is None
    assert tunnel_heat.passing(_until(np.full(GRID_STEPS, 5.0), 20), PAST, 20.0) is None
    assert tunnel_heat.passing(_until(_day(20.0), 30), PAST[:0], 20.0) is None
    assert tunnel_heat.passing(_until(_day(20.0), 50), PAST[:0], 26.0) is None
    assert tunnel_heat.passing(np.full(GRID_STEPS, np.nan), PAST, 20.0) is None


def test_unknown_days_are_left_out() -> None:
    """Past days with gaps at this hour do not count, and raise no warning."""
    holes = PAST.copy()
    holes[:, 10:20] = np.nan
    found = tunnel_heat.passing(_until(_day(20.0), 12), holes, 20.0)
    assert found is not None
    assert found.basis is Basis.CLIMB_ALONE
    blank = np.full((8, GRID_STEPS), np.nan)
    assert tunnel_heat.passing(_until(_day(20.0), 12), blank, 20.0) is not None


def test_a_course_is_read_every_ten_minutes_from_sunrise() -> None:
    """Readings become a course; what has not come yet stays unknown."""
    at_ms = np.arange(31, dtype=np.int64) * 120_000
    course = tunnel_heat.day_course_c(Samples(at_ms, np.arange(31) / 5.0, 600.0), 0)
    assert course.shape == (GRID_STEPS,)
    assert course[:7].tolist() == pytest.approx([0, 1, 2, 3, 4, 5, 6])
    assert np.isnan(course[7:]).all()


def test_courses_of_another_shape_are_refused() -> None:
    """A course has seventy-two steps."""
    with pytest.raises(OutOfRangeError, match="72 steps"):
        tunnel_heat.passing(np.zeros(5), PAST, 20.0)
    with pytest.raises(OutOfRangeError, match="72 steps"):
        tunnel_heat.passing(np.zeros(GRID_STEPS), np.zeros(GRID_STEPS), 20.0)
