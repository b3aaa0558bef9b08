"""Which channels are in doubt, and what that keeps them from judging.

Looked at every three hours, and again whenever a limit is about to be told: so that what is
not believed neither raises an alarm nor, by coming back, ends one.
"""

from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import Final

from monitor.model import AlarmKey, AlarmKind, Channel, Side
from monitor.watch.plan import JUDGED, PlacePlan
from monitor.watch.state import WatchState
from monitor.watch.trust import Doubt, Reason, assess, incredible

LOOK_MS: Final = 3 * 3_600_000
_NEAR: Final = 15.0  # so near is a second opinion [K or %]


def doubt_key(sensor: str) -> AlarmKey:
    """Return the key of the alarm that a sensor is not believed."""
    return AlarmKey(AlarmKind.SENSOR_DOUBTFUL, sensor)


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
        channels = [each for each in place.channels if each.quantity is quantity]
        pairs = [(each, state.tracks[each].trust) for each in channels if each in state.tracks]
        if pairs:
            yield from assess(place.kind, pairs, _before(state, channels)).items()


def _before(state: WatchState, channels: Iterable[Channel]) -> dict[Channel, Reason | None]:
    """Return the reasons of what was told; None where a restart has forgotten them."""
    found: dict[Channel, Reason | None] = {}
    for channel in channels:
        if channel in state.doubts:
            found[channel] = state.doubts[channel].reason
        elif doubt_key(channel.sensor) in state.told and not _of_sensor(state, channel.sensor):
            found[channel] = None
    return found


def _of_sensor(state: WatchState, sensor: str) -> bool:
    return any(channel.sensor == sensor for channel in state.doubts)


def believed(state: WatchState, channel: Channel, side: Side) -> bool:
    """Return whether a channel may judge a limit on a side, as the doubts stand.

    Its newest value is looked at as well: what cannot be is not believed at once, unless
    a second sensor of the place says nearly the same.
    """
    doubt = state.doubts.get(channel)
    if doubt is not None and side in doubt.sides:
        return False
    newest = state.tracks[channel].newest
    if newest is None or not incredible(channel.quantity, newest.value):
        return True
    place = state.plan.places[state.plan.channels[channel].place]
    near = (state.tracks[each].newest for each in place.channels if _like(each, channel))
    return any(each is not None and abs(each.value - newest.value) <= _NEAR for each in near)


def _like(other: Channel, channel: Channel) -> bool:
    return other.quantity is channel.quantity and other != channel


def trusted(state: WatchState, channel: Channel) -> bool:
    """Return whether a channel may judge at all."""
    return any(believed(state, channel, side) for side in Side)
