"""Readings of one channel taken into its track: screened, sorted, judged by each line."""

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from monitor.model import Flag
from monitor.watch.events import Samples, Times, Values
from monitor.watch.judging import advance
from monitor.watch.late import mend
from monitor.watch.plan import ChannelPlan, Line
from monitor.watch.state import Newest, Shown, Spell, Standing, Track
from monitor.watch.tail import longer

UNTRUSTED: Final = int(Flag.SUSPECT | Flag.TIME_UNCERTAIN)
ABSENT: Final = int(Flag.IMPORTED)


@dataclass(frozen=True, slots=True)
class Taken:
    """A track after a pack, and the spells that ended within it, each with its line."""

    track: Track
    ended: tuple[tuple[Line, Spell], ...] = ()


def new_track(plan: ChannelPlan) -> Track:
    """Return the track of a channel that was never heard."""
    return Track(standings=tuple(Standing() for _ in plan.lines))


def take(track: Track, plan: ChannelPlan, pack: Samples, *, lag_ms: int = 0) -> Taken:
    """Take a pack into a track.

    Imported readings are history: they are left out. Suspect readings and those of
    uncertain time are shown and judge nothing. Older samples never move the newest; they
    may only complete what is known of a run that still lasts. ``lag_ms`` is how far
    the sensor's clock is behind, where it is slow.
    """
    flags = np.asarray(pack.flags)
    at_ms, value = pack.at_ms, pack.value
    if flags.any():
        here = (flags & ABSENT) == 0
        at_ms, value, flags = at_ms[here], value[here], flags[here]
    if not at_ms.size:
        return Taken(track)
    track = _show(track, at_ms, value, flags)
    trusted = np.isfinite(value) & ((flags & UNTRUSTED) == 0)
    if not trusted.all():
        at_ms, value, flags = at_ms[trusted], value[trusted], flags[trusted]
    if not at_ms.size:
        return Taken(track)
    return _judge(track, plan, lag_ms, _in_order(at_ms, value, flags))


def _show(track: Track, at_ms: Times, value: Values, flags: Times) -> Track:
    """Show the newest value there is; the first of two of one time stands."""
    last = int(at_ms.argmax())
    if track.shown is not None and at_ms[last] <= track.shown.at_ms:
        return track
    sound = bool(np.isfinite(value[last])) and not int(flags[last]) & UNTRUSTED
    return replace(track, shown=Shown(int(at_ms[last]), float(value[last]), trusted=sound))


def trusted_in_order(pack: Samples) -> tuple[Times, Values]:
    """Return the samples of a pack that may judge, sorted, one a time."""
    flags = np.asarray(pack.flags)
    trusted = np.isfinite(pack.value) & ((flags & (UNTRUSTED | ABSENT)) == 0)
    at_ms, value, _ = _in_order(pack.at_ms[trusted], pack.value[trusted], flags[trusted])
    return at_ms, value


def _in_order(at_ms: Times, value: Values, flags: Times) -> tuple[Times, Values, Times]:
    """Sort a pack by time; of equal times the first stands: a repeat is no second sample."""
    if at_ms.size <= 1 or bool((np.diff(at_ms) > 0).all()):
        return at_ms, value, flags
    times, first = np.unique(at_ms, return_index=True)
    return times, value[first], flags[first]


def _judge(
    track: Track, plan: ChannelPlan, lag_ms: int, columns: tuple[Times, Values, Times]
) -> Taken:
    at_ms, value, flags = columns
    newest = track.newest
    if newest is not None and at_ms[0] <= newest.at_ms:
        split = int(np.searchsorted(at_ms, newest.at_ms, side="right"))
        track = mend(track, plan, at_ms[:split], value[:split])
        at_ms, value, flags = at_ms[split:], value[split:], flags[split:]
        if not at_ms.size:
            return Taken(track)
    track = replace(
        track,
        fresh_ms=max(track.fresh_ms, int(at_ms[-1]) + lag_ms),
        unit_suspect=bool(int(flags[-1]) & Flag.UNIT_SUSPECT),
        device_time=bool(int(flags[-1]) & Flag.DEVICE_TIME),
    )
    return _advance(track, plan, at_ms, value)


def _advance(track: Track, plan: ChannelPlan, at_ms: Times, value: Values) -> Taken:
    """Judge samples that are all newer than the newest."""
    tail_ms, tail_value = longer(track.tail_ms, track.tail_value, at_ms, value)
    moved = replace(
        track,
        newest=Newest(int(at_ms[-1]), float(value[-1])),
        first_ms=int(at_ms[0]) if track.first_ms is None else track.first_ms,
        known_ms=track.known_ms + _known_ms(track.newest, at_ms, plan.gap_ms),
        tail_ms=tail_ms,
        tail_value=tail_value,
    )
    if track.quiet and plan.quiet_above < value.min() and value.max() < plan.quiet_below:
        return Taken(moved)
    return _by_every_line(moved, track.newest, plan, at_ms, value)


def _by_every_line(
    track: Track, newest: Newest | None, plan: ChannelPlan, at_ms: Times, value: Values
) -> Taken:
    if newest is not None:
        at_ms = np.concatenate((np.array([newest.at_ms], dtype=np.int64), at_ms))
        value = np.concatenate((np.array([newest.value]), value))
    standings, ended = [], []
    for line, before in zip(plan.lines, track.standings, strict=True):
        after, spells = _by_line(before, line, at_ms, value, plan.gap_ms, joined=newest is not None)
        standings.append(after)
        ended += [(line, spell) for spell in spells]
    quiet = all(each.run is None and each.spell is None for each in standings)
    return Taken(replace(track, standings=tuple(standings), quiet=quiet), tuple(ended))


def _by_line(
    before: Standing, line: Line, at_ms: Times, value: Values, gap_ms: int, *, joined: bool
) -> tuple[Standing, tuple[Spell, ...]]:
    """Judge by one line, which may bound a stay that began within the pack."""
    if line.since_ms is not None and at_ms[0] < line.since_ms:
        start = int(np.searchsorted(at_ms, line.since_ms))
        at_ms, value, joined = at_ms[start:], value[start:], False
    if not at_ms.size:
        return before, ()
    return advance(before, line, at_ms, value, gap_ms, joined=joined)


def _known_ms(newest: Newest | None, at_ms: Times, gap_ms: int) -> int:
    span = np.diff(at_ms)
    within = int(span[span <= gap_ms].sum())
    if newest is None or at_ms[0] - newest.at_ms > gap_ms:
        return within
    return within + int(at_ms[0]) - newest.at_ms
