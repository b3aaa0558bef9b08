"""A cooler that works harder than it used to: a line in the morning message, days ahead.

The figures that it was told by stay in the alarm: they rest on weeks that a restart much
later no longer reads.
"""

from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import Any

from monitor.model import Alarm, AlarmKey, AlarmKind, Channel, Edge, Quantity, Transition
from monitor.watch import priority
from monitor.watch.plan import PlacePlan
from monitor.watch.state import Told, WatchState
from monitor.watch.warming import Harder, Worked


def told_harder(
    state: WatchState, places: Iterable[PlacePlan]
) -> tuple[WatchState, list[Transition]]:
    """Tell which coolers work harder by the air of any of their sensors, and which no longer."""
    told, said = dict(state.told), list[Transition]()
    for place in places:
        key = AlarmKey(AlarmKind.WORKING_HARDER, place.id)
        found = dict(_found(state, place))
        was = told.get(key)
        if found and was is None:
            began_ms = _worst(found).since_ms
            said.append(_transition(state, place, Edge.RAISE, began_ms, _facts(found)))
            told[key] = Told(began_ms, state.now_ms)
        elif not found and was is not None:
            said.append(_transition(state, place, Edge.RETURN, was.began_ms))
            del told[key]
    return (replace(state, told=told) if said else state), said


def told_before(alarms: Iterable[Alarm]) -> dict[Channel, Harder]:
    """Return by which figures of which channels the open alarms were told."""
    return {
        Channel(sensor, Quantity(quantity)): Harder(since_ms, Worked(*before), Worked(*now))
        for alarm in alarms
        if alarm.key.kind is AlarmKind.WORKING_HARDER and alarm.active and alarm.returned_ms is None
        for sensor, quantity, since_ms, before, now in alarm.facts.get("figures", ())
    }


def _found(state: WatchState, place: PlacePlan) -> Iterator[tuple[Channel, Harder]]:
    for channel in place.channels:
        track = state.tracks.get(channel)
        if track is not None and track.warming.harder is not None:
            yield channel, track.warming.harder


def _worst(found: dict[Channel, Harder]) -> Harder:
    return max(found.values(), key=lambda each: each.loss)


def _facts(found: dict[Channel, Harder]) -> dict[str, Any]:
    """Return what is said of the worst, and every channel's figures as `told_before` reads them."""
    worst = _worst(found)
    return {
        "loss": round(worst.loss, 3),
        "share_before": round(worst.before.share, 3),
        "share_now": round(worst.now.share, 3),
        "figures": [
            [channel.sensor, channel.quantity.value, of.since_ms, [*of.before], [*of.now]]
            for channel, of in found.items()
        ],
    }


def _transition(
    state: WatchState, place: PlacePlan, edge: Edge, began_ms: int,
    facts: dict[str, Any] | None = None,
) -> Transition:  # fmt: skip
    return Transition(
        key=AlarmKey(AlarmKind.WORKING_HARDER, place.id),
        edge=edge,
        at_ms=state.now_ms,
        began_ms=began_ms,
        priority=priority.of_kind(AlarmKind.WORKING_HARDER),
        place=place.id,
        batches=place.batches,
        facts=facts or {},
    )
