"""Stored readings cut into as few packs as tell the same as one reading at a time.

What can be told, and when, hangs on the readings outside a harm limit until that is told,
on those by which it may return, and on the moments when a sensor has been silent for too
long. Everything between may be taken at once: it changes sums, and tells nothing.
"""

from collections.abc import Callable, Collection, Iterator
from typing import Final

import numpy as np

from monitor.model import AlarmKey, AlarmKind, Flag, Quantity
from monitor.watch import Samples, WatchState
from monitor.watch.dark import LIT, MAINS_MS
from monitor.watch.doors import AJAR, OPEN_MS
from monitor.watch.events import Times
from monitor.watch.hearing import look_after_ms
from monitor.watch.nearing import steer
from monitor.watch.plan import ChannelPlan
from monitor.watch.taking import trusted_in_order
from monitor.watch.warming import advance

_NOT_LIVE: Final = int(Flag.TIME_UNCERTAIN | Flag.IMPORTED)
_MARGIN: Final = 1e-6  # nearer than this to the deadband's end may be past it [K or %]


def cut(pack: Samples, first: int, last: int) -> Samples:
    """Return part of a pack, received when its last reading was taken."""
    at_ms = pack.at_ms[first:last]
    return Samples(
        pack.channel, at_ms, pack.value[first:last], pack.flags[first:last], int(at_ms[-1])
    )


def parts(pack: Samples, state: Callable[[], WatchState]) -> Iterator[Samples]:
    """Yield a channel's readings, singly where it matters, in long packs elsewhere.

    Parameters
    ----------
    pack : Samples
        In increasing order of time, judged by one plan.
    state : Callable
        Gives the state that has taken every part yielded so far.
    """
    now = state()
    ahead = _Ahead(now.plan.channels[pack.channel], pack, _turns(now, pack))
    at = 0
    while at < len(pack.at_ms):
        until = at + 1 if at == 0 else max(at + 1, ahead.free(state(), at))
        yield cut(pack, at, until)
        at = until


def _turns(state: WatchState, pack: Samples) -> Times:
    """Return at which readings what is told ahead of a limit begins, or is over. [ms]"""
    plan, track = state.plan.channels[pack.channel], state.tracks[pack.channel]
    if plan.early is None and not plan.aheads:
        return np.empty(0, dtype=np.int64)
    at_ms, value = trusted_in_order(pack)
    if plan.aheads:
        newer = at_ms > (track.newest.at_ms if track.newest is not None else -(2**62))
        tail = track.tail_ms, track.tail_value
        edges = [
            steer(course, ahead, tail, (at_ms[newer], value[newer])).edges_ms
            for course, ahead in zip(track.courses, plan.aheads, strict=True)
        ]
        return np.array(sorted({at for each in edges for at in each}), dtype=np.int64)
    warming = track.warming
    newer = at_ms > (warming.last_ms if warming.last_ms is not None else -(2**62))
    return np.array(
        advance(warming, at_ms[newer], value[newer], plan.loadings).edges_ms, dtype=np.int64
    )


