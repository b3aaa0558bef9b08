"""A cooler that works harder than it used to: a line in the morning message, days ahead."""

from collections.abc import Iterable, Iterator
from dataclasses import replace

from monitor.model import AlarmKey, AlarmKind, Edge, Transition
from monitor.watch import priority
from monitor.watch.plan import PlacePlan
from monitor.watch.state import Told, WatchState
from monitor.watch.warming import Harder


def told_harder(
    state: WatchState, places: Iterable[PlacePlan]
) -> tuple[WatchState, list[Transition]]:
    """Tell which coolers work harder by the air of any of their sensors, and which no longer."""
    told, said = dict(state.told), list[Transition]()
    for place in places:
        key = AlarmKey(AlarmKind.WORKING_HARDER, place.id)
        worst = max(_found(state, place), key=lambda each: each.loss, default=None)
        was = told.get(key)
        if worst is not None and was is None:
            said.append(_transition(state, place, Edge.RAISE, worst.since_ms, worst))
            told[key] = Told(worst.since_ms, state.now_ms)
        elif worst is None and was is not None:
            said.append(_transition(state, place, Edge.RETURN, was.began_ms))
            del told[key]
    return (replace(state, told=told) if said else state), said


def _found(state: WatchState, place: PlacePlan) -> Iterator[Harder]:
    for channel in place.channels:
        track = state.tracks.get(channel)
        if track is not None and track.warming.harder is not None:
            yield track.warming.harder


def _transition(
    state: WatchState, place: PlacePlan, edge: Edge, began_ms: int, worst: Harder | None = None
) -> Transition:
    facts: dict[str, float] = {}
    if worst is not None:
        facts = {
            "loss": round(worst.loss, 3),
            "share_before": round(worst.before.share, 3),
            "share_now": round(worst.now.share, 3),
        }
    return Transition(
        key=AlarmKey(AlarmKind.WORKING_HARDER, place.id),
        edge=edge,
        at_ms=state.now_ms,
        began_ms=began_ms,
        priority=priority.of_kind(AlarmKind.WORKING_HARDER),
        place=place.id,
        batches=place.batches,
        facts=facts,
    )
