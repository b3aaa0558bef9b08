"""What the clock alone can change: sensors that fall silent, stages that end."""

from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import Any

from monitor.model import AlarmKey, AlarmKind, Edge, Transition
from monitor.watch import priority
from monitor.watch.hearing import next_silences, silence_key, silent_from
from monitor.watch.plan import Due, SensorPlan, WatchPlan
from monitor.watch.state import Told, WatchState
from monitor.watch.telling import Tale, gone, tell_place

_WATCHED_ALONE = (AlarmKind.SENSOR_SILENT, AlarmKind.STAGE_ENDING)


def mind(state: WatchState) -> Tale:
    """Tell what the passing of time has made true, or false again."""
    transitions: list[Transition] = []
    told = dict(state.told)
    for transition in (*_silences(state), *_endings(state)):
        transitions.append(transition)
        if transition.edge is Edge.RAISE:
            told[transition.key] = Told(transition.began_ms, transition.at_ms)
        else:
            told.pop(transition.key, None)
    if not transitions:
        return Tale(state)
    return Tale(replace(state, told=told), tuple(transitions))


def heard_again(state: WatchState, sensor: SensorPlan) -> Tale:
    """Tell that a silent sensor is back, once a live reading of it has come."""
    key = silence_key(sensor.id)
    if key not in state.told:
        return Tale(state)
    transitions = tuple(_silence_edges(state, sensor))
    if not transitions:
        return Tale(state)
    told = {other: each for other, each in state.told.items() if other != key}
    return Tale(replace(state, told=told), transitions)


def mind_all(state: WatchState) -> Tale:
    """Tell whatever differs between what was told and how things stand."""
    tale = mind(state)
    for place in state.plan.places.values():
        more = tell_place(tale.state, place)
        tale = Tale(more.state, tale.transitions + more.transitions)
    known = tale.state.plan.places.keys()
    lost = [
        key for key in tale.state.told
        if key.kind not in _WATCHED_ALONE and key.subject not in known
    ]  # fmt: skip
    told = {key: each for key, each in tale.state.told.items() if key not in lost}
    ends = tuple(gone(key, tale.state.told[key], None, state.now_ms) for key in lost)
    return Tale(replace(tale.state, told=told), tale.transitions + ends)


def next_due(state: WatchState) -> int | None:
    """Return the earliest time at which a tick could change something. [ms]"""
    endings = (each.due_ms for each in _pending(state))
    return min((*next_silences(state), *endings), default=None)


def stage_key(batch: int) -> AlarmKey:
    """Return the key of the alarm that a batch's stage ends."""
    return AlarmKey(AlarmKind.STAGE_ENDING, f"batch:{batch}")


def due_work(plan: WatchPlan, until_ms: int) -> tuple[Due, ...]:
    """Return the stages to be told of in the morning: soonest end first.

    Those whose lateness harms have an alarm of their own.
    """
    dues = [each for each in plan.dues if each.due_ms <= until_ms and not each.late_harms]
    return tuple(sorted(dues, key=lambda each: (each.ends_ms, each.batch)))


def _silences(state: WatchState) -> Iterator[Transition]:
    sensors = state.plan.sensors
    for key, told in state.told.items():
        if key.kind is AlarmKind.SENSOR_SILENT and key.subject not in sensors:
            yield gone(key, told, None, state.now_ms)
    for sensor in sensors.values():
        yield from _silence_edges(state, sensor)


def _silence_edges(state: WatchState, sensor: SensorPlan) -> Iterator[Transition]:
    """Yield the raising or the return of one sensor's silence, if it is time for either."""
    due_ms = silent_from(state, sensor)
    if due_ms is None:
        return
    told = state.told.get(silence_key(sensor.id))
    if told is None and due_ms <= state.now_ms:
        yield silence(state, sensor, Edge.RAISE, _last_heard(state, sensor))
    elif told is not None and _last_heard(state, sensor) > told.began_ms:
        yield silence(state, sensor, Edge.RETURN, told.began_ms)


def _last_heard(state: WatchState, sensor: SensorPlan) -> int:
    return state.heard[sensor.id].live_ms or 0


def silence(state: WatchState, sensor: SensorPlan, edge: Edge, began_ms: int) -> Transition:
    """Return the raising or the return of a sensor's silence, as the state tells of it now."""
    back_ms = _last_heard(state, sensor)
    facts = _silence_facts(state, sensor)
    place = state.plan.places[sensor.place]
    if edge is Edge.RETURN:
        facts |= {"back_ms": back_ms, "out_s": (back_ms - began_ms) / 1000}
    return Transition(
        key=silence_key(sensor.id),
        edge=edge,
        at_ms=state.now_ms if edge is Edge.RAISE else back_ms,
        began_ms=began_ms,
        priority=priority.of_silence(
            place.kind, holds=bool(place.batches), blind=not facts["others"]
        ),
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


def _pending(state: WatchState) -> Iterable[Due]:
    return (
        each for each in state.plan.dues
        if each.late_harms and stage_key(each.batch) not in state.told
    )  # fmt: skip


def _endings(state: WatchState) -> Iterator[Transition]:
    late = {
        stage_key(each.batch): each
        for each in state.plan.dues
        if each.late_harms and each.due_ms <= state.now_ms
    }
    for key, told in state.told.items():
        if key.kind is AlarmKind.STAGE_ENDING and key not in late:
            yield gone(key, told, None, state.now_ms)
    for key, due in late.items():
        if key not in state.told:
            yield _ending(key, due, state.now_ms)


def _ending(key: AlarmKey, due: Due, now_ms: int) -> Transition:
    return Transition(
        key=key,
        edge=Edge.RAISE,
        at_ms=now_ms,
        began_ms=due.due_ms,
        priority=priority.of_stage(due.ends_ms - due.due_ms),
        place=due.place,
        batches=(due.batch,),
        facts={"stage": due.stage, "since_ms": due.since_ms, "ends_ms": due.ends_ms},
    )
