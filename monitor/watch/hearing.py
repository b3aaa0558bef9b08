"""Which sensors are alive: heard by the receipt of live readings, silent by the clock.

A sensor that was never heard is *waiting*, which is no alarm. Readings that were queued,
retained, imported or sent late say nothing about now.
"""

from collections.abc import Iterator
from typing import Final

import numpy as np

from monitor.model import AlarmKey, AlarmKind, Flag
from monitor.watch.events import Samples
from monitor.watch.plan import SensorPlan
from monitor.watch.state import Heard, WatchState

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
    return Heard(live_ms, pack.received_ms, lag_ms)


def _steady(before: Heard | None, sensor: SensorPlan, lag_ms: int, received_ms: int) -> bool:
    if before is None or received_ms - before.received_ms < sensor.interval_ms // 2:
        return False
    return abs(lag_ms - before.lag_ms) <= sensor.interval_ms


def silent_from(state: WatchState, sensor: SensorPlan) -> int | None:
    """Return when a sensor counts as silent unless heard before; None if never heard. [ms]

    Counted from the last live reading, or from the start of this program, whichever is
    later.
    """
    heard = state.heard.get(sensor.id)
    if heard is None or heard.live_ms is None:
        return None
    return max(heard.live_ms, state.started_ms) + sensor.silent_after_ms


def silence_key(sensor: str) -> AlarmKey:
    """Return the key of the alarm of a silent sensor."""
    return AlarmKey(AlarmKind.SENSOR_SILENT, sensor)


def next_silences(state: WatchState) -> Iterator[int]:
    """Yield when each sensor that speaks would count as silent. [ms]"""
    for sensor in state.plan.sensors.values():
        due_ms = silent_from(state, sensor)
        if due_ms is not None and silence_key(sensor.id) not in state.told:
            yield due_ms
