"""A door that was left open."""

from monitor.model import AlarmKind, Channel, Edge, Quantity, Transition
from monitor.model.batch import Loading
from monitor.watch import Tick, begin, next_due, plan, step
from tests.watch.made import HOUR_MS, MINUTE_MS, START_MS, alarm_of, farm, pack, sensor

_FARM = farm(sensors=[sensor("latch", (Quantity.DOOR,))])
_DOOR = Channel("latch", Quantity.DOOR)


def _told(opens_min: int, shuts_min: int, *loadings: Loading) -> list[tuple[Edge, float]]:
    """Return what is told of a door: edge, minute."""
    state, told = begin(plan(_FARM, [], loadings), START_MS), list[Transition]()
    for minute in range(120):
        value = 1.0 if opens_min <= minute < shuts_min else 0.0
        stepped = step(state, pack(_DOOR, [minute], [value]))
        state = stepped.state
        told += stepped.transitions
    return [
        (each.edge, (each.at_ms - START_MS) / MINUTE_MS)
        for each in told
        if each.key.kind is AlarmKind.DOOR_OPEN
    ]


def test_a_door_left_open_is_told_once_and_ends_when_it_is_shut() -> None:
    """Open for 20 minutes (common practice) is raised; work of a quarter of an hour is not."""
    assert _told(10, 50) == [(Edge.RAISE, 30), (Edge.RETURN, 50)]
    assert not _told(10, 25)


def test_a_loading_waits_until_its_hold_is_over() -> None:
    """While the cooler is loaded its door stands open, and nobody need hear of it."""
    hold = Loading("cooler", START_MS + 5 * MINUTE_MS, START_MS + 5 * MINUTE_MS + HOUR_MS)
    assert not _told(10, 60, hold)
    assert _told(10, 90, hold) == [(Edge.RAISE, 65), (Edge.RETURN, 90)]


def test_a_door_is_told_by_the_clock_alone() -> None:
    """A sensor that speaks only when the door moves is waited for no longer than that."""
    state = begin(plan(_FARM, []), START_MS)
    state = step(state, pack(_DOOR, [0, 1], [0.0, 1.0])).state
    due_ms = START_MS + 21 * MINUTE_MS
    assert (next_due(state) or 0) <= due_ms
    told = step(state, Tick(due_ms)).transitions
    assert AlarmKind.DOOR_OPEN in {each.key.kind for each in told}


def test_a_restart_that_hears_nothing_of_the_door_ends_nothing() -> None:
    """An open door's alarm lasts until the sensor says shut, whatever else is heard."""
    state = begin(plan(_FARM, []), START_MS)
    state = step(state, pack(_DOOR, [0, 1], [0.0, 1.0])).state
    told = step(state, Tick(START_MS + HOUR_MS)).transitions
    (row,) = [alarm_of(each) for each in told if each.key.kind is AlarmKind.DOOR_OPEN]
    again = begin(plan(_FARM, []), START_MS + 9 * HOUR_MS, open_alarms=[row])
    quiet = step(again, Tick(START_MS + 9 * HOUR_MS + MINUTE_MS))
    assert row.key in quiet.state.told
    shut = step(quiet.state, pack(_DOOR, [9 * 60 + 2], [0.0]))
    assert [each.edge for each in shut.transitions if each.key == row.key] == [Edge.RETURN]