class _Ahead:
    """Where the next reading stands that must be taken singly."""

    def __init__(self, plan: ChannelPlan, pack: Samples, turns_ms: Times) -> None:
        self._plan = plan
        self._count = len(pack.at_ms)
        other = (pack.flags & _NOT_LIVE) != 0
        if plan.channel.quantity in {Quantity.MAINS, Quantity.DOOR}:
            other |= np.diff(pack.value, prepend=np.nan) != 0
        other[int(other.argmin())] = True  # the first that says something of now
        self._other = np.flatnonzero(other | np.isin(pack.at_ms, turns_ms))
        heights = [line.sign * (pack.value - line.limit) for line in plan.lines]
        self._beyond = [np.flatnonzero(height >= 0.0) for height in heights]
        self._back = [
            np.flatnonzero(height <= _MARGIN - line.deadband)
            for line, height in zip(plan.lines, heights, strict=True)
        ]

    def free(self, state: WatchState, at: int) -> int:
        """Return up to which reading nothing can be told of the channel, from one on."""
        kinds = dict.fromkeys(line.kind for line in self._plan.lines if line.kind is not None)
        ends = [self._of_kind(state, kind, at) for kind in kinds]
        return min((self._next(self._other, at), *ends))

    def _of_kind(self, state: WatchState, kind: AlarmKind, at: int) -> int:
        """Return how far all stays inside; or, once told, how far it surely stays outside."""
        standings = state.tracks[self._plan.channel].standings
        mine = [
            (number, standing)
            for number, standing in enumerate(standings)
            if self._plan.lines[number].kind is kind
        ]
        if all(standing.run is None and standing.spell is None for _, standing in mine):
            return min(self._next(self._beyond[number], at) for number, _ in mine)
        told = state.told.get(AlarmKey(kind, self._plan.place))
        if told is None or told.usual:
            return at
        lasting = [number for number, standing in mine if standing.spell is not None]
        return max((self._next(self._back[number], at) for number in lasting), default=at)

    def _next(self, found: Times, at: int) -> int:
        place = int(np.searchsorted(found, at))
        return int(found[place]) if place < found.size else self._count


def _went_out(pack: Samples) -> list[int]:
    """Return when the power went out by a channel of it. [ms]"""
    if pack.channel.quantity is not Quantity.MAINS:
        return []
    began: list[int] = pack.at_ms[_begins(pack.value < LIT)].tolist()
    return began


def _begins(on: "np.ndarray[tuple[int], np.dtype[np.bool_]]") -> Times:
    """Return where each run of what is on begins."""
    return np.flatnonzero(on & ~np.append(False, on[:-1]))


def doors_left_open(packs: Collection[Samples]) -> list[int]:
    """Return at which readings a door opened that was not seen shut within its time. [ms]"""
    found: set[int] = set()
    for pack in packs:
        if pack.channel.quantity is not Quantity.DOOR:
            continue
        apart = pack.value >= AJAR
        opened_ms = pack.at_ms[_begins(apart)]
        shut_ms = np.append(pack.at_ms[~apart], 2**62)
        until_ms = shut_ms[np.searchsorted(shut_ms, opened_ms)]
        found |= set(opened_ms[until_ms - opened_ms >= OPEN_MS].tolist())
    return sorted(found)


def silences(
    state: WatchState, packs: Collection[Samples], start_ms: int, end_ms: int
) -> list[int]:
    """Return when a sensor has been silent for too long, from a start to before an end. [ms]

    Parameters
    ----------
    state : WatchState
        At the start: it says when each sensor was last heard before.
    packs : Iterable[Samples]
        All readings from the start to the end.
    start_ms, end_ms : int
        The span. [ms]
    """
    heard: dict[str, list[Times]] = {}
    for pack in packs:
        live = pack.at_ms[(pack.flags & _NOT_LIVE) == 0]
        heard.setdefault(pack.channel.sensor, []).append(live)
    found: set[int] = {at_ms + MAINS_MS for pack in packs for at_ms in _went_out(pack)}
    back: set[int] = set()
    for sensor in state.plan.sensors.values():
        before = state.heard.get(sensor.id)
        if before is not None and before.live_ms is not None:
            heard.setdefault(sensor.id, []).append(np.array([before.live_ms], np.int64))
        times = np.sort(np.concatenate(heard.get(sensor.id, [np.empty(0, np.int64)])))
        due_ms = times + sensor.silent_after_ms
        missed = np.append(due_ms[:-1] < times[1:], True)[: times.size]
        silent = set(due_ms[missed].tolist())
        found |= silent | {at_ms + look_after_ms(sensor) for at_ms in silent}
        back |= set(times[1:][missed[:-1]].tolist())
    afresh = {each.silent_after_ms for each in state.plan.sensors.values()}
    found |= {at_ms + wait_ms for at_ms in back for wait_ms in afresh}
    return sorted(each for each in found if start_ms <= each < end_ms)
