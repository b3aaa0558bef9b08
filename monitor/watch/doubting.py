"""Which channels are in doubt, and what that keeps them from judging.

Looked at every three hours, every half hour where a doubt keeps a channel from judging, and
whenever a limit is about to be told: so that what is not believed neither raises an alarm
nor, by coming back, ends one. What stood still is believed again as soon as it moves.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from typing import Any, Final

import numpy as np

from monitor.model import AlarmKey, AlarmKind, Channel, PlaceKind, Quantity, Side
from monitor.watch.plan import JUDGED, PlacePlan
from monitor.watch.state import Newest, Track, WatchState
from monitor.watch.trust import (
    Doubt,
    Hold,
    Reason,
    assess,
    came_along,
    confirmed,
    held,
    incredible,
    standing_from,
)  # fmt: skip

LOOK_MS: Final = 3 * 3_600_000
_GRAVER: Final = (Reason.IMPOSSIBLE, Reason.ODD_ONE)
_STOOD: Final = (Reason.HELD, Reason.FLAT)
_SAME: Final = 0.001  # half hours are kept in thousandths


def doubt_key(sensor: str) -> AlarmKey:
    """Return the key of the alarm that a sensor is not believed."""
    return AlarmKey(AlarmKind.SENSOR_DOUBTFUL, sensor)


def doubted(quantity: Quantity | None, facts: Mapping[str, Any]) -> tuple[Quantity, str] | None:
    """Return what an alarm that a sensor is not believed rests on; None for any other."""
    reason = facts.get("reason")
    return None if quantity is None or not isinstance(reason, str) else (quantity, reason)


def look(state: WatchState, places: Iterable[PlacePlan]) -> WatchState:
    """Return the state with the doubts of some places as they are now."""
    doubts = dict(state.doubts)
    for place in places:
        for channel in place.channels:
            doubts.pop(channel, None)
        doubts.update(_of_place(state, place))
    return replace(state, doubts=doubts)


def _of_place(state: WatchState, place: PlacePlan) -> Iterator[tuple[Channel, Doubt]]:
    for quantity in JUDGED:
        channels = [
            each for each in place.channels if each.quantity is quantity and each in state.tracks
        ]
        if not channels:
            continue
        pairs = [(each, state.tracks[each].trust) for each in channels]
        found = assess(place.kind, pairs, _before(state, channels))
        for channel, doubt in _held(state, place.kind, channels):
            if channel not in found or found[channel].reason not in _GRAVER:
                found[channel] = doubt
        yield from found.items()


def _before(state: WatchState, channels: Iterable[Channel]) -> dict[Channel, Reason | None]:
    """Return the reasons of what was told; None where an old alarm does not say it."""
    found: dict[Channel, Reason | None] = {}
    for channel in channels:
        told = state.told.get(doubt_key(channel.sensor))
        if channel in state.doubts:
            found[channel] = state.doubts[channel].reason
        elif told is not None and not _of_sensor(state, channel.sensor):
            if told.doubt is None:
                found[channel] = None
            elif told.doubt[0] is channel.quantity:
                found[channel] = Reason(told.doubt[1])
    return found


def _of_sensor(state: WatchState, sensor: str) -> bool:
    return any(channel.sensor == sensor for channel in state.doubts)


def _held(
    state: WatchState, kind: PlaceKind, channels: Iterable[Channel]
) -> Iterator[tuple[Channel, Doubt]]:
    """Yield the channels that leapt to a value and stand still, and that nobody confirms."""
    holds = {each: _hold(state, kind, each) for each in channels}
    free = [state.tracks[each].newest for each, hold in holds.items() if hold is None]
    for channel, hold in holds.items():
        if hold is None:
            continue
        near = [each.value for each in free if each is not None and each.at_ms >= hold.since_ms]
        if not any(came_along(hold, each) for each in near):
            beside = float(np.median(near)) if near else None
            yield channel, Doubt(Reason.HELD, hold.since_ms, hold.value, others=beside)


def _hold(state: WatchState, kind: PlaceKind, channel: Channel) -> Hold | None:
    track = state.tracks[channel]
    if not track.tail_ms.size:
        return None
    found = held(kind, channel.quantity, track.tail_ms, track.tail_value)
    if found is not None:
        return found
    was, told = state.doubts.get(channel), state.told.get(doubt_key(channel.sensor))
    if was is not None:
        return _still(track, was.since_ms) if was.reason is Reason.HELD else None
    if told is not None and told.doubt == (channel.quantity, Reason.HELD.value):
        return _still(track, told.began_ms)
    return None


def _still(track: Track, since_ms: int) -> Hold | None:
    """Return what a channel has held since a time from before its last hours."""
    first = standing_from(track.tail_value)
    if first and int(track.tail_ms[first]) > since_ms:
        return None
    return Hold(since_ms, float(track.tail_value[-1]), float("inf"))


def believed(state: WatchState, channel: Channel, side: Side) -> bool:
    """Return whether a channel may judge a limit on a side, as the doubts stand.

    Its newest value is looked at as well: what cannot be is not believed at once, unless
    a second sensor of the place says nearly the same.
    """
    doubt, newest = state.doubts.get(channel), state.tracks[channel].newest
    if doubt is not None and side in doubt.sides and not _moved(doubt, newest):
        return False
    if newest is None or not incredible(channel.quantity, newest.value):
        return True
    place = state.plan.places[state.plan.channels[channel].place]
    near = [state.tracks[each].newest for each in place.channels if _like(each, channel)]
    values = np.array([each.value for each in near if each is not None])
    return bool(confirmed(channel.quantity, newest.value, values).any())


def _moved(doubt: Doubt, newest: Newest | None) -> bool:
    """Return whether what stood still does so no more."""
    stood = doubt.reason in _STOOD
    return stood and newest is not None and abs(newest.value - doubt.value) > _SAME


def _like(other: Channel, channel: Channel) -> bool:
    return other.quantity is channel.quantity and other != channel


def trusted(state: WatchState, channel: Channel) -> bool:
    """Return whether a channel may judge at all."""
    return any(believed(state, channel, side) for side in Side)
