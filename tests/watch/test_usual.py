"""A limit that has lasted, where this cooler's own habit explains it."""

from dataclasses import replace

import numpy as np

from monitor.model import Alarm, AlarmKind, AlarmState, Edge, Transition
from monitor.watch import Samples, WatchState, begin, plan, settle
from monitor.watch.events import Values
from monitor.watch.usual import WHY
from monitor.watch.warming import advance, newborn
from tests.watch.made import MINUTE_MS, NORTH, alarm_of, farm, run
from tests.watch.warming.test_warming import _DAY_MIN, _START_MS, _cycling, _times

_DAYS = 12
_LOADED_MIN = 10 * 60 + 10  # each morning at ten
_OUT_MIN = 44  # the limit tolerates 30


def _loaded(days: int, *, stuck_day: int | None = None) -> Values:
    """Return a cooler that warm stems lift to 8 °C each morning, and once for good."""
    air = np.minimum(_cycling(days) - 0.6, 4.0)
    shape = np.interp(np.arange(_OUT_MIN + 16), [0, 8, _OUT_MIN, _OUT_MIN + 16], [3, 8, 7.9, 3])
    for day in range(days):
        first = day * _DAY_MIN + _LOADED_MIN
        air[first : first + shape.size] = shape
        if day == stuck_day:
            air[first + 8 :] = 7.9
    return air


def _packs(air: Values, size: int) -> list[Samples]:
    times, packs = _times(air), []
    for first in range(0, air.size, size):
        at_ms = times[first : first + size]
        flags = np.ones(at_ms.size, np.int64)
        packs.append(Samples(NORTH, at_ms, air[first : first + size], flags, int(at_ms[-1])))
    return packs


def _judged(air: Values, size: int) -> tuple[WatchState, list[Transition]]:
    """Return the end, and what is told of warm air from the ninth day on."""
    state, told = run(begin(plan(farm(), []), _START_MS), _packs(air, size))
    late_ms = _START_MS + 9 * _DAY_MIN * MINUTE_MS
    warm = [each for each in told if each.key.kind is AlarmKind.TOO_WARM]
    return state, [each for each in warm if each.at_ms >= late_ms]


def test_a_loading_as_on_every_morning_is_expected() -> None:
    """Air over its limit for 44 minutes, as each day before, is expected and returns."""
    _, told = _judged(_loaded(_DAYS), 1)
    assert [(each.edge, each.expected) for each in told[:2]] == [
        (Edge.RAISE, WHY),
        (Edge.RETURN, ""),
    ]
    assert not [each for each in told if each.edge is Edge.RAISE and not each.expected]


def test_the_same_morning_that_does_not_end_is_raised_within_twice_the_tolerated_time() -> None:
    """Where the air stays over the limit, what was expected is raised for real."""
    for size in (1, 7):
        state, told = _judged(_loaded(10, stuck_day=9), size)
        raised = [each for each in told if each.edge is Edge.RAISE]
        assert raised[-1].expected == ""
        assert (raised[-1].at_ms - raised[-1].began_ms) / MINUTE_MS <= 60
        assert not state.told[raised[-1].key].usual


def test_in_its_first_week_nothing_is_explained_by_habit() -> None:
    """A cooler that is still being learned is judged by its limit alone."""
    _, told = run(begin(plan(farm(), []), _START_MS), _packs(_loaded(3), 1))
    warm = [each for each in told if each.key.kind is AlarmKind.TOO_WARM]
    assert warm
    assert not [each for each in warm if each.expected]


def test_what_was_expected_before_a_restart_is_expected_after_it() -> None:
    """The row of an expected alarm begins again as expected."""
    packs = _packs(_loaded(10), 1)
    stop = 9 * _DAY_MIN + _LOADED_MIN + 40
    state, told = run(begin(plan(farm(), []), _START_MS), packs[:stop])
    row: Alarm = replace(alarm_of(told[-1]), state=AlarmState.SUPPRESSED, why=WHY)
    learned = newborn()
    for pack in packs[: stop - 60]:
        learned = advance(learned, pack.at_ms, pack.value).warming
    again = begin(plan(farm(), []), state.now_ms, open_alarms=[row], warming={NORTH: learned})
    assert again.told[row.key].usual
    again, _ = run(again, packs[stop - 60 : stop])
    settled = settle(again, [row], state.now_ms)
    assert settled.transitions == ()
    assert settled.state.told == state.told
    assert run(settled.state, packs[stop:])[1] == run(state, packs[stop:])[1]
