"""The watch's state after a start: replayed from the store, equal to one never stopped.

At most six hours of readings are replayed, silently up to what had been judged; a run
outside that reaches back further is read back to its beginning.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from monitor import watch
from monitor.batches import Book, open_batches
from monitor.daemon.habits import learned
from monitor.farm import ChannelSpec, Farm, calibrated
from monitor.model import Alarm, Channel, Flag, Reading, Transition
from monitor.report.recorded import posted_since
from monitor.science import exposure
from monitor.science.series import Samples as Known
from monitor.store import Configuration, ReadingReader, Series
from monitor.watch import Line, LineKey, Samples, WatchState
from monitor.watch.trust import BLOCK_MS, BLOCKS, Trust
from monitor.watch.warming import Harder, Warming

REPLAY_MS: Final = 6 * 3_600_000
_FURTHER_MS: Final = 7 * 24 * 3_600_000
_PAST_MS: Final = 40 * 24 * 3_600_000  # no habit, and no run, is read from further back
_TRUST_MS: Final = (BLOCKS + 1) * BLOCK_MS  # what a sensor is believed by
_AHEAD_MS: Final = 300_000
_EVER_MS: Final = 2**62
_FIRST: Final = 100  # readings among which the first that is judged is looked for
_SLICE_MS: Final = 60_000
NOT_JUDGED: Final = int(Flag.SUSPECT | Flag.TIME_UNCERTAIN | Flag.IMPORTED)


@dataclass(frozen=True, slots=True)
class Restored:
    """The state, and what has to be told that the ledger does not know yet."""

    state: WatchState
    transitions: tuple[Transition, ...]


def specs(farm: Farm) -> dict[Channel, ChannelSpec]:
    """Return how each declared channel is read."""
    return {
        Channel(sensor.id, spec.quantity): spec
        for sensor in farm.sensors.values()
        for spec in sensor.channels
    }


def judged(
    channel: Channel, spec: ChannelSpec, series: Series, received_ms: int | None = None
) -> Samples:
    """Return readings as the watch takes them: calibrated and clamped."""
    values = calibrated(spec, series.at_ms, series.raw)
    at = int(series.at_ms[-1]) if received_ms is None else received_ms
    return Samples(channel, series.at_ms, values, series.flags, at)


def live_samples(
    farm_specs: Mapping[Channel, ChannelSpec], taken: Sequence[Reading]
) -> list[Samples]:
    """Return what has just been read, a pack a channel; undeclared channels are left out."""
    by_channel: dict[Channel, list[Reading]] = {}
    for reading in taken:
        by_channel.setdefault(reading.channel, []).append(reading)
    return [
        judged(channel, farm_specs[channel], _series(readings), readings[-1].received_ms)
        for channel, readings in by_channel.items()
        if channel in farm_specs
    ]


def _series(readings: Sequence[Reading]) -> Series:
    return Series(
        np.array([each.at_ms for each in readings], np.int64),
        np.array([each.raw for each in readings], np.float64),
        np.array([int(each.flags) for each in readings], np.int64),
    )


@dataclass
class _Restoring:
    """One restoration: where readings are read from, and how far."""

    farm: Farm
    reader: ReadingReader
    now_ms: int
    book: Book
    accepted: Sequence[Configuration]

    def __post_init__(self) -> None:
        self.specs = specs(self.farm)
        self.until_ms = self.now_ms + _AHEAD_MS + 1  # what is later was timed by a wrong clock
        newest = self.reader.newest().values()
        known = [each.at_ms for each in newest if each.at_ms < self.until_ms]
        self.since_ms = max(known, default=self.now_ms) - REPLAY_MS
        ahead = [each for each in newest if each.at_ms >= self.until_ms]
        self.behind = any(not each.flags & Flag.CLOCK_UNSURE for each in ahead)
        self.unsure = {each.channel for each in ahead}  # a clock that was wrong timed some of it
        stays = [each.stays[-1].since_ms for each in open_batches(self.book)]
        asked_ms = min(self.since_ms - _PAST_MS, *stays, self.since_ms)
        self.posted = posted_since(self.farm, self.accepted, self.now_ms, asked_ms)

    def here_ms(self, channel: Channel, since_ms: int) -> int:
        """Return from when on to read: what was told before hung elsewhere. [ms]"""
        return max(since_ms, self.posted.get(channel.sensor, 0))

    def packs(
        self, state: WatchState, since: Mapping[Channel, int], after_ms: int = 0
    ) -> Iterator[Samples]:
        """Yield what each channel told, of which what is later than a time is wanted. [ms]"""
        for channel in state.plan.channels:
            spec = self.specs[channel]
            from_ms = self.here_ms(channel, since.get(channel, self.since_ms))
            from_ms = max(from_ms, after_ms + 1)
            series = self._timed(channel, from_ms)
            if len(series.at_ms):
                yield judged(channel, spec, series)

    def _timed(self, channel: Channel, from_ms: int) -> Series:
        """Leave out what a clock timed that was wrong, unless it still is and nothing better is."""
        series = self.reader.series(channel, from_ms, self.until_ms)
        unsure = (series.flags & int(Flag.CLOCK_UNSURE)) != 0
        if unsure.any():
            self.unsure.add(channel)
        if self.behind or not unsure.any():
            return series
        return Series(series.at_ms[~unsure], series.raw[~unsure], series.flags[~unsure])

    def open(self, alarm: Alarm) -> Alarm:
        """Return an open alarm; one that may bear a wrong clock's time is ended by news alone."""
        channel = Channel(alarm.sensor, alarm.quantity) if alarm.sensor and alarm.quantity else None
        if channel in self.specs:
            self._timed(channel, self.here_ms(channel, self.since_ms))
        if channel in self.unsure or alarm.raised_ms > self.until_ms:
            began_ms = min(alarm.began_ms, self.now_ms)
            return replace(alarm, began_ms=began_ms, raised_ms=self.now_ms)
        return alarm

    def harder(self, open_alarms: Sequence[Alarm]) -> dict[Channel, Harder]:
        """Return by which figures coolers were told to work harder; another place's are left."""
        return {
            channel: each
            for channel, each in watch.harder_before(open_alarms).items()
            if each.since_ms >= self.here_ms(channel, 0)
        }

    def learned(
        self, plan: watch.WatchPlan, until_ms: Mapping[Channel, int],
        harder: Mapping[Channel, Harder],
    ) -> dict[Channel, Warming]:  # fmt: skip
        """Return what each cooler's air taught before the first reading replayed. [ms]"""
        return learned(plan, self.specs, self.reader, until_ms, harder=harder, posted=self.posted)

    def half_hours(self, until_ms: Mapping[Channel, int]) -> dict[Channel, Trust]:
        """Return what two days before the first reading replayed say of each channel. [ms]"""
        found = {}
        for channel, end_ms in until_ms.items():
            series = self.reader.series(channel, self.here_ms(channel, end_ms - _TRUST_MS), end_ms)
            known = len(series.at_ms) > 0
            found[channel] = (
                watch.trust_in(judged(channel, self.specs[channel], series)) if known else Trust()
            )
        return found

    def further(self, state: WatchState) -> dict[Channel, int]:
        """Return from where on to read the channels that were out as the replay began."""
        found = {}
        for channel, first_ms in watch.unsettled(state).items():
            plan = state.plan.channels[channel]
            floor_ms = self.here_ms(channel, first_ms - _FURTHER_MS)
            inside_ms = self.reader.last_between(
                channel, first_ms, above=plan.quiet_above, below=plan.quiet_below,
                since_ms=floor_ms,
            )  # fmt: skip
            found[channel] = floor_ms if inside_ms is None else inside_ms
        return found

    def outside_before(
        self, plan: watch.WatchPlan, since: Mapping[Channel, int]
    ) -> dict[tuple[Channel, LineKey], int]:
        """Return the time outside from each stay's beginning to the first reading replayed. [ms]"""
        found = {}
        for channel, line in watch.stay_lines(plan):
            since_ms = since.get(channel, self.since_ms)
            if line.since_ms is not None and line.since_ms < since_ms:
                found[channel, line.key] = self._outside_ms(plan, channel, line, since_ms)
        return found

    def _outside_ms(
        self, plan: watch.WatchPlan, channel: Channel, line: Line, since_ms: int
    ) -> int:
        ahead = self.reader.page(channel, since_ms, _EVER_MS, _FIRST)
        judged_ms = ahead.at_ms[(ahead.flags & NOT_JUDGED) == 0]
        first_ms = int(judged_ms[0]) if judged_ms.size else since_ms
        from_ms = self.here_ms(channel, line.since_ms or 0)
        series = self.reader.series(channel, from_ms, first_ms + 1)
        values = calibrated(self.specs[channel], series.at_ms, series.raw)
        sound = ((series.flags & NOT_JUDGED) == 0) & np.isfinite(values)
        gap_s = plan.channels[channel].gap_ms / 1000
        known = Known(series.at_ms[sound], values[sound], gap_s)
        return round(exposure.time_outside_s(known, line.side, line.limit) * 1000)


