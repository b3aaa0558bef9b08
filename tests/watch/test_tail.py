"""The last hours of a channel, as the trend needs them."""

import numpy as np

from monitor.watch.tail import TAIL_SAMPLES, longer
from tests.watch.made import MINUTE_MS, START_MS


def test_a_tail_holds_its_own_samples_alone() -> None:
    """Six hours cut from a pack of days do not keep the days in memory."""
    at_ms = START_MS + np.arange(7 * 1_440) * MINUTE_MS
    none = np.empty(0, np.int64), np.empty(0)
    times, values = longer(*none, at_ms, np.linspace(1.0, 8.0, at_ms.size))
    assert times.size == values.size == 360 < TAIL_SAMPLES
    assert times.base is None
    assert values.base is None
    assert times[-1] == at_ms[-1]
