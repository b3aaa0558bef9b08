"""Sensors that fell silent together have one cause: a gateway, the network, the mains.

One alarm names them all; the silence of each is then expected, and told on its own again
only if it outlasts the cause.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from typing import Any, Final

import numpy as np

from monitor.model import (
    AlarmKey,
    AlarmKind,
    Channel,
    Edge,
    PlaceKind,
    Priority,
    Quantity,
    Transition,
)
from monitor.science import warm_up
from monitor.watch import priority
from monitor.watch.hearing import (
    SILENT_KINDS,
    counted_ms,
    last_heard,
    look_ms,
    silence_key,
    silent_from,
    tell_ms,
)  # fmt: skip
from monitor.watch.plan import PlacePlan, SensorPlan, WatchPlan
from monitor.watch.state import Told, WatchState

FEW: Final = 3  # sensors that make a common cause, in any places
WINDOW: Final = 2  # intervals of the slower sensor within which two last words are together
LONGEST_WINDOW_MS: Final = 3_600_000
MAINS_MS: Final = 120_000
LIT: Final = 0.5

_ROOMS_C: Final = np.array([14.0, 17.0, 20.0, 23.0, 26.0])
_BOX_S: Final = np.array([1800.0, 3600.0, 7200.0, 14_400.0, 28_800.0])


def together(state: WatchState, one: SensorPlan, other_ms: int, interval_ms: int = 0) -> bool:
    """Return whether a sensor's last word lies near a time. [ms]"""
    window_ms = min(WINDOW * max(one.interval_ms, interval_ms), LONGEST_WINDOW_MS)
    return abs(last_heard(state, one) - other_ms) <= window_ms


def groups(
    state: WatchState, quiet: Sequence[SensorPlan]
) -> Iterator[tuple[str, list[SensorPlan]]]:
    """Yield each gateway ("" where none is named) with the sensors it took along.

    Parameters
    ----------
    state : WatchState
        Now.
    quiet : Sequence of SensorPlan
        Those silent by now that nothing explains, and that nobody was told of.
    """
    taken: set[str] = set()
    gateways = sorted({each.gateway for each in quiet if each.gateway})
    for gateway in gateways:
        heard = [e for e in _heard(state) if e.gateway == gateway]
        members = [e for e in quiet if e.gateway == gateway]
        near = _near(state, members)
        if len(heard) > 1 and len(near) == len(heard):
            taken |= {each.id for each in near}
            yield gateway, near
    near = _near(state, [each for each in quiet if each.id not in taken])
    everything = len(near) == len(list(_heard(state))) > 1
    if not _settled(state, near):
        return
    if len(near) >= FEW or (everything and len({each.place for each in near}) > 1):
        yield "", near


def _settled(state: WatchState, near: Sequence[SensorPlan]) -> bool:
    """Return whether all that may have gone dark with some sensors has had its time to show it.

    One that has missed its turn since about then is waited for: until it speaks, or is silent
    too, at most two intervals, and never until any of them is told of on its own.
    """
    until_ms = min((min(look_ms(state, e), tell_ms(state, e, wakes=True)) for e in near), default=0)
    if until_ms <= state.now_ms:
        return True
    ids = {each.id for each in near}
    return not any(
        each.id not in ids
        and (silent_from(state, each) or 0) > state.now_ms
        and 2 * (state.now_ms - last_heard(state, each)) > 3 * each.interval_ms
        and any(together(state, one, last_heard(state, each), each.interval_ms) for one in near)
        for each in _heard(state)
    )


def _heard(state: WatchState) -> Iterator[SensorPlan]:
    return (e for e in state.plan.sensors.values() if silent_from(state, e) is not None)


def _near(state: WatchState, quiet: Sequence[SensorPlan]) -> list[SensorPlan]:
    """Return the most that fell silent near one of them."""
    best: list[SensorPlan] = []
    for one in quiet:
        at_ms = last_heard(state, one)
        near = [each for each in quiet if together(state, each, at_ms, one.interval_ms)]
        if len(near) > len(best):
            best = near
    return best


