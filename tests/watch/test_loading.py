"""A cooler that is being loaded: what is expected then, and what is told all the same."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from monitor.batches.loading import LONGEST_MS
from monitor.model import AlarmKind, AlarmState, Edge
from monitor.model.batch import Loading
from monitor.watch import Samples, Tick, WatchPlan, begin, next_due, plan, settle, step
from monitor.watch.events import Values
from monitor.watch.loading import LOADING
from monitor.watch.warming import advance, newborn
from tests.watch.made import MINUTE_MS, NORTH, START_MS, alarm_of, farm, run
from tests.watch.warming.test_warming import _cycling, _times

_BEGIN_MIN, _HELD_MIN = 60, 60
_HOLD = Loading(
    "cooler", START_MS + _BEGIN_MIN * MINUTE_MS, START_MS + (_BEGIN_MIN + _HELD_MIN) * MINUTE_MS
)


def _held() -> WatchPlan:
    return plan(farm(), [], [_HOLD])


def _air(loaded_c: float, lasts_min: int) -> list[Samples]:
    """Return an hour at 3 °C, the air while it is loaded, and an hour at 3 °C again."""
    value: Values = np.concatenate(
        [np.full(_BEGIN_MIN, 3.0), np.full(lasts_min, loaded_c), np.full(60, 3.0)]
    )
    packs = []
    for number, each in enumerate(value):
        at_ms = np.array([START_MS + number * MINUTE_MS], dtype=np.int64)
        flags = np.ones(1, np.int64)
        packs.append(Samples(NORTH, at_ms, np.array([each]), flags, int(at_ms[0])))
    return packs


def _told(packs: Sequence[Samples], judged: WatchPlan) -> list[tuple[Edge, str, float]]:
    """Return what is told of the cooler's temperature: edge, why expected, minute."""
    _, told = run(begin(judged, START_MS), packs)
    kinds = (AlarmKind.TOO_WARM, AlarmKind.TOO_COLD)
    return [
        (each.edge, each.expected, (each.at_ms - START_MS) / MINUTE_MS)
        for each in told
        if each.key.kind in kinds
    ]


def test_warm_air_is_expected_while_a_cooler_is_loaded() -> None:
    """Air over its limit for 50 minutes of a loading is never raised for real."""
    found = _told(_air(7.0, 50), _held())
    assert [each[:2] for each in found] == [(Edge.RAISE, LOADING), (Edge.RETURN, "")]
    assert _told(_air(7.0, 50), plan(farm(), []))[0][1] == ""


def test_it_is_raised_for_real_when_the_hold_ends_and_it_is_still_warm() -> None:
    """At the end of the hold the same alarm is raised without being expected."""
    found = _told(_air(7.0, 80), _held())
    assert [each[:2] for each in found] == [
        (Edge.RAISE, LOADING),
        (Edge.RAISE, ""),
        (Edge.RETURN, ""),
    ]
    assert found[1][2] == _BEGIN_MIN + _HELD_MIN


def test_a_silent_sensor_does_not_put_off_the_end_of_the_hold() -> None:
    """Where no reading comes any more, the clock alone raises what was expected."""
    state, told = run(begin(_held(), START_MS), _air(7.0, 200)[: _BEGIN_MIN + 57])
    assert told[-1].expected == LOADING
    while state.now_ms < _HOLD.until_ms:
        due_ms = next_due(state)
        assert due_ms is not None
        stepped = step(state, Tick(max(state.now_ms, min(due_ms, _HOLD.until_ms))))
        state, found = stepped.state, stepped.transitions
    (real,) = [each for each in found if each.key.kind is AlarmKind.TOO_WARM]
    assert (real.expected, real.at_ms) == ("", _HOLD.until_ms)


@pytest.mark.parametrize("loaded_c", [-2.0, 15.0])
def test_freezing_and_harm_to_what_is_kept_are_told_all_the_same(loaded_c: float) -> None:
    """Frost, or air so warm that stems pass their harm limit in the hold, is not expected.

    Stems that follow at 2 h (common practice) go from 3 °C past 5 °C in 22 min of 15 °C.
    """
    found = _told(_air(loaded_c, 50), _held())
    assert found[0][:2] == (Edge.RAISE, "")


def test_a_hold_that_was_ended_by_hand_expects_nothing_more() -> None:
    """A new plan with a shorter hold raises at once what it does not explain."""
    packs = _air(7.0, 58)
    state, told = run(begin(_held(), START_MS), packs[: _BEGIN_MIN + 40])
    assert told[-1].expected == LOADING
    ended = plan(farm(), [], [_HOLD._replace(until_ms=state.now_ms)])
    _, more = run(replace(state, plan=ended), packs[_BEGIN_MIN + 40 : _BEGIN_MIN + 42])
    assert [(each.edge, each.expected) for each in more] == [(Edge.RAISE, "")]


def test_a_restart_in_the_hold_tells_what_it_would_have_told() -> None:
    """After a restart the expected alarm is raised for real at the same moment."""
    packs, stop = _air(7.0, 80), _BEGIN_MIN + 40
    state, told = run(begin(_held(), START_MS), packs[:stop])
    row = replace(alarm_of(told[-1]), state=AlarmState.SUPPRESSED, why=LOADING)
    again, _ = run(begin(_held(), START_MS, open_alarms=[row]), packs[:stop])
    settled = settle(again, [row], state.now_ms)
    assert settled.transitions == ()
    assert run(settled.state, packs[stop:])[1] == run(state, packs[stop:])[1]


def test_a_rise_that_begins_in_a_loading_is_not_learned() -> None:
    """Of two equal warm spells, the one within the hold leaves no habit."""
    air = _cycling(9)
    for day in (7, 8):
        air[day * 1440 + 600 : day * 1440 + 640] = 9.0
    at_ms = _times(air)
    first_ms = int(at_ms[8 * 1440 + 590])
    hold = (first_ms, first_ms + LONGEST_MS)

    def began(holds: tuple[tuple[int, int], ...]) -> set[int]:
        known = advance(newborn(), at_ms, air, holds).warming
        return {each.began_ms for each in (*known.habits.rises, *known.rises)}

    all_of_them, kept = began(()), began((hold,))
    assert int(at_ms[7 * 1440 + 600]) in kept
    assert all_of_them - kept == {int(at_ms[8 * 1440 + 600])}
