"""Telling that sensors fell silent, each alone or several by one cause."""

from collections.abc import Iterator
from dataclasses import replace
from typing import Any, Final

from monitor.model import AlarmKey, AlarmKind, Edge, Priority, Transition
from monitor.watch import dark, priority
from monitor.watch.hearing import (
    healed,
    last_heard,
    look_ms,
    silence_key,
    silent_from,
    tell_ms,
)  # fmt: skip
from monitor.watch.plan import SensorPlan
from monitor.watch.state import Told, WatchState
from monitor.watch.telling import Tale, gone

_DEAF_MS: Final = 30_000  # a shorter loss, often repeated, must hide no dead sensor
_CAUSES: Final = (AlarmKind.SENSORS_DARK, AlarmKind.MAINS_LOST)


def told_silences(state: WatchState) -> tuple[WatchState, list[Transition]]:
    """Return the state and what is to be told: returns, causes that ended, then raises."""
    said: list[Transition] = []
    for key, told in [*state.told.items()]:
        if key.kind is AlarmKind.SENSOR_SILENT and key.subject not in state.plan.sensors:
            said.append(gone(key, told, None, state.now_ms))
            state = _without(state, key)
    for sensor in state.plan.sensors.values():
        state = _returned(state, sensor, said)
    state = _causes_ended(state, said)
    state = _mains_lost(state, said)
    if state.deaf_ms is None:
        state = _fallen(state, said)
    return state, said


def heard_again(state: WatchState, sensor: SensorPlan) -> Tale:
    """Tell that a silent sensor is back, once a live reading of it has come."""
    said: list[Transition] = []
    if silence_key(sensor.id) in state.told:
        state = _causes_ended(_returned(state, sensor, said), said)
    return Tale(state, tuple(said))


def power(state: WatchState) -> Tale:
    """Tell what a reading of the mains has made true, or false again."""
    said: list[Transition] = []
    return Tale(_mains_lost(_causes_ended(state, said), said), tuple(said))


def next_mains(state: WatchState) -> Iterator[int]:
    """Yield when a mains that is out is told. [ms]"""
    for place, since_ms in dark.mains_since(state).items():
        if AlarmKey(AlarmKind.MAINS_LOST, place) not in state.told:
            yield since_ms + dark.MAINS_MS


def hearing(state: WatchState, now_ms: int, *, deaf: bool) -> WatchState:
    """Return the state once the broker is lost, or there again: silence counts afresh then."""
    if deaf:
        since_ms = now_ms if state.deaf_ms is None else state.deaf_ms
        return replace(state, now_ms=now_ms, deaf_ms=since_ms)
    long = state.deaf_ms is not None and now_ms - state.deaf_ms >= _DEAF_MS
    from_ms = now_ms if long else state.started_ms
    return replace(state, now_ms=now_ms, started_ms=from_ms, deaf_ms=None)


def _without(state: WatchState, key: AlarmKey) -> WatchState:
    return replace(state, told={k: each for k, each in state.told.items() if k != key})


def _returned(state: WatchState, sensor: SensorPlan, said: list[Transition]) -> WatchState:
    key = silence_key(sensor.id)
    told = state.told.get(key)
    if told is None or last_heard(state, sensor) <= told.began_ms:
        return state
    said.append(silence(state, sensor, Edge.RETURN, told.began_ms))
    state = _without(state, key)
    if told.cause is not None:
        return state
    back_ms = last_heard(state, sensor)
    after = healed(state.heard[sensor.id], back_ms, back_ms - told.began_ms)
    return replace(state, heard={**state.heard, sensor.id: after})


def _causes_ended(state: WatchState, said: list[Transition]) -> WatchState:
    """End the causes that are over; what they explained counts afresh, without a word."""
    dead = dark.mains_since(state)
    for key, told in [*state.told.items()]:
        if key.kind not in _CAUSES:
            continue
        if key.kind is AlarmKind.MAINS_LOST:
            over = key.subject not in dead
        else:
            over = dark.ended(state, key, told)
        if over:
            said.append(dark.over(key, told, state.now_ms, gone=not dark.known(state.plan, key)))
            state, free = dark.released(state, key, state.now_ms)
            said += [_afresh(state, each) for each in free]
    return state


def _afresh(state: WatchState, key: AlarmKey) -> Transition:
    sensor = state.plan.sensors[key.subject]
    return replace(
        silence(state, sensor, Edge.RETURN, last_heard(state, sensor)),
        at_ms=state.now_ms,
        facts={"afresh": True},
    )


