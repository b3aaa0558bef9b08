"""Which sensors are alive: heard by the receipt of live readings, silent by the clock.

A sensor that was never heard is *waiting*, which is no alarm. Readings that were queued,
retained, imported or sent late say nothing about now.
"""

from collections.abc import Iterator
from dataclasses import replace
from typing import Final

import numpy as np

from monitor.model import AlarmKey, AlarmKind, Flag, PlaceKind
from monitor.watch.events import Samples
from monitor.watch.plan import SensorPlan
from monitor.watch.state import Heard, WatchState

SILENT_KINDS: Final = (PlaceKind.COOLER, PlaceKind.SPROUTING_ROOM)
WEEK_MS: Final = 7 * 86_400_000
_INTERVALS: Final = 20
_WAKES_MS: Final = 30 * 60_000
_WAITS_MS: Final = 60 * 60_000
_LONGEST_MS: Final = 2 * 3_600_000
_HEALED: Final = 1.3

_NOT_LIVE: Final = int(Flag.TIME_UNCERTAIN | Flag.IMPORTED)


def hear(before: Heard | None, sensor: SensorPlan, pack: Samples) -> Heard | None:
    """Return when a sensor was heard, after a pack of one of its channels.

    A pack is live when its newest sample is no older than the sensor may be silent, or
    as old as its samples always are: a slow clock is not a dead sensor.
    """
    flags = np.asarray(pack.flags)
    at_ms = pack.at_ms[(flags & _NOT_LIVE) == 0] if flags.any() else pack.at_ms
    if not at_ms.size:
        return before
    lag_ms = pack.received_ms - int(at_ms.max())
    live = lag_ms <= sensor.silent_after_ms or _steady(before, sensor, lag_ms, pack.received_ms)
    live_ms = before.live_ms if before else None
    if live:
        live_ms = max(pack.received_ms, live_ms or 0)
    if before is None:
        return Heard(live_ms, pack.received_ms, lag_ms)
    return replace(before, live_ms=live_ms, received_ms=pack.received_ms, lag_ms=lag_ms)


def _steady(before: Heard | None, sensor: SensorPlan, lag_ms: int, received_ms: int) -> bool:
    if before is None or received_ms - before.received_ms < sensor.interval_ms // 2:
        return False
    return abs(lag_ms - before.lag_ms) <= sensor.interval_ms


def counted_ms(state: WatchState, sensor: SensorPlan) -> int | None:
    """Return since when a sensor's silence counts; None if it was never heard. [ms]

    From the last live reading, from the start of this program, or from when it could be
    heard again, whichever is latest.
    """
    heard = state.heard.get(sensor.id)
    if heard is None or heard.live_ms is None:
        return None
    return max(heard.live_ms, state.started_ms, heard.afresh_ms or 0)


def silent_from(state: WatchState, sensor: SensorPlan) -> int | None:
    """Return when a sensor counts as silent unless heard before; None if never heard. [ms]"""
    since_ms = counted_ms(state, sensor)
    return None if since_ms is None else since_ms + sensor.silent_after_ms


def last_heard(state: WatchState, sensor: SensorPlan) -> int:
    """Return when a sensor was last heard, 0 if never. [ms]"""
    heard = state.heard.get(sensor.id)
    return 0 if heard is None else heard.live_ms or 0


def tell_ms(state: WatchState, sensor: SensorPlan, *, wakes: bool) -> int:
    """Return from when on a sensor's silence is worth telling a person. [ms]

    After twenty intervals, half an hour where it leaves a cooler or a sprouting room with
    batches unheard, else an hour at most; and after 1.3 times the longest silence that
    healed by itself in the last week, two hours at most (common practice).
    """
    heard = state.heard.get(sensor.id)
    healed = heard.healed if heard else ()
    recent = (long for at_ms, long in healed if at_ms > state.now_ms - WEEK_MS)
    usual_ms = min(round(_HEALED * max(recent, default=0)), _LONGEST_MS)
    patient_ms = min(_INTERVALS * sensor.interval_ms, _WAKES_MS if wakes else _WAITS_MS)
    wait_ms = max(sensor.silent_after_ms, patient_ms, usual_ms)
    return (counted_ms(state, sensor) or state.now_ms) + wait_ms


def look_ms(state: WatchState, sensor: SensorPlan) -> int:
    """Return when at last to look what a silence has in common with others: by then it shows. [ms]

    Two intervals after its own time, since the last words of what fell silent together lie
    no further apart.
    """
    return (silent_from(state, sensor) or state.now_ms) + look_after_ms(sensor)


def look_after_ms(sensor: SensorPlan) -> int:
    """Return how long after a sensor's own time that is. [ms]"""
    return min(2 * sensor.interval_ms, _WAITS_MS)


def healed(heard: Heard, back_ms: int, length_ms: int) -> Heard:
    """Return what is known of a sensor once a silence of it has ended by itself. [ms]"""
    kept = [each for each in heard.healed if each[0] > back_ms - WEEK_MS and each[1] > length_ms]
    return replace(heard, healed=(*kept, (back_ms, length_ms)))


def silence_key(sensor: str) -> AlarmKey:
    """Return the key of the alarm of a silent sensor."""
    return AlarmKey(AlarmKind.SENSOR_SILENT, sensor)


def next_silences(state: WatchState) -> Iterator[int]:
    """Yield when each sensor that speaks would count as silent. [ms]"""
    if state.deaf_ms is not None:
        return
    for sensor in state.plan.sensors.values():
        due_ms = silent_from(state, sensor)
        if due_ms is None:
            continue
        told = state.told.get(silence_key(sensor.id))
        if told is None:
            yield due_ms
        elif told.cause is None and (at_ms := look_ms(state, sensor)) > state.now_ms:
            yield at_ms
