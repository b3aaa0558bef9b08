"""What the watch knows: frozen, replaced at each step, sharing what did not change.

All times and sums are whole milliseconds, so that sums do not depend on how readings
were packed together: a replayed state equals the uninterrupted one to the last digit.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np

from monitor.model import AlarmKey, Channel, Quantity
from monitor.watch.events import Times, Values
from monitor.watch.nearing import Course
from monitor.watch.plan import LineKey, WatchPlan
from monitor.watch.trust import Doubt, Trust
from monitor.watch.warming import Warming

_NO_TIMES: Times = np.empty(0, dtype=np.int64)
_NO_VALUES: Values = np.empty(0, dtype=np.float64)


@dataclass(frozen=True, slots=True)
class Run:
    """A run outside one line that still lasts at the newest sample.

    ``began_ms`` is the crossing, ``known_ms`` the time really known to be outside (gaps
    are not), ``area`` the degree-milliseconds beyond the limit [K·ms or %·ms], ``peak``
    the most extreme value.
    """

    began_ms: int
    known_ms: int
    area: int
    peak: float

    def spell(self, at_ms: int) -> "Spell":
        """Return the spell that a run becomes when it has outlasted what is tolerated."""
        unknown_ms = at_ms - self.began_ms - self.known_ms
        return Spell(self.began_ms, at_ms, self.known_ms, self.area, self.peak, unknown_ms)


@dataclass(frozen=True, slots=True)
class Spell:
    """A line outside for its whole tolerated time, until it has really returned.

    ``back_ms`` is the last crossing back inside the limit, ``hold_ms`` since when the
    value is past the limit by the deadband; each None while it is not. ``unknown_ms`` is
    the time within it that no reading covers.
    """

    began_ms: int
    raised_ms: int
    known_ms: int
    area: int
    peak: float
    unknown_ms: int = 0
    back_ms: int | None = None
    hold_ms: int | None = None
    ended_ms: int | None = None


@dataclass(frozen=True, slots=True)
class Standing:
    """How one channel stands against one line; ``last`` is the spell that ended last.

    ``whole_ms`` and ``whole_area`` sum every run since the line was first judged (since
    the stay began, for a bound on a stay); ``told_times`` counts how often the bound was
    passed.
    """

    inside_since_ms: int | None = None
    run: Run | None = None
    spell: Spell | None = None
    last: Spell | None = None
    whole_ms: int = 0
    whole_area: int = 0
    told_times: int = 0


@dataclass(frozen=True, slots=True)
class Shown:
    """The newest value there is, trusted or not."""

    at_ms: int
    value: float
    trusted: bool


class Newest(NamedTuple):
    """The newest trusted sample."""

    at_ms: int
    value: float


@dataclass(frozen=True, slots=True, eq=False)
class Track:
    """One channel's past, as far as judging needs it.

    ``fresh_ms`` is when it was last heard of; ``known_ms`` the time covered since
    ``first_ms``; the tail holds the last hours, for the trend and for late packs.
    ``standings`` follow the plan's lines, one each. ``device_time``: the newest sample bears
    the sensor's own time; ``quiet``: no line was crossed.
    """

    standings: tuple[Standing, ...]
    shown: Shown | None = None
    newest: Newest | None = None
    first_ms: int | None = None
    known_ms: int = 0
    fresh_ms: int = 0
    unit_suspect: bool = False
    device_time: bool = False
    quiet: bool = False
    tail_ms: Times = field(default_factory=_NO_TIMES.copy)
    tail_value: Values = field(default_factory=_NO_VALUES.copy)
    warming: Warming = field(default_factory=Warming)
    trust: Trust = field(default_factory=Trust)
    courses: tuple[Course, ...] = ()  # as the plan's ``aheads``


@dataclass(frozen=True, slots=True)
class Heard:
    """When a sensor was last heard, and how old its samples usually are on arrival.

    ``afresh_ms`` is since when its silence counts, where something else had kept it from
    being heard; ``healed`` its silences that ended by themselves: when, and how long. [ms]
    """

    live_ms: int | None
    received_ms: int
    lag_ms: int
    afresh_ms: int | None = None
    healed: tuple[tuple[int, int], ...] = ()


@dataclass(frozen=True, slots=True)
class Told:
    """An alarm that was told and has not returned.

    ``cause`` is the alarm that explains a silence, so that it is expected; ``members`` the
    sensors that a common cause was first seen by, ``high`` whether that alarm wakes;
    ``usual`` says that it is expected: a cooler's habit or a loading explains it;
    ``doubt`` what of a sensor is doubted, and why.
    """

    began_ms: int
    raised_ms: int
    cause: AlarmKey | None = None
    members: tuple[str, ...] = ()
    high: bool = False
    usual: bool = False
    doubt: tuple[Quantity, str] | None = None


@dataclass(frozen=True, slots=True, eq=False)
class WatchState:
    """Everything that was learned from events so far.

    Silence counts from ``started_ms`` at the earliest: since then sensors could be heard.
    ``deaf_ms`` is since when there is no broker; ``doubts`` are the channels in doubt as
    they were last looked at, at ``looked_ms``; ``posted`` is since when each sensor hangs where
    it does, 0 where it always did: what it told before is not its place's. [ms]
    """

    plan: WatchPlan
    now_ms: int
    started_ms: int
    tracks: Mapping[Channel, Track]
    heard: Mapping[str, Heard]
    told: Mapping[AlarmKey, Told]
    deaf_ms: int | None = None
    doubts: Mapping[Channel, Doubt] = field(default_factory=dict)
    looked_ms: int = 0
    posted: Mapping[str, int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Excursion:
    """A harmful run that was already over when it was first seen: history, no alarm."""

    channel: Channel
    place: str
    line: LineKey
    spell: Spell
