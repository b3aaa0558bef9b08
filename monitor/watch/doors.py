"""A door that stands open for longer than anybody works there, by a sensor on it.

The time allowed is the same for each door so far: no habit is learned. A place that is
being loaded is waited for until its hold is over.
"""

from collections.abc import Iterator
from dataclasses import replace
from typing import Final

import numpy as np

from monitor.model import AlarmKey, AlarmKind, Edge, Quantity, Transition
from monitor.watch import priority
from monitor.watch.state import Told, Track, WatchState

OPEN_MS: Final = 20 * 60_000
"""Nobody works with the door open for so long, but to load: common practice. [ms]"""
AJAR: Final = 0.5  # a door's value from which it is open


def told_doors(state: WatchState) -> tuple[WatchState, list[Transition]]:
    """Raise what stands open for too long, and return what is shut."""
    open_ms, said = _open_since(state), list[Transition]()
    told = dict(state.told)
    for key, each in state.told.items():
        if key.kind is not AlarmKind.DOOR_OPEN or key.subject in open_ms:
            continue
        doors = _doors(state, key.subject)
        if doors and all(track.newest is None for track in doors):
            continue  # not heard since a start: that is no word on the door
        returned = _transition(state, key, Edge.RETURN, each.began_ms)
        said.append(returned if doors else replace(returned, facts={"gone": True}))
        del told[key]
    for place, since_ms in open_ms.items():
        key = AlarmKey(AlarmKind.DOOR_OPEN, place)
        if key not in told and _due_ms(state, place, since_ms) <= state.now_ms:
            raised = _transition(state, key, Edge.RAISE, since_ms)
            said.append(raised)
            told[key] = Told(since_ms, raised.at_ms)
    return (replace(state, told=told) if said else state), said


def next_doors(state: WatchState) -> Iterator[int]:
    """Yield when a door will have stood open for too long. [ms]"""
    for place, since_ms in _open_since(state).items():
        if AlarmKey(AlarmKind.DOOR_OPEN, place) not in state.told:
            yield _due_ms(state, place, since_ms)


def _due_ms(state: WatchState, place: str, since_ms: int) -> int:
    due_ms = since_ms + OPEN_MS
    holds = state.plan.places[place].loadings
    return max([due_ms, *(end for begin, end in holds if begin <= due_ms < end)])


def _open_since(state: WatchState) -> dict[str, int]:
    """Return the places with a door open at the newest word of its sensor, and since when. [ms]"""
    found: dict[str, int] = {}
    for channel, track in state.tracks.items():
        if channel.quantity is Quantity.DOOR and (since_ms := _since(track)) is not None:
            place = state.plan.channels[channel].place
            found[place] = min(since_ms, found.get(place, since_ms))
    return found


def _doors(state: WatchState, place: str) -> list[Track]:
    return [
        track
        for channel, track in state.tracks.items()
        if channel.quantity is Quantity.DOOR and state.plan.channels[channel].place == place
    ]


def _since(track: Track) -> int | None:
    if track.newest is None or track.newest.value < AJAR:
        return None
    shut = np.flatnonzero(track.tail_value < AJAR)
    return int(track.tail_ms[int(shut[-1]) + 1 if shut.size else 0])


def _transition(state: WatchState, key: AlarmKey, edge: Edge, began_ms: int) -> Transition:
    place = state.plan.places.get(key.subject)
    return Transition(
        key=key,
        edge=edge,
        at_ms=state.now_ms,
        began_ms=began_ms,
        priority=priority.of_kind(AlarmKind.DOOR_OPEN),
        place=key.subject,
        batches=() if place is None else place.batches,
    )
