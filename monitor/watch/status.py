"""How places, batches and sensors stand, as pages and lists show it."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Final

from monitor.model import AlarmKey, Batch, Channel, PlaceState, Side
from monitor.watch.doubting import trusted
from monitor.watch.hearing import silence_key, silent_from
from monitor.watch.plan import JUDGED, Line, WatchPlan
from monitor.watch.state import Standing, Track, WatchState
from monitor.watch.tail import trend_per_h
from monitor.watch.telling import KINDS

_HOUR_MS: Final = 3_600_000
_WORST: Final = (PlaceState.HARM, PlaceState.DRIFTING, PlaceState.IN_BAND, PlaceState.UNKNOWN)


@dataclass(frozen=True, slots=True)
class LineStatus:
    """One limit and the time outside it: this run, all runs, and how far. [°C or %], [s]"""

    ideal: bool
    side: Side
    limit: float
    tolerated_s: float | None
    owners: tuple[str, ...]
    outside: bool
    began_ms: int | None
    outside_s: float
    whole_s: float
    degree_hours: float
    peak: float | None
    alarming: bool


@dataclass(frozen=True, slots=True)
class ChannelStatus:
    """One channel: its newest value, and how it stands; ``coverage`` is 0..1 or None.

    ``habit_days`` counts the days by which a cooler's habits are known, up to a week; None
    where none are learned.
    """

    channel: Channel
    state: PlaceState
    since_ms: int | None
    value: float | None
    at_ms: int | None
    trusted: bool
    coverage: float | None
    trend_per_h: float | None
    lines: tuple[LineStatus, ...]
    habit_days: int | None = None


@dataclass(frozen=True, slots=True)
class PlaceStatus:
    """One place, as bad as its worst channel; unknown where none is known."""

    place: str
    state: PlaceState
    since_ms: int | None
    channels: tuple[ChannelStatus, ...]
    alarms: tuple[AlarmKey, ...]


@dataclass(frozen=True, slots=True)
class BatchStatus:
    """One batch against its own stage's limits, or its place's where it has none."""

    batch: int
    place: str | None
    state: PlaceState
    since_ms: int | None
    channels: tuple[ChannelStatus, ...]


Picked = tuple[tuple[bool, ...], ...]
"""Of each line of each channel of a place, whether a batch is judged by it."""
Shared = dict[tuple[str, Picked], tuple[ChannelStatus, ...]]


@dataclass(frozen=True, slots=True)
class SensorStatus:
    """One sensor: ``waiting`` until first heard, then heard or silent."""

    sensor: str
    place: str
    last_heard_ms: int | None
    silent: bool

    @property
    def waiting(self) -> bool:
        """Return whether it was never heard."""
        return self.last_heard_ms is None


def place_status(state: WatchState, place: str, now_ms: int) -> PlaceStatus:
    """Return how a place stands now."""
    channels = _channels(state, place, now_ms, lambda _: True)
    worst = _worst(channels)
    keys = tuple(AlarmKey(kind, place) for kind in KINDS if AlarmKey(kind, place) in state.told)
    return PlaceStatus(place, worst[0], worst[1], channels, keys)


def batch_status(
    state: WatchState, batch: Batch, now_ms: int, shared: Shared | None = None
) -> BatchStatus:
    """Return how a batch stands now, in the place where it is.

    ``shared`` is filled with what batches of one place and the same limits have in common;
    it belongs to one state at one time.
    """
    stay = batch.stay
    if stay is None or stay.place not in state.plan.places:
        return BatchStatus(batch.id, None, PlaceState.UNKNOWN, None, ())
    mine = f"batch:{batch.id}"
    picked = _owned(state.plan, stay.place, mine)
    if not any(map(any, picked)):
        mine, picked = "place", _owned(state.plan, stay.place, "place")
    shared, key = {} if shared is None else shared, (stay.place, picked)
    if key not in shared:
        shared[key] = _channels(state, stay.place, now_ms, lambda line: mine in line.owners)
    return BatchStatus(batch.id, stay.place, *_worst(shared[key]), shared[key])


def _owned(plan: WatchPlan, place: str, owner: str) -> Picked:
    """Return which lines are an owner's, for each channel of a place."""
    return tuple(
        tuple(owner in line.owners for line in plan.channels[channel].lines)
        for channel in plan.places[place].channels
    )


def batch_states(state: WatchState, batches: Iterable[Batch], now_ms: int) -> dict[int, PlaceState]:
    """Return the state of each open batch, by number."""
    shared: Shared = {}
    return {
        each.id: batch_status(state, each, now_ms, shared).state
        for each in batches
        if each.stay is not None
    }


