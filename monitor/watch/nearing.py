"""Air that heads for a harm limit in a straight line: told before it is passed.

A closed tunnel in the sun, and a sprouting room whose heater has died, pass their limits
by what the last hour shows. A limit is tolerated for hours, so the alarm of the limit itself
comes long after the harm began. What is known after some readings does not depend on how
they were packed.

References
----------
Least squares over an hour (any text on regression; from memory). The figures were tuned on
simulated farms, seeds 1 to 8, and checked on two measured tunnels (``tests/outside``).
"""

from dataclasses import dataclass, replace
from typing import Final, NamedTuple

import numpy as np

from monitor.watch.events import Times, Values
from monitor.watch.plan import Ahead
from monitor.watch.tail import TAIL_SAMPLES

_DAY_MS: Final = 86_400_000
_HOUR_MS: Final = 3_600_000
WINDOW_MS: Final = _HOUR_MS
_LEAST_SPAN_MS: Final = 42 * 60_000
_LEAST_SAMPLES: Final = 4
_MOST_GAP_MS: Final = 20 * 60_000
_SLACK: Final = 3.0  # a line over an hour is no steeper than so many times what it climbed
_EARLIER: Final = 0.2  # of the way in the hour's first half: a door opened just now does less
_WAIT_MS: Final = 2 * _HOUR_MS  # after one that is over
_TURNED_K: Final = 2.0  # come back so far, it is over
_RANGE: Final = (0.7, 2.4)  # of the straight line's time: holds seven in ten measured mornings


class Toward(NamedTuple):
    """Air on its way to a limit: since when, when told, its furthest, and when it passes.

    Times in [ms], ``peak`` in [°C], ``per_h`` in [K/h].
    """

    began_ms: int
    raised_ms: int
    peak: float
    past_from_ms: int = 0
    past_until_ms: int = 0
    per_h: float = 0.0

    def moved(self, by_ms: int) -> "Toward":
        """Return it moved along with a clock that was set. [ms]"""
        return self._replace(
            began_ms=self.began_ms + by_ms, raised_ms=self.raised_ms + by_ms,
            past_from_ms=self.past_from_ms + by_ms, past_until_ms=self.past_until_ms + by_ms,
        )  # fmt: skip


class Turned(NamedTuple):
    """One that is over: what it was, and when the air had turned back. [ms]"""

    toward: Toward
    back_ms: int


@dataclass(frozen=True, slots=True)
class Course:
    """How one channel heads for its limit; ``over`` is the last that ended."""

    toward: Toward | None = None
    over: Turned | None = None

    def moved(self, by_ms: int) -> "Course":
        """Return it moved along with a clock that was set. [ms]"""
        toward = None if self.toward is None else self.toward.moved(by_ms)
        over = self.over
        if over is not None:
            over = Turned(over.toward.moved(by_ms), over.back_ms + by_ms)
        return Course(toward, over)


class Steered(NamedTuple):
    """The course after a pack, and at which of its readings one began or ended. [ms]"""

    course: Course
    edges_ms: tuple[int, ...] = ()


def steer(
    course: Course, ahead: Ahead, tail: tuple[Times, Values], pack: tuple[Times, Values]
) -> Steered:
    """Take readings that are all newer than a channel's tail, in order. [ms], [°C]"""
    first = tail[0].size
    at_ms, value = (np.concatenate(pair) for pair in zip(tail, pack, strict=True))
    height = ahead.line.sign * value
    low = np.maximum(
        np.searchsorted(at_ms, at_ms - WINDOW_MS), np.arange(at_ms.size) - TAIL_SAMPLES + 1
    )
    likely = np.flatnonzero(_likely(ahead, at_ms, height, low))
    edges: list[int] = []
    at = first
    while at < at_ms.size:
        if course.toward is None:
            found = _next(course, ahead, (at_ms, height), low, likely[likely >= at])
            if found is None:
                break
            at, toward = found
            course = replace(course, toward=toward)
        else:
            back, toward = _back(course.toward, ahead, at_ms, height, at)
            if back is None:
                return Steered(replace(course, toward=toward), tuple(edges))
            at = back
            course = Course(None, Turned(toward, int(at_ms[at])))
        edges.append(int(at_ms[at]))
        at += 1
    return Steered(course, tuple(edges))


