"""Readings of one channel taken into its track: screened, sorted, judged by each line."""

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from monitor.model import Flag
from monitor.watch.events import Samples, Times, Values
from monitor.watch.judging import advance as advance_line
from monitor.watch.judging import untouched
from monitor.watch.late import mend
from monitor.watch.nearing import Course, Steered, steer
from monitor.watch.plan import ChannelPlan, Line
from monitor.watch.segments import steps
from monitor.watch.state import Newest, Shown, Spell, Standing, Track
from monitor.watch.tail import longer
from monitor.watch.trust import Trust
from monitor.watch.trust import after as trust_after
from monitor.watch.warming import Seen, advance

UNTRUSTED: Final = int(Flag.SUSPECT | Flag.TIME_UNCERTAIN)
ABSENT: Final = int(Flag.IMPORTED)
UNIT_SUSPECT: Final = int(Flag.UNIT_SUSPECT)
DEVICE_TIME: Final = int(Flag.DEVICE_TIME)


@dataclass(frozen=True, slots=True)
class Taken:
    """A track after a pack, and the spells that ended within it, each with its line."""

    track: Track
    ended: tuple[tuple[Line, Spell], ...] = ()
    turned: bool = False  # something that is told ahead of a limit began, or is over


def new_track(plan: ChannelPlan) -> Track:
    """Return the track of a channel that was never heard."""
    return Track(
        standings=tuple(Standing() for _ in plan.lines),
        courses=tuple(Course() for _ in plan.aheads),
    )


def take(track: Track, plan: ChannelPlan, pack: Samples, *, lag_ms: int = 0) -> Taken:
    """Take a pack into a track.

    Imported readings are history: they are left out. Suspect readings and those of
    uncertain time are shown and judge nothing. Older samples never move the newest; they
    may only complete what is known of a run that still lasts. ``lag_ms`` is how far
    the sensor's clock is behind, where it is slow.
    """
    flags = np.asarray(pack.flags)
    at_ms, value = pack.at_ms, pack.value
    here = np.isfinite(value) & ((flags & ABSENT) == 0)
    if not here.all():
        at_ms, value, flags = at_ms[here], value[here], flags[here]
    if not at_ms.size:
        return Taken(track)
    shown = _shown(track.shown, at_ms, value, flags)
    trusted = (flags & UNTRUSTED) == 0
    if not trusted.all():
        at_ms, value, flags = at_ms[trusted], value[trusted], flags[trusted]
    at_ms, value, flags = _in_order(at_ms, value, flags)
    if track.newest is not None and at_ms.size and at_ms[0] <= track.newest.at_ms:
        split = int(np.searchsorted(at_ms, track.newest.at_ms, side="right"))
        track = mend(track, plan, at_ms[:split], value[:split])
        at_ms, value, flags = at_ms[split:], value[split:], flags[split:]
    if not at_ms.size:
        return Taken(track if shown is track.shown else replace(track, shown=shown))
    return _advanced(track, plan, shown, lag_ms, (at_ms, value, flags))


def since(pack: Samples, from_ms: int) -> Samples:
    """Return the part of a pack from a time on: what was before is not its place's. [ms]"""
    chosen = pack.at_ms >= from_ms
    if chosen.all():
        return pack
    return Samples(
        pack.channel, pack.at_ms[chosen], pack.value[chosen], pack.flags[chosen], pack.received_ms
    )


def trusted_in_order(pack: Samples) -> tuple[Times, Values]:
    """Return the samples of a pack that may judge, sorted, one a time."""
    at_ms, value, _ = _trusted(pack)
    return at_ms, value


def trust_in(pack: Samples) -> Trust:
    """Return the half hours that the readings of a pack make, as if each had been taken."""
    ordered = _trusted(pack)
    return trust_after(Trust(), *ordered) if ordered[0].size else Trust()


def _trusted(pack: Samples) -> tuple[Times, Values, Times]:
    flags = np.asarray(pack.flags)
    trusted = np.isfinite(pack.value) & ((flags & (UNTRUSTED | ABSENT)) == 0)
    return _in_order(pack.at_ms[trusted], pack.value[trusted], flags[trusted])


def _shown(before: Shown | None, at_ms: Times, value: Values, flags: Times) -> Shown | None:
    """Return the newest value there is; the first of two of one time stands."""
    last = int(at_ms.argmax())
    newest_ms = int(at_ms[last])
    if before is not None and newest_ms <= before.at_ms:
        return before
    return Shown(newest_ms, float(value[last]), not int(flags[last]) & UNTRUSTED)