def parent(state: WatchState, gateway: str, members: Sequence[SensorPlan]) -> Transition:
    """Return the raising of what several sensors' silence has in common."""
    began_ms = max(last_heard(state, each) for each in members)
    places = sorted({each.place for each in members})
    blind = [p for p in places if not _others(state, p, members)]
    plans = [state.plan.places[each] for each in blind]
    high = any(priority.of_silence(p.kind, holds=bool(p.batches), blind=True) is Priority.HIGH
               for p in plans)  # fmt: skip
    return Transition(
        key=AlarmKey(AlarmKind.SENSORS_DARK, gateway),
        edge=Edge.RAISE,
        at_ms=state.now_ms,
        began_ms=began_ms,
        priority=Priority.HIGH if high else priority.of_kind(AlarmKind.SENSORS_DARK),
        place=places[0] if len(places) == 1 else None,
        batches=tuple(sorted(b for p in plans for b in p.batches)),
        facts={
            "gateway": gateway,
            "sensors": [each.id for each in members],
            "dark": dark(state, members),
            "tell_ms": min(tell_ms(state, each, wakes=high) for each in members),
        },
    )


def _others(state: WatchState, place: str, members: Sequence[SensorPlan]) -> bool:
    """Return whether any other sensor is heard from a place."""
    ids = {each.id for each in members}
    return any(
        each.place == place and each.id not in ids
        and (silent_from(state, each) or 0) > state.now_ms
        for each in state.plan.sensors.values()
    )  # fmt: skip


def over(key: AlarmKey, told: Told, at_ms: int, *, gone: bool = False) -> Transition:
    """Return the end of a common cause."""
    return Transition(
        key=key, edge=Edge.RETURN, at_ms=max(at_ms, told.raised_ms), began_ms=told.began_ms,
        priority=priority.of_kind(key.kind), facts={"gone": True} if gone else {},
    )  # fmt: skip


def causes(state: WatchState, sensor: SensorPlan, rank: Priority) -> AlarmKey | None:
    """Return the open alarm that explains a sensor's silence, unless it is graver than that."""
    mains = AlarmKey(AlarmKind.MAINS_LOST, sensor.place)
    if mains in state.told:
        return mains
    for subject in dict.fromkeys((sensor.gateway, "")):
        key = AlarmKey(AlarmKind.SENSORS_DARK, subject)
        told = state.told.get(key)
        if told is None or (rank is Priority.HIGH and not told.high):
            continue
        if subject or together(state, sensor, told.began_ms):
            return key
    return None


def why(key: AlarmKey) -> str:
    """Return in plain words why a silence is expected."""
    if key.kind is AlarmKind.MAINS_LOST:
        return "the power is out"
    return "the gateway is dark" if key.subject else "several sensors are dark together"


def explained(state: WatchState, key: AlarmKey) -> list[str]:
    """Return the sensors whose silence an alarm explains."""
    return [
        other.subject
        for other, told in state.told.items()
        if other.kind is AlarmKind.SENSOR_SILENT and told.cause == key
    ]


def ended(state: WatchState, key: AlarmKey, told: Told) -> bool:
    """Return whether a common cause is over: half of those it was seen by are heard again."""
    still = set(explained(state, key)) & set(told.members)
    return 2 * len(still) <= len(told.members)


def released(state: WatchState, key: AlarmKey, at_ms: int) -> tuple[WatchState, list[AlarmKey]]:
    """Return the state in which silences that had a cause count afresh, and whose they were."""
    free = explained(state, key)
    heard = {
        **state.heard,
        **{
            each: replace(state.heard[each], afresh_ms=at_ms)
            for each in free
            if each in state.heard
        },
    }
    keys = [silence_key(each) for each in free]
    gone = {*keys, key}
    told = {other: each for other, each in state.told.items() if other not in gone}
    return replace(state, heard=heard, told=told), keys


# -- what is dark, and how long it may be --------------------------------------------------


def dark(state: WatchState, sensors: Iterable[SensorPlan]) -> list[dict[str, Any]]:
    """Return per place: its dark sensors, their last words, and the hold-over left.

    Of coolers and sprouting rooms first. JSON values; temperatures in [°C].
    """
    by_place: dict[str, list[SensorPlan]] = {}
    for each in sensors:
        by_place.setdefault(each.place, []).append(each)
    kept = [state.plan.places[each] for each in by_place]
    kept.sort(key=lambda p: (p.kind not in SILENT_KINDS, not p.batches, p.id))
    return [_dark(state, place, by_place[place.id]) for place in kept]


