"""Stored readings cut into as few packs as tell the same as one reading at a time.

What can be told, and when, hangs on the readings outside a harm limit, on those that
follow until all is settled, and on the moments when a sensor has been silent for too
long. Everything between may be taken at once: it changes sums, and tells nothing.
"""

from collections.abc import Callable, Iterable, Iterator
from typing import Final

import numpy as np
import numpy.typing as npt

from monitor.model import Channel, Flag
from monitor.watch import Samples, WatchState
from monitor.watch.events import Times
from monitor.watch.plan import ChannelPlan

_NOT_LIVE: Final = int(Flag.TIME_UNCERTAIN | Flag.IMPORTED)


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
    alone = np.flatnonzero(_alone(state().plan.channels[pack.channel], pack))
    yield cut(pack, 0, 1)
    at, end = 1, len(pack.at_ms)
    while at < end:
        until = at + 1
        if _settled(state(), pack.channel):
            ahead = alone[np.searchsorted(alone, at) :]
            until = max(until, int(ahead[0]) if ahead.size else end)
        yield cut(pack, at, until)
        at = until


def _alone(plan: ChannelPlan, pack: Samples) -> npt.NDArray[np.bool_]:
    """Return which readings are taken singly.

    Those beyond a harm limit, those that say nothing of now, and the first that does: a
    silent sensor is back with it.
    """
    found: npt.NDArray[np.bool_] = (pack.flags & _NOT_LIVE) != 0
    found[int(found.argmin())] = True
    for line in plan.lines:
        if line.kind is not None:
            found = found | (line.sign * (pack.value - line.limit) >= 0.0)
    return found


def _settled(state: WatchState, channel: Channel) -> bool:
    """Return whether nothing that alarms lasts or could return."""
    lines = state.plan.channels[channel].lines
    standings = state.tracks[channel].standings
    return all(
        line.kind is None or (standing.run is None and standing.spell is None)
        for line, standing in zip(lines, standings, strict=True)
    )


def silences(state: WatchState, packs: Iterable[Samples], start_ms: int, end_ms: int) -> list[int]:
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
    found: set[int] = set()
    for sensor in state.plan.sensors.values():
        before = state.heard.get(sensor.id)
        if before is not None and before.live_ms is not None:
            heard.setdefault(sensor.id, []).append(np.array([before.live_ms], np.int64))
        times = np.sort(np.concatenate(heard.get(sensor.id, [np.empty(0, np.int64)])))
        due_ms = times + sensor.silent_after_ms
        missed = np.append(due_ms[:-1] < times[1:], True)[: times.size]
        found |= set(due_ms[missed & (due_ms >= start_ms) & (due_ms < end_ms)].tolist())
    return sorted(found)