def restore(
    farm: Farm,
    book: Book,
    reader: ReadingReader,
    now_ms: int,
    *,
    open_alarms: Sequence[Alarm] = (),
    healed: Sequence[Alarm] = (),
    judged_to_ms: int | None = None,
    accepted: Sequence[Configuration] = (),
) -> Restored:
    """Return the watch's state now, from what was stored.

    Parameters
    ----------
    farm, book : Farm, Book
        What was declared and what the ledger of batches amounts to.
    reader : ReadingReader
        The stored readings.
    now_ms : int
        The start. [ms]
    open_alarms : Sequence[Alarm]
        The ledger's alarms that are not normal.
    healed : Sequence[Alarm]
        Silences that ended, the oldest first.
    judged_to_ms : int or None
        Up to which sample time the ledger knows what was decided; None: to the end. [ms]
    accepted : Sequence[Configuration]
        The accepted configurations, the oldest first: since when each sensor hangs there.
    """
    work = _Restoring(farm, reader, now_ms, book, accepted)
    plan = watch.plan(farm, open_batches(book), book.loadings)
    heard = reader.heard()

    open_alarms = [work.open(each) for each in open_alarms]
    usual = dict.fromkeys(plan.channels, work.since_ms)
    harder = work.harder(open_alarms)
    warming = work.learned(plan, usual, harder)
    trust = work.half_hours(usual)

    def begun(since: Mapping[Channel, int]) -> WatchState:
        return watch.begin(
            plan, now_ms, heard=heard, open_alarms=open_alarms, healed=healed,
            outside_before=work.outside_before(plan, since),
            warming=warming | work.learned(plan, since, harder),
            trust=trust | work.half_hours(since), posted=work.posted,
        )  # fmt: skip

    since: dict[Channel, int] = {}
    state = begun(since)
    silent = _replayed(state, work.packs(state, since), judged_to_ms)
    if since := work.further(silent):
        state = begun(since)
        silent = _replayed(state, work.packs(state, since), judged_to_ms)
    settled = watch.settle(silent, open_alarms, now_ms, work.unsure)
    if judged_to_ms is None:
        return Restored(settled.state, settled.transitions)
    spoken = _spoken(settled.state, work.packs(state, since, judged_to_ms))
    return Restored(spoken.state, settled.transitions + spoken.transitions)


def _part(pack: Samples, chosen: "np.ndarray[tuple[int], np.dtype[np.bool_]]") -> Samples:
    return Samples(
        pack.channel, pack.at_ms[chosen], pack.value[chosen], pack.flags[chosen], pack.received_ms
    )


def _replayed(state: WatchState, packs: Iterator[Samples], judged_to_ms: int | None) -> WatchState:
    """Step through what had been judged, telling nothing."""
    for pack in packs:
        part = pack if judged_to_ms is None else _part(pack, pack.at_ms <= judged_to_ms)
        if part.at_ms.size:
            state = watch.step(state, part).state
    return state


def _spoken(state: WatchState, packs: Iterator[Samples]) -> Restored:
    """Step through what was stored but not judged, and keep what it tells.

    Minute by minute, all channels together, as it would have been judged.
    """
    told: list[Transition] = []
    for part in watch.slices({pack.channel: pack for pack in packs}, _SLICE_MS):
        stepped = watch.step(state, part)
        state = stepped.state
        told += stepped.transitions
    return Restored(state, tuple(told))