def everything(state: WatchState) -> list[dict[str, Any]]:
    """Return what is dark where nothing can be heard."""
    return dark(state, _heard(state))


def _dark(state: WatchState, place: PlacePlan, sensors: Sequence[SensorPlan]) -> dict[str, Any]:
    last: dict[str, float] = {}
    for sensor in sensors:
        for quantity in (Quantity.TEMPERATURE, Quantity.HUMIDITY, Quantity.SOIL_TEMPERATURE):
            track = state.tracks.get(Channel(sensor.id, quantity))
            if track is not None and track.newest is not None:
                worst = max(last.get(quantity.value, -1e9), track.newest.value)
                last[quantity.value] = worst
    shown = {
        "place": place.id,
        "sensors": sorted(each.id for each in sensors),
        "heard_ms": max(last_heard(state, each) for each in sensors),
        "last": last if place.kind in SILENT_KINDS else {},
    }
    hold = _hold_s(place, last.get(Quantity.TEMPERATURE.value))
    return shown | ({"hold_s": hold, "top_c": place.top_c} if hold else {})


def _hold_s(place: PlacePlan, last_c: float | None) -> list[float] | None:
    """Return how long contents stay below the top, should cooling have stopped. [s]

    A range over rooms of 20 ± 6 °C and boxes that warm with a time constant of half an hour
    to eight hours (common practice): contents start at the last word of the air.
    """
    known = place.kind in {PlaceKind.COOLER, PlaceKind.SPROUTING_ROOM} and place.lag_ms > 0
    if not known or last_c is None or place.top_c is None or last_c >= place.top_c:
        return None
    return hold_over_s(last_c, place.top_c, place.lag_ms / 1000)


def hold_over_s(last_c: float, top_c: float, lag_s: float) -> list[float] | None:
    """Return the earliest and the latest time until contents pass a top. [s]

    Parameters
    ----------
    last_c, top_c : float
        The last known air, and the top of the band. [°C]
    lag_s : float
        The time constant of what is kept, over zero. [s]

    Returns
    -------
    list of float or None
        ``[soonest, latest]``; None where a room of 20 °C never carries them there.
    """
    ambient, tau_s = (each.ravel() for each in np.meshgrid(_ROOMS_C, _BOX_S))
    ambient = np.maximum(ambient, last_c)
    weight = np.full(ambient.size, 1.0 / ambient.size)
    fits = warm_up.Fits(np.full(ambient.size, last_c), ambient, tau_s, weight)
    reach = warm_up.contents_reach(fits, last_c, lag_s, top_c)
    return [reach.early_s, reach.late_s] if np.isfinite(reach.late_s) else None


# -- the mains -----------------------------------------------------------------------------


def mains_since(state: WatchState) -> dict[str, int]:
    """Return the places whose power is out by a sensor of it, and since when. [ms]"""
    found: dict[str, int] = {}
    for channel, track in state.tracks.items():
        if channel.quantity is not Quantity.MAINS or track.newest is None:
            continue
        if track.newest.value >= LIT:
            continue
        lit = np.flatnonzero(track.tail_value >= LIT)
        first = int(lit[-1]) + 1 if lit.size else 0
        place = state.plan.channels[channel].place
        since_ms = int(track.tail_ms[first])
        found[place] = min(since_ms, found.get(place, since_ms))
    return found


def mains(state: WatchState, place: str, began_ms: int) -> Transition:
    """Return the raising of a lost mains."""
    here = [each for each in state.plan.sensors.values() if each.place == place]
    heard = [each for each in here if counted_ms(state, each) is not None]
    return Transition(
        key=AlarmKey(AlarmKind.MAINS_LOST, place),
        edge=Edge.RAISE,
        at_ms=max(state.now_ms, began_ms + MAINS_MS),
        began_ms=began_ms,
        priority=priority.of_kind(AlarmKind.MAINS_LOST),
        place=place,
        batches=state.plan.places[place].batches,
        facts={"dark": dark(state, heard)} if heard else {},
    )


def known(plan: WatchPlan, key: AlarmKey) -> bool:
    """Return whether the plan still has what a common cause is about."""
    if key.kind is AlarmKind.MAINS_LOST:
        return any(c.quantity is Quantity.MAINS and each.place == key.subject
                   for c, each in plan.channels.items())  # fmt: skip
    return True