def _in_order(at_ms: Times, value: Values, flags: Times) -> tuple[Times, Values, Times]:
    """Sort a pack by time; of equal times the first stands: a repeat is no second sample."""
    if at_ms.size <= 1 or bool((at_ms[1:] > at_ms[:-1]).all()):
        return at_ms, value, flags
    times, first = np.unique(at_ms, return_index=True)
    return times, value[first], flags[first]


def _advanced(
    track: Track,
    plan: ChannelPlan,
    shown: Shown | None,
    lag_ms: int,
    columns: tuple[Times, Values, Times],
) -> Taken:
    """Judge samples that are all newer than the newest, in order."""
    at_ms, value, flags = columns
    last_ms, last_flags = int(at_ms[-1]), int(flags[-1])
    low, high = float(value.min()), float(value.max())
    standings, quiet = track.standings, track.quiet
    ended: tuple[tuple[Line, Spell], ...] = ()
    if not (quiet and plan.quiet_above < low and high < plan.quiet_below):
        standings, ended = _by_every_line(track, plan, at_ms, value)
        quiet = all(each.run is None and each.spell is None for each in standings)
    seen = Seen(track.warming)
    if plan.early:
        seen = advance(track.warming, at_ms, value, plan.loadings)
    steered = _steered(track, plan, at_ms, value)
    tail_ms, tail_value = longer(track.tail_ms, track.tail_value, at_ms, value)
    after = Track(
        standings=standings,
        shown=shown,
        newest=Newest(last_ms, float(value[-1])),
        first_ms=int(at_ms[0]) if track.first_ms is None else track.first_ms,
        known_ms=track.known_ms + _known_ms(track.newest, at_ms, plan.gap_ms),
        fresh_ms=max(track.fresh_ms, last_ms + lag_ms),
        unit_suspect=bool(last_flags & UNIT_SUSPECT),
        device_time=bool(last_flags & DEVICE_TIME),
        quiet=quiet,
        tail_ms=tail_ms,
        tail_value=tail_value,
        warming=seen.warming,
        trust=trust_after(track.trust, at_ms, value, flags),
        courses=tuple(each.course for each in steered),
    )
    return Taken(after, ended, bool(seen.edges_ms or any(each.edges_ms for each in steered)))


def _steered(track: Track, plan: ChannelPlan, at_ms: Times, value: Values) -> list[Steered]:
    """Return how the channel heads for each limit that is told ahead."""
    tail, pack = (track.tail_ms, track.tail_value), (at_ms, value)
    ways = zip(track.courses, plan.aheads, strict=True)
    return [steer(course, ahead, tail, pack) for course, ahead in ways]


def _by_every_line(
    track: Track, plan: ChannelPlan, at_ms: Times, value: Values
) -> tuple[tuple[Standing, ...], tuple[tuple[Line, Spell], ...]]:
    """Return the standings after a pack, and the spells that ended within it."""
    joined = track.newest is not None
    if track.newest is not None:
        at_ms = np.concatenate((np.array([track.newest.at_ms], dtype=np.int64), at_ms))
        value = np.concatenate((np.array([track.newest.value]), value))
    low, high = float(value.min()), float(value.max())
    way = steps(at_ms, plan.gap_ms)
    standings: list[Standing] = []
    ended: list[tuple[Line, Spell]] = []
    for line, before in zip(plan.lines, track.standings, strict=True):
        if untouched(before, line, low, high):
            standings.append(before)
            continue
        if line.since_ms is not None and at_ms[0] < line.since_ms:
            after, spells = _of_stay(before, line, at_ms, value, plan.gap_ms)
        else:
            after, spells = advance_line(before, line, way, value, plan.gap_ms, joined=joined)
        standings.append(after)
        ended += [(line, spell) for spell in spells]
    return tuple(standings), tuple(ended)


def _of_stay(
    before: Standing, line: Line, at_ms: Times, value: Values, gap_ms: int
) -> tuple[Standing, tuple[Spell, ...]]:
    """Judge by a line that bounds a stay which began within the pack, or after it."""
    start = int(np.searchsorted(at_ms, line.since_ms or 0))
    if start == at_ms.size:
        return before, ()
    way = steps(at_ms[start:], gap_ms)
    return advance_line(before, line, way, value[start:], gap_ms, joined=False)


def _known_ms(newest: Newest | None, at_ms: Times, gap_ms: int) -> int:
    within = 0
    if at_ms.size > 1:
        span = at_ms[1:] - at_ms[:-1]
        within = int(span[span <= gap_ms].sum())
    if newest is None or at_ms[0] - newest.at_ms > gap_ms:
        return within
    return within + int(at_ms[0]) - newest.at_ms
