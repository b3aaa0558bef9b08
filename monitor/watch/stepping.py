"""The pure step: a state and an event give a state, and what it is time to tell."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

from monitor.model import Alarm, AlarmKey, Channel, Quantity, Transition
from monitor.watch.clockwork import follow_receipt, stepped
from monitor.watch.doors import told_doors
from monitor.watch.events import ClockStepped, Event, Hearing, Samples, Tick
from monitor.watch.harder import told_harder
from monitor.watch.hearing import hear
from monitor.watch.minding import mind, mind_all
from monitor.watch.plan import PlacePlan
from monitor.watch.replanning import replan
from monitor.watch.seeding import told_of
from monitor.watch.silence import heard_again, hearing, power
from monitor.watch.state import Excursion, Track, WatchState
from monitor.watch.taking import Taken, since, take
from monitor.watch.telling import KINDS, Tale, tell_place


@dataclass(frozen=True, slots=True, eq=False)
class Stepped:
    """The state after an event, and what it made true or false.

    ``past`` are harmful runs that were over before anything was told of them.
    """

    state: WatchState
    transitions: tuple[Transition, ...] = ()
    past: tuple[Excursion, ...] = ()


def step(state: WatchState, event: Event) -> Stepped:
    """Return the state after an event, and the conditions that it made true or false."""
    if isinstance(event, Samples):
        return _samples(state, event)
    if isinstance(event, Tick):
        tale = mind(replace(state, now_ms=event.now_ms))
    elif isinstance(event, Hearing):
        tale = mind(hearing(state, event.now_ms, deaf=event.deaf))
    elif isinstance(event, ClockStepped):
        tale = Tale(stepped(state, event.now_ms, event.by_ms))
    else:
        tale = mind_all(replan(state, event.plan, event.now_ms))
    return _stepped(tale)


def settle(
    state: WatchState, open_alarms: Sequence[Alarm], now_ms: int, unsure: Collection[Channel] = ()
) -> Stepped:
    """Tell what differs between the ledger's open alarms and how things stand.

    The end of a silent replay: what was told is what the ledger says was told. The newest
    sample of an ``unsure`` channel may not be its last: it raises nothing by itself.
    """
    tracks = {
        channel: replace(track, fresh_ms=0) if channel in unsure else track
        for channel, track in state.tracks.items()
    }
    told = told_of(open_alarms)
    return _stepped(mind_all(replace(state, tracks=tracks, told=told, now_ms=now_ms)))


def _stepped(tale: Tale, past: tuple[Excursion, ...] = ()) -> Stepped:
    return Stepped(tale.state, tale.transitions, past)


def _samples(state: WatchState, pack: Samples) -> Stepped:
    plan = state.plan.channels.get(pack.channel)
    if plan is None:
        return _stepped(Tale(state))
    sensor = state.plan.sensors[pack.channel.sensor]
    heard = hear(state.heard.get(sensor.id), sensor, pack)
    live = heard is not None and heard.live_ms == pack.received_ms
    slow = heard is not None and live and heard.lag_ms > sensor.silent_after_ms
    lag_ms = heard.lag_ms if heard is not None and slow else 0
    before = state.tracks[pack.channel]
    here = since(pack, state.posted.get(sensor.id, 0))
    taken = take(follow_receipt(before, pack), plan, here, lag_ms=lag_ms)
    after = WatchState(
        plan=state.plan,
        now_ms=max(state.now_ms, pack.received_ms),
        started_ms=state.started_ms,
        tracks={**state.tracks, pack.channel: taken.track},
        heard=state.heard if heard is None else {**state.heard, sensor.id: heard},
        told=state.told,
        deaf_ms=state.deaf_ms,
        doubts=state.doubts,
        looked_ms=state.looked_ms,
        posted=state.posted,
    )
    tale = heard_again(after, sensor)
    if pack.channel.quantity is Quantity.MAINS:
        more = power(tale.state)
        tale = Tale(more.state, tale.transitions + more.transitions)
    if pack.channel.quantity is Quantity.DOOR:
        opened, doors = told_doors(tale.state)
        tale = Tale(opened, tale.transitions + tuple(doors))
    if taken.turned:
        worked, harder = told_harder(tale.state, [state.plan.places[plan.place]])
        tale = Tale(worked, tale.transitions + tuple(harder))
    if not _eventless(state, plan.place, before, taken):
        more = tell_place(tale.state, state.plan.places[plan.place])
        tale = Tale(more.state, tale.transitions + more.transitions)
    return _stepped(tale, _past(state, state.plan.places[plan.place], pack, taken))


def _eventless(state: WatchState, place: str, before: Track, taken: Taken) -> bool:
    """Return whether nothing that alarms lasts, began or ended."""
    told = state.told
    if (
        taken.ended
        or taken.turned
        or (told and any(AlarmKey(kind, place) in told for kind in KINDS))
    ):
        return False
    tracks = (before, taken.track)
    return all(each.quiet for each in tracks) or not any(
        standing.spell for track in tracks for standing in track.standings
    )


def _past(
    state: WatchState, place: PlacePlan, pack: Samples, taken: Taken
) -> tuple[Excursion, ...]:
    """Return the spells that were over before anything was told of them."""
    return tuple(
        Excursion(pack.channel, place.id, line.key, spell)
        for line, spell in taken.ended
        if line.kind is not None and AlarmKey(line.kind, place.id) not in state.told
    )
