"""The air of one cooler, reading by reading: how long it has been rising above its level.

A rise begins where the air passes the level, or turns up again after it had turned down:
air that a running machine pulls down turns, air in a dead cooler goes on. What is known
after some readings does not depend on how they were packed.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Final, NamedTuple

import numpy as np

from monitor.watch.events import Times, Values
from monitor.watch.warming.habits import DAY_MS, Habits, Rise, habits_after
from monitor.watch.warming.working import KEPT_DAYS, Harder, Worked, harder_after, worked

_GAP_MS: Final = 30 * 60_000
_MEANT_MS: Final = 2 * DAY_MS  # above the level for so long: the dial is meant
_LEAST_TURN_K, _TURN_NOISES, _TURN_SHARE = 0.25, 3.0, 0.08
_LEAST_BACK_K, _BACK_NOISES = 0.15, 1.5
Holds = Sequence[tuple[int, int]]
_NO_VALUES: Values = np.empty(0, dtype=np.float64)
_NO_TIMES: Times = np.empty(0, dtype=np.int64)


class Rising(NamedTuple):
    """A stay above the level that still lasts at the newest reading.

    ``from_ms`` is where the present rise began, ``top_ms`` where the air was highest in
    it; while ``turned`` it is falling from there, and ``foot`` is the lowest since.
    ``rose_ms`` is the longest rise so far, ``broken`` says that readings are missing.
    """

    began_ms: int
    level_c: float
    noise_k: float
    rise_ms: int
    above_ms: int
    from_ms: int
    top_ms: int
    top_c: float
    peak_c: float
    turned: bool = False
    foot_ms: int = 0
    foot_c: float = 0.0
    rose_ms: int = 0
    broken: bool = False
    raised_ms: int | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Warming:
    """What one channel's air has taught, and how it stands; ``day`` counts UTC days.

    ``worked`` is how the machine worked day by day, ``harder`` that it does so harder now.
    """

    habits: Habits = field(default_factory=Habits)
    day: int | None = None
    air_c: Values = field(default_factory=_NO_VALUES.copy)
    rises: tuple[Rise, ...] = ()
    last_ms: int | None = None
    rising: Rising | None = None
    over: "Over | None" = None  # the last one that was told of
    at_ms: Times = field(default_factory=_NO_TIMES.copy)
    worked: tuple[Worked | None, ...] = ()
    harder: Harder | None = None

    def moved(self, by_ms: int) -> "Warming":
        """Return it with what lasts moved along with a clock that was set. [ms]"""
        last_ms = None if self.last_ms is None else self.last_ms + by_ms
        rising = _moved(self.rising, by_ms)
        return replace(self, last_ms=last_ms, rising=rising, at_ms=self.at_ms + by_ms)

    @property
    def told(self) -> Rising | None:
        """Return the rise that is told of, while the air is above its level."""
        if self.rising is None or self.rising.raised_ms is None:
            return None
        return self.rising


def _moved(rising: Rising | None, by_ms: int) -> Rising | None:
    if rising is None:
        return None
    raised_ms = None if rising.raised_ms is None else rising.raised_ms + by_ms
    return rising._replace(
        began_ms=rising.began_ms + by_ms, from_ms=rising.from_ms + by_ms,
        top_ms=rising.top_ms + by_ms, foot_ms=rising.foot_ms + by_ms, raised_ms=raised_ms,
    )  # fmt: skip


class Over(NamedTuple):
    """A rise that was told of and is over: when it was raised, and when the air was back. [ms]"""

    rising: Rising
    back_ms: int


class Seen(NamedTuple):
    """After a pack: how it stands, when something was raised or over, and what is over."""

    warming: Warming
    edges_ms: tuple[int, ...] = ()
    ended: tuple[Over, ...] = ()


def newborn() -> Warming:
    """Return what is known of a cooler that was never heard."""
    return Warming()


def advance(before: Warming, at_ms: Times, value: Values, holds: Holds = ()) -> Seen:
    """Take readings in strictly increasing time order, all newer than the last. [ms], [°C]

    A rise that begins while the cooler is loaded (``holds``: from, until) teaches nothing.
    """
    now = before
    edges: list[int] = []
    ended: list[Over] = []
    days = at_ms // DAY_MS
    cuts = [0, *(np.flatnonzero(days[1:] != days[:-1]) + 1).tolist(), len(at_ms)]
    for first, last in pairwise(cuts):
        if first == last:
            continue
        lasting, harder = now.rising, now.harder
        now = _new_day(now, int(days[first]))
        if (now.harder is None) != (harder is None):
            edges.append(int(at_ms[first]))
        work = _Fold(now, holds)
        if lasting is not None and now.rising is None and lasting.raised_ms is not None:
            work.give_up(lasting, int(at_ms[first]))
        work.take(at_ms[first:last], value[first:last])
        edges += work.edges_ms
        ended += work.ended
        now = Warming(
            now.habits, now.day, np.concatenate((now.air_c, value[first:last])),
            (*now.rises, *work.rises), int(at_ms[last - 1]), work.rising,
            work.ended[-1] if work.ended else now.over,
            np.concatenate((now.at_ms, at_ms[first:last])), now.worked, now.harder,
        )  # fmt: skip
    return Seen(now, tuple(edges), tuple(ended))


def _new_day(now: Warming, day: int) -> Warming:
    if now.day is None:
        return replace(now, day=day)
    if day <= now.day:
        return now
    habits = habits_after(now.habits, day * DAY_MS, now.air_c, now.rises)
    rising = now.rising
    if rising is not None and day * DAY_MS - rising.began_ms > _MEANT_MS:
        rising = None
    lately = (*now.worked, worked(now.at_ms, now.air_c))[-KEPT_DAYS:]
    return replace(
        now, habits=habits, day=day, air_c=_NO_VALUES, at_ms=_NO_TIMES, rises=(), rising=rising,
        worked=lately, harder=harder_after(now.harder, lately, day * DAY_MS),
    )  # fmt: skip


class _Fold:
    """The readings of one day, one after the other; calm ones are passed over at once."""

    def __init__(self, before: Warming, holds: Holds) -> None:
        self._holds = holds
        self._habits = before.habits
        self._today = before.rises
        self._last_ms = before.last_ms
        self.rising = before.rising
        self.rises: list[Rise] = []
        self.ended: list[Over] = []
        self.edges_ms: list[int] = []

    def take(self, at_ms: Times, value: Values) -> None:
        """Take readings in order."""
        level_c = self._habits.level_c
        high = np.flatnonzero(value >= level_c) if level_c is not None else np.empty(0, np.int64)
        times, values, at = at_ms.tolist(), value.tolist(), 0
        while at < len(times):
            if self.rising is None:
                ahead = int(np.searchsorted(high, at))
                if ahead == high.size:
                    return
                at = int(high[ahead])
                self.rising = self._begun(times[at], values[at])
            before_ms = times[at - 1] if at else self._last_ms
            self._step(self.rising, times[at], values[at], before_ms)
            at += 1

    def _begun(self, at_ms: int, value: float) -> Rising:
        habits = self._habits
        allowed = habits.allowed(at_ms, (*self._today, *self.rises))
        return Rising(
            at_ms, habits.level_c or value, habits.noise_k, allowed.rise_ms, allowed.above_ms,
            at_ms, at_ms, value, value,
        )  # fmt: skip

    def _step(self, was: Rising, at_ms: int, value: float, before_ms: int | None) -> None:
        """Take one reading while the air is above the level."""
        gap = before_ms is not None and at_ms > was.began_ms and at_ms - before_ms > _GAP_MS
        if gap and was.raised_ms is None:
            self.rising = None
            if self._habits.level_c is not None and value >= self._habits.level_c:
                self.rising = self._begun(at_ms, value)
            return
        if value < was.level_c - max(_LEAST_BACK_K, _BACK_NOISES * was.noise_k):
            self._over(was, at_ms)
            return
        now = _risen(was, at_ms, value)._replace(broken=was.broken or gap)
        if now.raised_ms is None and not self._habits.learning and _unusual(now, at_ms):
            now = now._replace(raised_ms=at_ms)
            self.edges_ms.append(at_ms)
        self.rising = now

    def give_up(self, was: Rising, at_ms: int) -> None:
        """End what was told of a stay so long that the dial must be meant."""
        self.edges_ms.append(at_ms)
        self.ended.append(Over(was, at_ms))

    def _over(self, was: Rising, at_ms: int) -> None:
        """End a stay: a reading is back under the level."""
        held = any(begin <= was.began_ms < end for begin, end in self._holds)
        if not was.broken and not held:
            self.rises.append(
                Rise(was.began_ms, was.rose_ms, at_ms - was.began_ms, was.raised_ms is not None)
            )
        if was.raised_ms is not None:
            self.give_up(was, at_ms)
        self.rising = None


def _risen(was: Rising, at_ms: int, value: float) -> Rising:
    """Return how a stay above the level goes on."""
    least_k = max(_LEAST_TURN_K, _TURN_NOISES * was.noise_k)
    peak_c = max(was.peak_c, value)
    if was.turned:
        if value < was.foot_c:
            return was._replace(foot_ms=at_ms, foot_c=value)
        if value - was.foot_c < least_k:
            return was
        return was._replace(
            turned=False, from_ms=was.foot_ms, top_ms=at_ms, top_c=value, peak_c=peak_c,
            rose_ms=max(was.rose_ms, at_ms - was.foot_ms),
        )  # fmt: skip
    if value > was.top_c:
        rose_ms = max(was.rose_ms, at_ms - was.from_ms)
        return was._replace(top_ms=at_ms, top_c=value, peak_c=peak_c, rose_ms=rose_ms)
    if was.top_c - value >= least_k + _TURN_SHARE * (was.top_c - was.level_c):
        return was._replace(turned=True, foot_ms=at_ms, foot_c=value)
    return was


def _unusual(now: Rising, at_ms: int) -> bool:
    """Return whether the air rises, or stays above, for longer than it ever did."""
    rising = not now.turned and now.top_ms - now.from_ms >= now.rise_ms
    return rising or at_ms - now.began_ms >= now.above_ms