def _mains_lost(state: WatchState, said: list[Transition]) -> WatchState:
    for place, since_ms in dark.mains_since(state).items():
        key = AlarmKey(AlarmKind.MAINS_LOST, place)
        if key in state.told or since_ms + dark.MAINS_MS > state.now_ms:
            continue
        raised = dark.mains(state, place, since_ms)
        said.append(raised)
        told = Told(since_ms, raised.at_ms)
        state = replace(state, told={**state.told, key: told})
    return state


def _fallen(state: WatchState, said: list[Transition]) -> WatchState:
    """Tell of sensors that have been silent for their own time, by one cause where it is one."""
    due = [
        each
        for each in state.plan.sensors.values()
        if silence_key(each.id) not in state.told
        and (from_ms := silent_from(state, each)) is not None
        and from_ms <= state.now_ms
    ]
    waiting = [each for each in state.plan.sensors.values() if _untold(state, each)]
    if not due and not any(look_ms(state, each) <= state.now_ms for each in waiting):
        return state
    for sensor in due:
        state = _raised(state, sensor, said, joining=True)
    new = {each.id for each in due}
    for gateway, members in dark.groups(state, [*_fresh(state, due), *waiting]):
        state = _grouped(state, gateway, members, said)
        new -= {each.id for each in members}
    for sensor in due:
        if sensor.id in new and silence_key(sensor.id) not in state.told:
            state = _raised(state, sensor, said, joining=False)
    return state


def _fresh(state: WatchState, due: list[SensorPlan]) -> list[SensorPlan]:
    return [each for each in due if silence_key(each.id) not in state.told]


def _untold(state: WatchState, sensor: SensorPlan) -> bool:
    """Return whether a silence stands alone in the list, and nobody was told of it yet."""
    told = state.told.get(silence_key(sensor.id))
    if told is None or told.cause is not None:
        return False
    return tell_ms(state, sensor, wakes=told.high) > state.now_ms


def _raised(
    state: WatchState, sensor: SensorPlan, said: list[Transition], *, joining: bool
) -> WatchState:
    """Tell of one silence: with the cause it joins, or alone."""
    raised = silence(state, sensor, Edge.RAISE, last_heard(state, sensor))
    cause = dark.causes(state, sensor, raised.priority) if joining else None
    if joining and cause is None:
        return state
    return _said(state, raised, cause, said)


def _said(
    state: WatchState, raised: Transition, cause: AlarmKey | None, said: list[Transition]
) -> WatchState:
    if cause is not None:
        facts = {**raised.facts, "cause": list(cause)}
        raised = replace(raised, facts=facts, expected=dark.why(cause))
    said.append(raised)
    high = raised.priority is Priority.HIGH
    told = Told(raised.began_ms, raised.at_ms, cause, high=high)
    return replace(state, told={**state.told, raised.key: told})


def _grouped(
    state: WatchState, gateway: str, members: list[SensorPlan], said: list[Transition]
) -> WatchState:
    raised = dark.parent(state, gateway, members)
    if raised.key in state.told:
        return state
    said.append(raised)
    high = raised.priority is Priority.HIGH
    ids = tuple(each.id for each in members)
    told = Told(raised.began_ms, raised.at_ms, members=ids, high=high)
    state = replace(state, told={**state.told, raised.key: told})
    for sensor in members:
        each = silence(state, sensor, Edge.RAISE, last_heard(state, sensor))
        state = _said(state, each, raised.key, said)
    return state


def silence(state: WatchState, sensor: SensorPlan, edge: Edge, began_ms: int) -> Transition:
    """Return the raising or the return of a sensor's silence, as the state tells of it now."""
    back_ms = last_heard(state, sensor)
    facts = _silence_facts(state, sensor)
    place = state.plan.places[sensor.place]
    rank = priority.of_silence(place.kind, holds=bool(place.batches), blind=not facts["others"])
    if edge is Edge.RETURN:
        facts |= {"back_ms": back_ms, "out_s": (back_ms - began_ms) / 1000}
    else:
        facts |= {"tell_ms": tell_ms(state, sensor, wakes=rank is Priority.HIGH)}
    return Transition(
        key=silence_key(sensor.id),
        edge=edge,
        at_ms=state.now_ms if edge is Edge.RAISE else back_ms,
        began_ms=began_ms,
        priority=rank,
        place=sensor.place,
        sensor=sensor.id,
        batches=place.batches,
        facts=facts,
    )


def _silence_facts(state: WatchState, sensor: SensorPlan) -> dict[str, Any]:
    last = {
        channel.quantity.value: track.newest.value
        for channel, track in state.tracks.items()
        if channel.sensor == sensor.id and track.newest is not None
    }
    others = sorted({
        other.id
        for other in state.plan.sensors.values()
        if other.place == sensor.place and other.id != sensor.id
        and (silent_from(state, other) or 0) > state.now_ms
    })  # fmt: skip
    return {"interval_s": sensor.interval_ms / 1000, "last": last, "others": others}
