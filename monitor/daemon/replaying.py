"""Judges stored history afresh: what would have been raised, and when told.

Nothing is sent and nothing is stored. The batches of each moment count, the limits of
today. A channel whose values stay far from every limit is stepped in long packs; the
others sample by sample, in the order of time, as they came in.
"""

import heapq
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np

from monitor import alarms, notices, watch
from monitor.batches import fold, open_batches
from monitor.daemon.restoring import judged, specs
from monitor.farm import Farm
from monitor.model import AlarmKey, AlarmKind, Channel, Edge, Flag, LedgerEntry, Side, Transition
from monitor.store import ReadingReader
from monitor.units import iso_utc
from monitor.watch import Samples
from monitor.watch.events import Times
from monitor.watch.plan import SensorPlan

SLICE_MS: Final = 3 * 3_600_000
_IMPORTED: Final = ~int(Flag.IMPORTED)
_NEVER: Final = 2**53
_NONE: Final = np.empty(0, np.int64)


@dataclass(frozen=True, slots=True)
class Replayed:
    """One alarm as it would have been: times in [ms], None while it has not happened."""

    raised: Transition
    text: str
    notified_ms: int | None
    returned_ms: int | None = None


@dataclass
class Replay:
    """One replay of a farm's stored readings, from ``since_ms`` to ``until_ms``. [ms]"""

    farm: Farm
    entries: Sequence[LedgerEntry]
    reader: ReadingReader
    since_ms: int
    until_ms: int

    def __post_init__(self) -> None:
        self.readings = 0
        self._specs = specs(self.farm)
        self._ended: list[Replayed] = []
        self._open: dict[AlarmKey, Replayed] = {}
        self._last_ms: dict[str, int] = {}
        self._changes_ms = sorted({each.at_ms for each in self.entries})

    def run(self, on_progress: Callable[[int], None] = lambda _ms: None) -> list[Replayed]:
        """Return every alarm, in the order they would have been raised."""
        plan = self._plan(self.since_ms)
        state = watch.begin(plan, self.since_ms)
        for start_ms in range(self.since_ms, self.until_ms, SLICE_MS):
            end_ms = min(start_ms + SLICE_MS, self.until_ms)
            if any(start_ms <= at_ms < end_ms for at_ms in self._changes_ms):
                state = self._note(watch.step(state, watch.Replanned(self._plan(end_ms), start_ms)))
            state = self._slice(state, start_ms, end_ms)
            on_progress(end_ms)
        found = [*self._ended, *self._open.values()]
        return sorted(found, key=lambda each: each.raised.at_ms)

    def _plan(self, at_ms: int) -> watch.WatchPlan:
        self._book = fold(self.entries, until_ms=at_ms)
        batches = open_batches(self._book)
        self._words = alarms.wording(self.farm, batches, self._book.holds)
        return _without_silence(watch.plan(self.farm, batches))

    def _slice(self, state: watch.WatchState, start_ms: int, end_ms: int) -> watch.WatchState:
        packs = list(self._packs(start_ms, end_ms))
        self.readings += sum(len(pack.at_ms) for pack in packs)
        parts = [[pack] if _calm(state, pack) else _singly(pack) for pack in packs]
        for pack in heapq.merge(*parts, key=_time):
            state = self._until(state, _time(pack))
            state = self._note(watch.step(state, pack))
        state = self._until(state, end_ms)
        self._silences(state, packs, end_ms)
        return state

    def _until(self, state: watch.WatchState, at_ms: int) -> watch.WatchState:
        """Let time pass, looking again whenever the watch asked for it."""
        due_ms = watch.next_due(state)
        if due_ms is None or due_ms > at_ms:
            return state
        return self._note(watch.step(state, watch.Tick(due_ms)))

    def _silences(self, state: watch.WatchState, packs: list[Samples], end_ms: int) -> None:
        """Tell of the sensors that said nothing for too long, and of their return."""
        heard: dict[str, list[Times]] = {}
        for pack in packs:
            heard.setdefault(pack.channel.sensor, []).append(pack.at_ms)
        for sensor in self.farm.sensors.values():
            plan = state.plan.sensors[sensor.id]
            for at_ms in np.unique(np.concatenate(heard.get(sensor.id, [_NONE]))).tolist():
                self._heard(state, plan, at_ms, sensor.silent_after_s)
                self._last_ms[sensor.id] = at_ms
            self._heard(state, plan, None, sensor.silent_after_s, end_ms)

    def _heard(
        self, state: watch.WatchState, plan: SensorPlan, at_ms: int | None, silent_after_s: float,
        end_ms: int = 0,
    ) -> None:  # fmt: skip
        last_ms = self._last_ms.get(plan.id)
        if last_ms is None:
            return
        due_ms = last_ms + round(silent_after_s * 1000)
        key = AlarmKey(AlarmKind.SENSOR_SILENT, plan.id)
        if due_ms < (end_ms if at_ms is None else at_ms) and key not in self._open:
            then = replace(state, now_ms=due_ms)
            self._open[key] = self._raised(watch.silence(then, plan, Edge.RAISE, last_ms))
        if at_ms is not None and key in self._open:
            self._ended.append(replace(self._open.pop(key), returned_ms=at_ms))

    def _packs(self, start_ms: int, end_ms: int) -> Iterator[Samples]:
        for channel, spec in self._specs.items():
            series = self.reader.series(channel, start_ms, end_ms)
            if len(series.at_ms):
                plain = replace(series, flags=series.flags & _IMPORTED)
                yield judged(channel, spec, plain)

    def _note(self, stepped: watch.Stepped) -> watch.WatchState:
        for transition in stepped.transitions:
            if transition.edge is Edge.RAISE:
                self._open[transition.key] = self._raised(transition)
            elif transition.key in self._open:
                raised = self._open.pop(transition.key)
                self._ended.append(replace(raised, returned_ms=transition.at_ms))
        return stepped.state

    def _raised(self, transition: Transition) -> Replayed:
        farm, at_ms = self.farm, transition.at_ms
        text = alarms.say(transition, self._words, at_ms).text
        told_ms = notices.due_ms(transition.priority, farm.notices, farm.zone, at_ms)
        return Replayed(transition, text, told_ms)


