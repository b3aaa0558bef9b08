"""Judges stored history afresh: what would have been raised, and when told.

Nothing is sent and nothing is stored. The batches of each moment count, the limits of
today. It tells what one reading at a time, in the order of time, would have told; a
channel that stays inside every harm limit is stepped in packs of up to a day.
"""

import heapq
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final

import numpy as np

from monitor import alarms, notices, watch
from monitor.batches import fold, open_batches
from monitor.daemon.lived import cut, doors_left_open, parts, silences
from monitor.daemon.restoring import judged, specs
from monitor.farm import Farm
from monitor.model import AlarmKey, Channel, Edge, Flag, LedgerEntry, Transition
from monitor.store import ReadingReader
from monitor.units import iso_utc
from monitor.watch import Samples
from monitor.watch.doors import next_doors
from monitor.watch.doubting import LOOK_MS
from monitor.watch.mistrust import next_look

SLICE_MS: Final = 24 * 3_600_000
_IMPORTED: Final = ~int(Flag.IMPORTED)


@dataclass(frozen=True, slots=True)
class Replayed:
    """One alarm as it would have been: times in [ms], None while it has not happened."""

    raised: Transition
    text: str
    notified_ms: int | None
    returned_ms: int | None = None


@dataclass
class Replay:
    """One replay of a farm's stored readings, from ``since_ms`` to ``until_ms``. [ms]

    ``posted`` is since when each sensor hangs where it does: what it told before is left out.
    """

    farm: Farm
    entries: Sequence[LedgerEntry]
    reader: ReadingReader
    since_ms: int
    until_ms: int
    posted: Mapping[str, int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.readings = 0
        self._specs = specs(self.farm)
        self._ended: list[Replayed] = []
        self._open: dict[AlarmKey, Replayed] = {}
        held = {each.until_ms for each in fold(self.entries).loadings}
        self._changes_ms = sorted({each.at_ms for each in self.entries} | held)

    def run(self, on_progress: Callable[[int], None] = lambda _ms: None) -> list[Replayed]:
        """Return every alarm, in the order they would have been raised."""
        self._state = watch.begin(self._plan(self.since_ms), self.since_ms)
        self._step(watch.Tick(self.since_ms))
        for start_ms in range(self.since_ms, self.until_ms, SLICE_MS):
            end_ms = min(start_ms + SLICE_MS, self.until_ms)
            self._slice(start_ms, end_ms)
            on_progress(end_ms)
        found = [*self._ended, *self._open.values()]
        return sorted(found, key=lambda each: each.raised.at_ms)

    def _plan(self, at_ms: int) -> watch.WatchPlan:
        book = fold(self.entries, until_ms=at_ms)
        batches = open_batches(book)
        self._words = alarms.wording(self.farm, batches, book.holds)
        return watch.plan(self.farm, batches, book.loadings)

    def _slice(self, start_ms: int, end_ms: int) -> None:
        """Take a slice of time, stopping wherever time itself may have something to tell."""
        packs = {pack.channel: pack for pack in self._packs(start_ms, end_ms)}
        self.readings += sum(len(pack.at_ms) for pack in packs.values())
        silent_ms = silences(self._state, packs.values(), start_ms, end_ms)
        silent_ms += doors_left_open(packs.values())
        taken = dict.fromkeys(packs, 0)
        at_ms: int | None = start_ms - 1
        while at_ms is not None:
            at_ms = self._next_stop(at_ms, end_ms, silent_ms)
            while not self._take(packs, taken, end_ms if at_ms is None else at_ms):
                at_ms = next_look(self._state)
            if at_ms is not None:
                self._stop(at_ms)

    def _next_stop(self, after_ms: int, end_ms: int, silent_ms: Sequence[int]) -> int | None:
        """Return when next to look: a silence, a stage that ends, an entry in the ledger."""
        ends_ms = (each.due_ms for each in self._state.plan.dues if each.late_harms)
        look_ms = (after_ms // LOOK_MS + 1) * LOOK_MS
        soon_ms = next_look(self._state) or look_ms
        doors_ms = next_doors(self._state)
        known = (*silent_ms, *ends_ms, *self._changes_ms, *doors_ms, look_ms, soon_ms)
        return min((each for each in known if after_ms < each < end_ms), default=None)

    def _stop(self, at_ms: int) -> None:
        if at_ms in self._changes_ms and at_ms > self.since_ms:
            self._step(watch.Replanned(self._plan(at_ms), at_ms))
        else:
            self._step(watch.Tick(at_ms))

    def _take(
        self, packs: Mapping[Channel, Samples], taken: dict[Channel, int], to_ms: int
    ) -> bool:
        """Take what was read up to a time; return False once a look falls due before it."""
        streams = []
        for channel, pack in packs.items():
            first, last = taken[channel], int(np.searchsorted(pack.at_ms, to_ms, side="right"))
            if first < last:
                streams.append(parts(cut(pack, first, last), lambda: self._state))
        for part in heapq.merge(*streams, key=_time):
            self._step(part)
            taken[part.channel] += len(part.at_ms)
            due_ms = next_look(self._state) if self._state.doubts else None
            if due_ms is not None and due_ms < to_ms:
                return False
        return True

    def _packs(self, start_ms: int, end_ms: int) -> Iterator[Samples]:
        for channel, spec in self._specs.items():
            hung_ms = self.posted.get(channel.sensor, 0)
            series = self.reader.series(channel, max(start_ms, hung_ms), end_ms)
            if len(series.at_ms):
                plain = replace(series, flags=series.flags & _IMPORTED)
                yield judged(channel, spec, plain)

    def _step(self, event: watch.Event) -> None:
        stepped = watch.step(self._state, event)
        self._state = stepped.state
        for transition in stepped.transitions:
            if transition.edge is Edge.RAISE:
                self._open[transition.key] = self._raised(transition)
            elif transition.key in self._open:
                raised = self._open.pop(transition.key)
                self._ended.append(_over(raised, transition.at_ms))

    def _raised(self, transition: Transition) -> Replayed:
        farm, at_ms = self.farm, transition.at_ms
        text = alarms.say(transition, self._words, at_ms).text
        from_ms = max(at_ms, int(transition.facts.get("tell_ms", at_ms)))
        told_ms = notices.due_ms(transition.priority, farm.notices, farm.zone, from_ms)
        if transition.expected:
            told_ms = None
        return Replayed(transition, text, told_ms)


def _over(raised: Replayed, at_ms: int) -> Replayed:
    """Return an alarm that ended; before it was worth telling, nobody was told. [ms]"""
    waits = "tell_ms" in raised.raised.facts
    early = waits and raised.notified_ms is not None and at_ms < raised.notified_ms
    return replace(raised, returned_ms=at_ms, notified_ms=None if early else raised.notified_ms)


def _time(pack: Samples) -> int:
    return int(pack.at_ms[-1])


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
