"""Telling of sensors that are not believed, and of batteries that run low."""

from collections.abc import Iterator
from dataclasses import replace
from typing import Any, Final

from monitor.model import (
    AlarmKey,
    AlarmKind,
    Channel,
    Edge,
    Priority,
    Quantity,
    Side,
    Transition,
)  # fmt: skip
from monitor.watch import priority
from monitor.watch.doubting import LOOK_MS, doubt_key, doubted, look, trusted
from monitor.watch.hearing import silent_from
from monitor.watch.plan import PlacePlan, SensorPlan
from monitor.watch.state import Told, WatchState
from monitor.watch.telling import gone
from monitor.watch.trust import BLOCK_MS, Doubt, low_battery

DOUBTS: Final = (AlarmKind.SENSOR_DOUBTFUL, AlarmKind.BATTERY_LOW)
_IN_MS: Final = 600_000  # after which a half hour's readings are in


def next_look(state: WatchState) -> int | None:
    """Return when to look again; None while nothing was read for half an hour. [ms]

    What is kept from judging is looked at every half hour, once its readings are in.
    """
    if not any(track.trust.closed for track in state.tracks.values()):
        return None
    usual_ms = _usual_look(state)
    if not any(doubt.sides for doubt in state.doubts.values()):
        return usual_ms
    soon_ms = ((state.looked_ms - _IN_MS) // BLOCK_MS + 1) * BLOCK_MS + _IN_MS
    return min(usual_ms, max(soon_ms, state.now_ms))


def _usual_look(state: WatchState) -> int:
    return (state.looked_ms // LOOK_MS + 1) * LOOK_MS


def _doubtful(state: WatchState) -> list[PlacePlan]:
    ids = {state.plan.channels[each].place for each in state.doubts if each in state.plan.channels}
    return [state.plan.places[each] for each in ids]


def told_doubts(
    state: WatchState, *, now: bool = False
) -> tuple[WatchState, tuple[Transition, ...]]:
    """Look at every sensor if it is time, or ``now``, and tell what has changed."""
    due_ms = next_look(state)
    if due_ms is None or (state.now_ms < due_ms and not now):
        return state, ()
    whole = now or state.now_ms >= _usual_look(state)
    places = state.plan.places.values() if whole else _doubtful(state)
    state = replace(look(state, places), looked_ms=state.now_ms)
    transitions = tuple(_edges(state))
    if not transitions:
        return state, ()
    told = dict(state.told)
    for each in transitions:
        if each.edge is Edge.RAISE:
            why = doubted(each.quantity, each.facts)
            told[each.key] = Told(each.began_ms, each.at_ms, doubt=why)
        else:
            told.pop(each.key, None)
    return replace(state, told=told), transitions


def _edges(state: WatchState) -> Iterator[Transition]:
    for key, told in state.told.items():
        if key.kind in DOUBTS and key.subject not in state.plan.sensors:
            yield gone(key, told, None, state.now_ms)
    for sensor in state.plan.sensors.values():
        yield from _of_trust(state, sensor)
        yield from _of_battery(state, sensor)


def _of_trust(state: WatchState, sensor: SensorPlan) -> Iterator[Transition]:
    key = doubt_key(sensor.id)
    found = [
        (channel, each)
        for channel, each in state.doubts.items()
        if channel.sensor == sensor.id and each.told
    ]
    told = state.told.get(key)
    if told is None and found:
        yield _raised(state, sensor, *min(found, key=lambda pair: pair[1].since_ms))
    elif told is not None and not found and _shows(state, sensor):
        yield _transition(state, sensor, key, Edge.RETURN, told.began_ms)


def _shows(state: WatchState, sensor: SensorPlan) -> bool:
    """Return whether a sensor has spoken since the start: silence takes nothing back."""
    tracks = [track for channel, track in state.tracks.items() if channel.sensor == sensor.id]
    return any(track.trust.closed for track in tracks)


def _raised(state: WatchState, sensor: SensorPlan, channel: Channel, doubt: Doubt) -> Transition:
    others = _standing_in(state, sensor, channel)
    facts: dict[str, Any] = {
        "reason": doubt.reason.value,
        "said": doubt.value,
        "beside": doubt.others,
        "since_ms": doubt.since_ms,
        "judges": not doubt.sides,
        "heat_only": doubt.sides == {Side.HIGH},
        "others": others,
    }
    place = state.plan.places[sensor.place]
    blind = doubt.sides == set(Side) and not others and channel.quantity is not Quantity.HUMIDITY
    grave = priority.of_doubt(place.kind, holds=bool(place.batches), blind=blind)
    made = _transition(state, sensor, doubt_key(sensor.id), Edge.RAISE, doubt.since_ms)
    return replace(
        made, priority=grave, quantity=channel.quantity, value=doubt.value, facts=facts,
    )  # fmt: skip


def _standing_in(state: WatchState, sensor: SensorPlan, channel: Channel) -> list[str]:
    """Return the other sensors that tell the same of the place, are heard and believed."""
    place = state.plan.places[sensor.place]
    return sorted(
        each.sensor
        for each in place.channels
        if each.quantity is channel.quantity
        and each.sensor != sensor.id
        and trusted(state, each)
        and (silent_from(state, state.plan.sensors[each.sensor]) or 0) > state.now_ms
    )


def _of_battery(state: WatchState, sensor: SensorPlan) -> Iterator[Transition]:
    track = state.tracks.get(Channel(sensor.id, Quantity.BATTERY))
    if track is None or not track.trust.closed:
        return
    key = AlarmKey(AlarmKind.BATTERY_LOW, sensor.id)
    told = state.told.get(key)
    low = low_battery(track.trust, told=told is not None)
    if told is None and low:
        made = _transition(state, sensor, key, Edge.RAISE, state.now_ms)
        value = track.newest.value if track.newest else None
        yield replace(made, quantity=Quantity.BATTERY, value=value, facts={"said": value})
    elif told is not None and not low:
        yield _transition(state, sensor, key, Edge.RETURN, told.began_ms)


def _transition(
    state: WatchState, sensor: SensorPlan, key: AlarmKey, edge: Edge, began_ms: int
) -> Transition:
    place = state.plan.places[sensor.place]
    low = key.kind is AlarmKind.BATTERY_LOW
    return Transition(
        key=key,
        edge=edge,
        at_ms=state.now_ms,
        began_ms=began_ms,
        priority=Priority.LOW if low else priority.of_kind(key.kind),
        place=place.id,
        sensor=sensor.id,
        batches=place.batches,
    )
