"""Time spent outside a limit: how long, how far, when, and by which rule too long.

All of it runs over straight lines between samples (see ``series``): crossings are
exact to the line, and unknown time is neither in nor out.

References
----------
The limit value itself counts as outside, and limits have a consecutive and a cumulative
time: WHO PQS E006/TR07, by way of a secondary source. Trapezoids and triangles: exact
integrals of straight lines.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np

from monitor.model.band import Side
from monitor.science.checking import Flags, Floats, Ints
from monitor.science.series import (
    Extremes,
    Samples,
    clip,
    coverage,
    extremes,
    mean,
    unknown_spans,
    value_at,
)

__all__ = [
    "BandExposure", "Excursion", "Excursions", "Extremes", "RuleBreak", "Samples",
    "band_exposure", "clip", "coverage", "degree_hours", "excursions", "extremes", "mean",
    "rule_break", "time_outside_s", "unknown_spans", "value_at",
]  # fmt: skip

_HOUR_S: Final = 3600.0


class Excursion(NamedTuple):
    """One run of known time outside a limit.

    ``began`` and ``ended`` say that the crossing was seen; otherwise the run is cut by a
    gap or by the end of the samples and may have lasted longer. Degree-hours are
    [unit of the value times h].
    """

    from_ms: int
    until_ms: int
    side: Side
    limit: float
    peak: float
    peak_at_ms: int
    duration_s: float
    degree_hours: float
    began: bool
    ended: bool


@dataclass(frozen=True, slots=True)
class Excursions:
    """All runs outside one limit as columns, each of shape (k,), in time order."""

    side: Side
    limit: float
    from_ms: Floats
    until_ms: Floats
    peak: Floats
    peak_at_ms: Ints
    degree_hours: Floats
    began: Flags
    ended: Flags

    def __len__(self) -> int:
        return len(self.from_ms)

    @property
    def duration_s(self) -> Floats:
        """Return the length of each run. [s]"""
        return np.asarray((self.until_ms - self.from_ms) / 1000.0)

    @property
    def longest_s(self) -> float:
        """Return the length of the longest run, 0 without any. [s]"""
        return float(self.duration_s.max(initial=0.0))

    def __iter__(self) -> Iterator[Excursion]:
        lasted_s = self.duration_s
        for k in range(len(self)):
            yield Excursion(
                round(float(self.from_ms[k])), round(float(self.until_ms[k])), self.side,
                self.limit, float(self.peak[k]), int(self.peak_at_ms[k]), float(lasted_s[k]),
                float(self.degree_hours[k]), bool(self.began[k]), bool(self.ended[k]),
            )  # fmt: skip


def _beyond(samples: Samples, side: Side, limit: float) -> Floats:
    """Return how far each sample lies beyond a limit, negative inside it."""
    over = samples.value - limit
    return np.asarray(over if side is Side.HIGH else -over)


def _outside_share(over: Floats, limit_is_out: bool) -> Floats:
    """Return the share of each step spent outside, shape (n-1,)."""
    positive = np.maximum(over, 0.0)
    top = np.maximum(positive[1:], positive[:-1])
    span = np.abs(over[1:] - over[:-1])
    level = span == 0.0
    share = np.minimum(top / np.where(level, 1.0, span), 1.0)
    share[level] = over[:-1][level] >= 0.0 if limit_is_out else over[:-1][level] > 0.0
    return np.asarray(share)


def _degree_seconds(over: Floats, step_s: Floats) -> Floats:
    """Return the area beyond the limit in each step, shape (n-1,)."""
    positive = np.maximum(over, 0.0)
    height = (positive[1:] + positive[:-1]) / 2.0
    crossed = (over[1:] >= 0.0) != (over[:-1] >= 0.0)
    cut = 2.0 * height[crossed]  # one end lies inside: a triangle, not a trapezoid
    height[crossed] = cut * cut / (2.0 * np.abs(over[1:] - over[:-1])[crossed])
    return np.asarray(height * step_s)


def time_outside_s(
    samples: Samples, side: Side, limit: float, *, limit_is_out: bool = True
) -> float:
    """Return the known time outside a limit. [s]

    ``limit_is_out`` says whether lying exactly on the limit counts as outside.
    """
    share = _outside_share(_beyond(samples, side, limit), limit_is_out)
    return float((share * samples.step_s)[samples.joined].sum())


def degree_hours(samples: Samples, side: Side, limit: float) -> float:
    """Return the area beyond a limit over the known time. [unit of the value times h]"""
    area = _degree_seconds(_beyond(samples, side, limit), samples.step_s)
    return float(area[samples.joined].sum()) / _HOUR_S


def _crossings_ms(samples: Samples, over: Floats) -> Floats:
    """Return where each step meets the limit, shape (n-1,); only used where it does. [ms]"""
    rise = over[1:] - over[:-1]
    share = -over[:-1] / np.where(rise == 0.0, 1.0, rise)
    return np.asarray(samples.at_ms[:-1] + share * np.diff(samples.at_ms))


def _run_peaks(over: Floats, out: Flags, first: Ints) -> Ints:
    """Return the sample of the furthest value in each run, the earliest of equals."""
    outside = np.flatnonzero(out)
    starts = np.searchsorted(outside, first)
    far = np.maximum.reduceat(over[outside], starts)
    run = np.searchsorted(first, outside, side="right") - 1
    hits = outside[over[outside] == far[run]]
    return np.asarray(hits[np.searchsorted(hits, first)], dtype=np.int64)


def _run_areas(area: Floats, first: Ints, last: Ints) -> Floats:
    """Return each run's area: its own steps and the two it crosses the limit in."""
    padded = np.concatenate([[0.0], area, [0.0, 0.0]])
    bounds = np.stack([first, last + 2], axis=1).ravel()
    return np.asarray(np.add.reduceat(padded, bounds)[::2])


