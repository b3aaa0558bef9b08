"""What the daemon itself tells of a cooler: the whole watch, early warning and limit alike."""

import tempfile
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Final

import numpy as np

from monitor.daemon.lived import cut, parts, silences
from monitor.farm import Farm, load
from monitor.farm.starting import Start, write_starter
from monitor.model import AlarmKind, Channel, Edge, Priority, Quantity, Transition
from monitor.watch import Samples, Tick, WatchPlan, WatchState, begin, plan, step
from monitor.watch.doubting import LOOK_MS
from monitor.watch.events import Times
from tests.benchmarks.alarm_trial.coolers import Month

_DAY_MS: Final = 86_400_000
_SENSOR: Final = "cooler-back"
_AIR: Final = Channel(_SENSOR, Quantity.TEMPERATURE)


@cache
def _starter() -> Farm:
    """Return the starter farm with one thermometer in its cooler."""
    with tempfile.TemporaryDirectory(prefix="trial-") as name:
        folder = Path(name) / "farm"
        write_starter(folder, Start(), {})
        farm = load(folder)
    place = farm.sensors[_SENSOR].place
    return replace(
        farm,
        sensors={_SENSOR: farm.sensors[_SENSOR]},
        places={place: farm.places[place]},
    )


@cache
def _plan(interval_ms: int) -> WatchPlan:
    """Return the plan of a cooler that is read so often and called silent after three times."""
    farm, every_s = _starter(), interval_ms / 1000.0
    sensor = replace(
        farm.sensors[_SENSOR], interval_s=every_s, silent_after_s=3.0 * every_s + 60.0,
        allowed_gap_s=3.0 * every_s,
    )  # fmt: skip
    return plan(replace(farm, sensors={_SENSOR: sensor}), [])


def told(month: Month) -> list[Transition]:
    """Return everything that is raised over a month, in the order of time."""
    start_ms = int(month.at_ms[0])
    state = begin(_plan(month.interval_ms), start_ms)
    raised: list[Transition] = []
    ones = np.ones(month.at_ms.size, dtype=np.int64)
    whole = Samples(_AIR, month.at_ms, month.value, ones, int(month.at_ms[-1]))
    silent_ms = silences(state, [whole], start_ms, int(month.at_ms[-1]))
    looks = range((start_ms // LOOK_MS + 1) * LOOK_MS, int(month.at_ms[-1]), LOOK_MS)
    stops = sorted({*silent_ms, *looks})
    first = 0
    for stop_ms in (*stops, int(month.at_ms[-1])):
        last = int(np.searchsorted(month.at_ms, stop_ms, side="right"))
        if first < last:
            state = _take(state, cut(whole, first, last), raised)
        first = max(first, last)
        stepped = step(state, Tick(stop_ms))
        state = stepped.state
        raised += stepped.transitions
    return [each for each in raised if each.edge is Edge.RAISE]


def _take(state: WatchState, pack: Samples, raised: list[Transition]) -> WatchState:
    """Take a pack in as few parts as tell the same; return the state after it."""
    now = [state]
    for part in parts(pack, lambda: now[-1]):
        stepped = step(now[-1], part)
        now[-1] = stepped.state
        raised += stepped.transitions
    return now[-1]


def whole_watch(month: Month) -> Times:
    """Tell when the daemon would wake someone because the cooler is too warm."""
    waking = [
        each.at_ms
        for each in told(month)
        if each.key.kind is AlarmKind.TOO_WARM
        and each.priority is Priority.HIGH
        and not each.expected
    ]
    return np.array(waking, dtype=np.int64)


__all__ = ["told", "whole_watch"]