def sensor_status(state: WatchState, sensor: str, now_ms: int) -> SensorStatus:
    """Return when a sensor was last heard, and whether it should have been since."""
    plan = state.plan.sensors[sensor]
    heard = state.heard.get(sensor)
    due_ms = silent_from(state, plan)
    silent = silence_key(sensor) in state.told or (due_ms is not None and due_ms <= now_ms)
    return SensorStatus(sensor, plan.place, heard.live_ms if heard else None, silent)


def channel_status(
    state: WatchState, channel: Channel, now_ms: int, *, of: Callable[[Line], bool] | None = None
) -> ChannelStatus:
    """Return how one channel stands, against all of its lines or those that ``of`` picks."""
    plan, track = state.plan.channels[channel], state.tracks[channel]
    pairs = [
        (line, standing)
        for line, standing in zip(plan.lines, track.standings, strict=True)
        if of is None or of(line)
    ]
    sound = trusted(state, channel)
    known = sound and track.newest is not None and now_ms - track.fresh_ms <= plan.gap_ms
    standing_now, since_ms = _stand(pairs, track)
    span_ms = track.newest.at_ms - (track.first_ms or 0) if track.newest else 0
    return ChannelStatus(
        channel=channel,
        state=standing_now if known else PlaceState.UNKNOWN,
        since_ms=since_ms if known else _lost_since(state, channel, plan.gap_ms),
        value=track.shown.value if track.shown else None,
        at_ms=track.shown.at_ms if track.shown else None,
        trusted=sound and track.shown is not None and track.shown.trusted,
        coverage=track.known_ms / span_ms if span_ms else None,
        trend_per_h=trend_per_h(track.tail_ms, track.tail_value),
        lines=tuple(_line(line, standing) for line, standing in pairs),
        habit_days=len(track.warming.habits.days) if plan.early is not None else None,
    )


def _channels(
    state: WatchState, place: str, now_ms: int, of: Callable[[Line], bool]
) -> tuple[ChannelStatus, ...]:
    return tuple(
        channel_status(state, channel, now_ms, of=of)
        for channel in state.plan.places[place].channels
    )


def _worst(channels: Iterable[ChannelStatus]) -> tuple[PlaceState, int | None]:
    judged = [each for each in channels if each.channel.quantity in JUDGED]
    for state in _WORST:
        times = [each.since_ms for each in judged if each.state is state]
        if times:
            return state, _since(state, [each for each in times if each is not None])
    return PlaceState.UNKNOWN, None


def _since(state: PlaceState, times: list[int]) -> int | None:
    """Return since when a place is in a state: the first to leave, the last to come back."""
    choose = max if state in (PlaceState.IN_BAND, PlaceState.UNKNOWN) else min
    return choose(times, default=None)


def _stand(pairs: list[tuple[Line, Standing]], track: Track) -> tuple[PlaceState, int | None]:
    """Return how the newest sample stands, and since when by exact crossings. [ms]"""
    harm = [s for line, s in pairs if line.kind is not None and (s.run or s.spell)]
    if harm:
        began = [run.began_ms for s in harm if (run := s.run or s.spell) is not None]
        return PlaceState.HARM, min(began)
    back = [s.inside_since_ms for line, s in pairs if s.inside_since_ms is not None]
    drift = [s.run.began_ms for line, s in pairs if line.kind is None and s.run is not None]
    if drift:
        after = [
            s.inside_since_ms
            for line, s in pairs
            if line.kind is not None and s.inside_since_ms is not None
        ]
        return PlaceState.DRIFTING, max(min(drift), *after, track.first_ms or 0)
    return PlaceState.IN_BAND, max(back, default=track.first_ms)


def _lost_since(state: WatchState, channel: Channel, gap_ms: int) -> int | None:
    track, doubt = state.tracks[channel], state.doubts.get(channel)
    if doubt is not None and doubt.sides:
        return doubt.since_ms
    return None if track.newest is None else track.fresh_ms + gap_ms


def _line(line: Line, standing: Standing) -> LineStatus:
    run = standing.run
    return LineStatus(
        ideal=line.kind is None,
        side=line.side,
        limit=line.limit,
        tolerated_s=None if line.tolerated_ms is None else line.tolerated_ms / 1000,
        owners=line.owners,
        outside=run is not None,
        began_ms=run.began_ms if run else None,
        outside_s=run.known_ms / 1000 if run else 0.0,
        whole_s=standing.whole_ms / 1000,
        degree_hours=standing.whole_area / _HOUR_MS,
        peak=run.peak if run else None,
        alarming=standing.spell is not None,
    )
