"""A sensor in melting ice; the figures are worked out by hand."""

import numpy as np
import pytest

from monitor.science.ice_point import IcePoint, ice_point

NOW_MS = 1_795_600_000_000


def read(*values_c: float, every_s: float = 60.0, ago_s: float = 0.0) -> IcePoint | None:
    """Return what values that end some time ago say."""
    back = np.arange(len(values_c) - 1, -1, -1) * every_s + ago_s
    at_ms = (NOW_MS - back * 1000).astype(np.int64)
    return ice_point(at_ms, np.array(values_c), NOW_MS, every_s)


def test_the_median_of_the_last_minutes_counts() -> None:
    """One odd figure moves nothing, and what was before the ice is not looked at."""
    found = read(20.0, 15.0, 0.4, 0.3, 0.4, 0.3, 0.4)
    assert found is not None
    assert found.median_c == pytest.approx(0.4)
    assert (found.n, found.steady) == (5, True)
    assert found.spread_k == pytest.approx(0.1)


@pytest.mark.parametrize(
    ("values_c", "every_s", "ago_s"),
    [
        ((3.0, 2.0, 1.2, 0.8, 0.5), 60.0, 0.0),  # still falling
        ((0.3, 0.3), 60.0, 0.0),  # too few to tell
        ((0.3, 0.3, 0.3, 0.3, 0.3), 60.0, 200.0),  # nothing of now
    ],
)
def test_what_is_not_steady_says_so(
    values_c: tuple[float, ...], every_s: float, ago_s: float
) -> None:
    """Falling, too few, or old: no offset is to be taken from it without a second word."""
    found = read(*values_c, every_s=every_s, ago_s=ago_s)
    assert found is not None
    assert not found.steady


def test_a_sensor_that_speaks_seldom_is_waited_for() -> None:
    """With ten minutes between them three readings take half an hour."""
    found = read(9.0, 0.2, 0.1, 0.2, 0.2, every_s=600.0)
    assert found is not None
    assert (found.n, found.steady) == (4, True)


def test_without_a_reading_there_is_nothing_to_say() -> None:
    """No reading, or only old ones."""
    assert read() is None
    assert read(0.1, 0.1, 0.1, ago_s=4000.0) is None