def excursions(
    samples: Samples, side: Side, limit: float, *, limit_is_out: bool = True
) -> Excursions:
    """Return every run of known time outside a limit.

    A gap ends a run and the next sample may begin another: what happened between is
    unknown. A single sample outside, alone between gaps, is a run that lasts no known
    time. ``limit_is_out`` says whether lying exactly on the limit counts as outside.
    """
    over = _beyond(samples, side, limit)
    out = over >= 0.0 if limit_is_out else over > 0.0
    joined = samples.joined
    linked = joined & out[1:] & out[:-1]
    first = np.flatnonzero(out & ~np.concatenate([[False], linked])[: len(out)])
    last = np.flatnonzero(out & ~np.concatenate([linked, [False]])[: len(out)])
    area = np.where(joined, _degree_seconds(over, samples.step_s), 0.0)
    crossing = np.concatenate([[0.0], _crossings_ms(samples, over), [0.0]])
    seen = np.concatenate([[False], joined, [False]])
    began, ended = seen[first], seen[last + 1]
    peak = _run_peaks(over, out, first) if len(first) else first
    return Excursions(
        side,
        limit,
        np.where(began, crossing[first], samples.at_ms[first]),
        np.where(ended, crossing[last + 1], samples.at_ms[last]),
        samples.value[peak],
        samples.at_ms[peak],
        _run_areas(area, first, last) / _HOUR_S if len(first) else np.zeros(0),
        began,
        ended,
    )


class RuleBreak(NamedTuple):
    """When a rule was broken, UTC [ms]; None where it held in the known time."""

    consecutive_ms: int | None
    cumulative_ms: int | None


def rule_break(
    runs: Excursions, tolerated_s: float, cumulative_s: float | None = None
) -> RuleBreak:
    """Return the first moment outside for too long at a stretch, and in sum.

    A stretch of exactly the tolerated time breaks the rule, as the limit value does.
    Unknown time adds nothing: the rule may have been broken unseen.

    Parameters
    ----------
    runs : Excursions
        Of one limit.
    tolerated_s : float
        Time tolerated at a stretch. [s]
    cumulative_s : float, optional
        Time tolerated in sum. [s]
    """
    lasted_s = runs.duration_s
    long = np.flatnonzero(lasted_s >= tolerated_s)
    stretch = round(float(runs.from_ms[long[0]]) + tolerated_s * 1000.0) if long.size else None
    if cumulative_s is None:
        return RuleBreak(stretch, None)
    total_s = np.cumsum(lasted_s)
    k = int(np.searchsorted(total_s, cumulative_s))
    if k == len(runs):
        return RuleBreak(stretch, None)
    left_s = cumulative_s - (float(total_s[k - 1]) if k else 0.0)
    return RuleBreak(stretch, round(float(runs.from_ms[k]) + left_s * 1000.0))


class BandExposure(NamedTuple):
    """Known time inside and outside a band, and how far outside.

    Times are [s], degree-hours [unit of the value times h].
    """

    known_s: float
    inside_s: float
    below_s: float
    above_s: float
    below_degree_hours: float
    above_degree_hours: float

    @property
    def inside_share(self) -> float | None:
        """Return the share of the known time inside the band; None where none is known."""
        return self.inside_s / self.known_s if self.known_s > 0.0 else None


def band_exposure(
    samples: Samples, low: float | None, high: float | None, *, limit_is_out: bool = False
) -> BandExposure:
    """Return the time inside, below and above a band; a limit may be open (None).

    For an ideal band the limit itself is inside, the default here; for harm it is out.
    """
    below_s = above_s = below = above = 0.0
    if low is not None:
        below_s = time_outside_s(samples, Side.LOW, low, limit_is_out=limit_is_out)
        below = degree_hours(samples, Side.LOW, low)
    if high is not None:
        above_s = time_outside_s(samples, Side.HIGH, high, limit_is_out=limit_is_out)
        above = degree_hours(samples, Side.HIGH, high)
    known_s = samples.known_s
    inside_s = max(0.0, known_s - below_s - above_s)
    return BandExposure(known_s, inside_s, below_s, above_s, below, above)