def _time(pack: Samples) -> int:
    return int(pack.at_ms[-1])


def _calm(state: watch.WatchState, pack: Samples) -> bool:
    """Return whether a pack stays inside every harm limit: nothing can be told, however cut."""
    plan, track = state.plan.channels.get(pack.channel), state.tracks.get(pack.channel)
    if plan is None or track is None:
        return True
    least, most = float(pack.value.min()), float(pack.value.max())
    for line, standing in zip(plan.lines, track.standings, strict=True):
        if line.kind is None:
            continue
        inside = most < line.limit if line.side is Side.HIGH else least > line.limit
        if not inside or standing.run is not None or standing.spell is not None:
            return False
    return True


def _singly(pack: Samples) -> Iterator[Samples]:
    for at in range(len(pack.at_ms)):
        yield _cut(pack, at, at + 1)


def _without_silence(plan: watch.WatchPlan) -> watch.WatchPlan:
    """Return a plan under which time alone silences no sensor: gaps are looked at apart."""
    return replace(
        plan,
        sensors={key: replace(each, silent_after_ms=_NEVER) for key, each in plan.sensors.items()},
        channels={
            key: replace(each, silent_after_ms=_NEVER) for key, each in plan.channels.items()
        },
    )


def _cut(pack: Samples, first: int, last: int) -> Samples:
    at_ms = pack.at_ms[first:last]
    return Samples(
        pack.channel, at_ms, pack.value[first:last], pack.flags[first:last], int(at_ms[-1])
    )


def replayed_json(found: Sequence[Replayed]) -> list[dict[str, Any]]:
    """Return the alarms of a replay in the shape that others may rely on."""
    return [
        {
            "kind": each.raised.key.kind.value, "place": each.raised.place,
            "sensor": each.raised.sensor, "priority": each.raised.priority.value,
            "began_at": iso_utc(each.raised.began_ms), "raised_at": iso_utc(each.raised.at_ms),
            "returned_at": iso_utc(each.returned_ms), "notified_at": iso_utc(each.notified_ms),
            "text": each.text,
        }
        for each in found
    ]  # fmt: skip


def span(reader: ReadingReader, channels: Mapping[Channel, object]) -> tuple[int, int] | None:
    """Return the first and the last time of the stored readings, or None. [ms]"""
    newest = [each.at_ms for channel, each in reader.newest().items() if channel in channels]
    first = [at for channel in channels if (at := reader.first_at(channel)) is not None]
    return (min(first), max(newest)) if first and newest else None
