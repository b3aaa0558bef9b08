"""What a chart draws: buckets with low, high and mean, from whatever is fine enough."""

from typing import Final

import numpy as np

from monitor.model import Flag
from monitor.store.records import Drawn, Ints, Series, Summaries, Width

SLACK: Final = 1.5
"""How many more points than asked for a chart may get, rather than twice too few."""


def summary_for(since_ms: int, until_ms: int, points: int) -> Width | None:
    """Return the summary to draw from, None where the readings themselves are needed."""
    bucket_ms = (until_ms - since_ms) / max(points, 1) * SLACK
    if bucket_ms >= Width.EIGHT_HOURS.value:
        return Width.EIGHT_HOURS
    return Width.HOUR if bucket_ms >= Width.HOUR.value else None


def from_series(series: Series, since_ms: int, until_ms: int, points: int) -> Drawn:
    """Draw readings: each as it is where they are few, else by buckets of equal width."""
    timed = (series.flags & int(Flag.TIME_UNCERTAIN)) == 0
    at_ms, raw = series.at_ms[timed], series.raw[timed]
    if len(at_ms) <= points * SLACK:
        return Drawn(at_ms, raw, raw, raw, np.ones(len(raw), np.int64), 0)
    width_ms = max(1, -(-(until_ms - since_ms) // max(points, 1)))
    buckets = (at_ms - since_ms) // width_ms
    begins = _begins(buckets)
    n = np.diff(np.append(begins, len(raw)))
    return Drawn(
        since_ms + buckets[begins] * width_ms,
        np.minimum.reduceat(raw, begins),
        np.maximum.reduceat(raw, begins),
        np.add.reduceat(raw, begins) / n,
        n,
        width_ms,
    )


def from_summaries(rows: Summaries, width: Width, span_ms: int, points: int) -> Drawn:
    """Draw summaries, several to a bucket where the span is long."""
    several = max(1, int(span_ms / width.value / (max(points, 1) * SLACK)) + 1)
    width_ms = width.value * several
    if several == 1 or not len(rows.n):
        return Drawn(rows.start_ms, rows.low, rows.high, rows.mean, rows.n, width_ms)
    buckets = rows.start_ms // width_ms
    begins = _begins(buckets)
    n = np.add.reduceat(rows.n, begins)
    return Drawn(
        buckets[begins] * width_ms,
        np.minimum.reduceat(rows.low, begins),
        np.maximum.reduceat(rows.high, begins),
        np.add.reduceat(rows.mean * rows.n, begins) / n,
        n,
        width_ms,
    )


def _begins(buckets: Ints) -> Ints:
    return np.flatnonzero(np.append(True, np.diff(buckets) != 0))
