"""The last hours of a channel: for its trend, and for packs that come late."""

from typing import Final

import numpy as np

from monitor.watch.events import Times, Values

TAIL_MS: Final = 6 * 3_600_000
TAIL_SAMPLES: Final = 1024
TREND_MS: Final = 30 * 60_000
_LEAST_SAMPLES: Final = 4
_LEAST_SPAN_MS: Final = 10 * 60_000


def longer(tail_ms: Times, tail_value: Values, at_ms: Times, value: Values) -> tuple[Times, Values]:
    """Return a tail lengthened by newer samples and cut to its last six hours.

    What is kept depends on the samples alone, not on how they were packed.
    """
    if at_ms.size < TAIL_SAMPLES:
        at_ms = np.concatenate((tail_ms, at_ms))
        value = np.concatenate((tail_value, value))
    start = max(
        int(np.searchsorted(at_ms, at_ms[-1] - TAIL_MS, side="right")), at_ms.size - TAIL_SAMPLES
    )
    if not start:
        return at_ms, value
    return at_ms[start:].copy(), value[start:].copy()  # a view would hold all of the pack


def trend_per_h(tail_ms: Times, tail_value: Values) -> float | None:
    """Return the slope of the last half hour by least squares, or None on too little.

    Returns
    -------
    float or None
        [K/h or %/h]
    """
    if not tail_ms.size:
        return None
    first = int(np.searchsorted(tail_ms, tail_ms[-1] - TREND_MS, side="right"))
    at_ms, value = tail_ms[first:], tail_value[first:]
    if at_ms.size < _LEAST_SAMPLES or at_ms[-1] - at_ms[0] < _LEAST_SPAN_MS:
        return None
    hours = (at_ms - at_ms[0]) / 3_600_000.0
    centred = hours - hours.sum() / hours.size
    return float(centred @ value / (centred @ centred))
