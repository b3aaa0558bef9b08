"""A probe that sends its fault code: not believed, told, and its place is unknown."""

import numpy as np
import pytest

from monitor.model import AlarmKind, Edge, PlaceState, Quantity, Side, Transition
from monitor.watch import Samples, Tick, WatchState, begin, place_status, plan, settle, step
from monitor.watch.doubting import believed
from tests.watch.made import (
    HOUR_MS,
    MINUTE_MS,
    NORTH,
    SOUTH,
    START_MS,
    alarm_of,
    farm,
    run,
    sensor,
)  # fmt: skip

_AIR = (Quantity.TEMPERATURE,)
_CALM_H, _FAULT_H = 30, 5


def _played(code_c: float, *, second: bool) -> tuple[WatchState, list[Transition]]:
    """Return a cooler's end whose probe says a fault code for five hours."""
    names = ("north", "south") if second else ("north",)
    of = plan(farm(sensors=[sensor(each, _AIR) for each in names]), [])
    minutes = np.arange((_CALM_H + _FAULT_H) * 60)
    air = 2.5 + 0.5 * np.sin(minutes / 20.0)
    failed = np.where(minutes >= _CALM_H * 60, code_c, air)
    events: list[Samples | Tick] = []
    for first in range(0, minutes.size, 10):
        at_ms = START_MS + minutes[first : first + 10].astype(np.int64) * MINUTE_MS
        flags, last = np.zeros(at_ms.size, np.int64), int(at_ms[-1])
        events.append(Samples(NORTH, at_ms, failed[first : first + 10], flags, last))
        if second:
            events.append(Samples(SOUTH, at_ms, air[first : first + 10] + 0.3, flags, last))
        events.append(Tick(last))
    return run(begin(of, START_MS), events)


@pytest.mark.parametrize("code_c", [85.0, -127.0, 29.4, 25.0])
def test_a_fault_code_wakes_for_the_sensor_and_not_for_the_cooler(code_c: float) -> None:
    """Codes of a common digital probe (its data sheet's power-on value; cut off, from memory)."""
    state, told = _played(code_c, second=False)
    assert [(each.key.kind, each.edge) for each in told] == [
        (AlarmKind.SENSOR_DOUBTFUL, Edge.RAISE)
    ]
    begun_ms = START_MS + _CALM_H * HOUR_MS
    assert begun_ms < told[0].at_ms <= begun_ms + 4 * HOUR_MS
    assert place_status(state, "cooler", state.now_ms).state is PlaceState.UNKNOWN


def test_with_a_second_sensor_the_place_stays_known() -> None:
    """The other goes on judging: the place is in band."""
    state, told = _played(85.0, second=True)
    assert [each.key.kind for each in told] == [AlarmKind.SENSOR_DOUBTFUL]
    assert place_status(state, "cooler", state.now_ms).state is not PlaceState.UNKNOWN


@pytest.mark.parametrize("code_c", [85.0, 29.4])
def test_what_is_doubted_before_a_restart_is_doubted_after_it(code_c: float) -> None:
    """The ledger's open alarm and six hours of readings: neither believed nor taken back."""
    state, told = _played(code_c, second=False)
    alarm = alarm_of(told[0])
    again = begin(state.plan, state.now_ms, open_alarms=[alarm])
    track = state.tracks[NORTH]
    kept = Samples(
        NORTH, track.tail_ms[-120:], track.tail_value[-120:], np.zeros(120, np.int64),
        state.now_ms,
    )  # fmt: skip
    silent = step(again, kept).state
    settled = settle(silent, [alarm], state.now_ms)
    assert settled.transitions == ()
    assert not believed(settled.state, NORTH, Side.HIGH)
    assert place_status(settled.state, "cooler", state.now_ms).state is PlaceState.UNKNOWN