def _likely(
    ahead: Ahead, at_ms: Times, height: Values, low: Times
) -> "np.ndarray[tuple[int], np.dtype[np.bool_]]":
    """Return which readings are worth a closer look: near enough, and on the way."""
    left = ahead.line.sign * ahead.line.limit - height
    span_h = (at_ms - at_ms[low]) / _HOUR_MS
    gone = height - height[low]
    near = (left > 0.0) & (left <= ahead.within_k) & (gone >= 0.5 * ahead.least_k_h * span_h)
    soon = left * span_h <= _SLACK * gone * ahead.ahead_ms / _HOUR_MS
    return near & soon & (span_h * _HOUR_MS >= _LEAST_SPAN_MS) & (at_ms < latest_ms(ahead, at_ms))


def latest_ms(ahead: Ahead, at_ms: Times) -> Times:
    """Return the last moment of each one's solar day at which passing the limit harms. [ms]"""
    if ahead.noon_ms is None:
        return at_ms + _DAY_MS
    day = (at_ms - ahead.noon_ms + _DAY_MS // 2) // _DAY_MS
    return day * _DAY_MS + ahead.noon_ms - ahead.before_ms


def _next(
    course: Course, ahead: Ahead, seen: tuple[Times, Values], low: Times, likely: Times
) -> tuple[int, Toward] | None:
    """Return at which reading it is told next, None where at none."""
    at_ms, height = seen
    free_ms = -(2**62) if course.over is None else course.over.back_ms + _WAIT_MS
    for at in likely[at_ms[likely] >= free_ms].tolist():
        window = slice(int(low[at]), at + 1)
        toward = _heads(ahead, at_ms[window], height[window])
        if toward is not None:
            return at, toward
    return None


def _heads(ahead: Ahead, at_ms: Times, height: Values) -> Toward | None:
    """Return how the last of these readings heads for the limit, None where it does not."""
    if at_ms.size < _LEAST_SAMPLES or np.diff(at_ms).max() > _MOST_GAP_MS:
        return None
    now_ms = int(at_ms[-1])
    hours = (at_ms - now_ms) / _HOUR_MS
    apart = hours - hours.mean()
    per_h = float((apart * height).sum() / (apart * apart).sum())
    half = int(np.searchsorted(at_ms, now_ms - WINDOW_MS // 2))
    steady = height[half] - height[0] >= _EARLIER * (height[-1] - height[0])
    if per_h < ahead.least_k_h or not steady:
        return None
    here = max(float(height.mean() - per_h * hours.mean()), float(height[-1]))
    left_ms = (ahead.line.sign * ahead.line.limit - here) / per_h * _HOUR_MS
    if left_ms > ahead.ahead_ms or now_ms + left_ms > latest_ms(ahead, at_ms[-1:])[0]:
        return None
    sign = ahead.line.sign
    early, late = (now_ms + round(max(share * left_ms, 0.0)) for share in _RANGE)
    return Toward(int(at_ms[0]), now_ms, sign * float(height[-1]), early, late, sign * per_h)


def _back(
    toward: Toward, ahead: Ahead, at_ms: Times, height: Values, first: int
) -> tuple[int | None, Toward]:
    """Return at which reading it has turned back, None where it has not, and how it stands."""
    sign = ahead.line.sign
    peak = np.maximum.accumulate(np.append(sign * toward.peak, height[first:]))[1:]
    inside = height[first:] < sign * ahead.line.limit - ahead.line.deadband
    after = at_ms[first:] > toward.raised_ms
    back = np.flatnonzero(after & inside & (peak - height[first:] >= _TURNED_K))
    last = int(back[0]) if back.size else peak.size - 1
    toward = toward._replace(peak=sign * float(peak[last]))
    return (first + last if back.size else None), toward
