"""Sensors that fall silent, by the receipt of live readings and the clock."""

import pytest

from monitor.model import AlarmKey, AlarmKind, Edge, Flag, PlaceKind, Priority
from monitor.watch import (
    Replanned,
    Samples,
    Tick,
    WatchState,
    begin,
    next_due,
    plan,
    sensor_status,
    step,
)
from monitor.watch.priority import of_silence
from tests.watch.made import (
    HOUR_MS,
    MINUTE_MS,
    NORTH,
    SOUTH,
    START_MS,
    batch,
    each,
    farm,
    pack,
    run,
)

SILENT = AlarmKey(AlarmKind.SENSOR_SILENT, "north")


def _heard(minute: float = 0.0) -> WatchState:
    """Return a state that heard the north sensor at a minute."""
    return step(begin(plan(farm(), []), START_MS), pack(NORTH, [minute], [3.0])).state


def _at(minute: float) -> Tick:
    return Tick(START_MS + round(minute * MINUTE_MS))


def test_raises_by_the_sensors_own_time() -> None:
    """A sensor is told as silent when its own time is over, dated from when last heard."""
    state = _heard(1.0)
    assert step(state, _at(3.9)).transitions == ()
    (silent,) = step(state, _at(4.0)).transitions
    assert (silent.key, silent.edge, silent.priority) == (SILENT, Edge.RAISE, Priority.MEDIUM)
    assert (silent.began_ms, silent.place) == (START_MS + MINUTE_MS, "cooler")
    assert silent.facts["last"] == {"temperature": 3.0}


def test_next_due_is_the_moment_of_silence() -> None:
    """The state says when to look again: when the first sensor would count as silent."""
    stepped = step(_heard(1.0), _at(1.0))
    due_ms = next_due(stepped.state)
    assert due_ms == START_MS + 4 * MINUTE_MS
    assert step(stepped.state, Tick(due_ms)).transitions != ()


def test_told_once() -> None:
    """Silence is told once, until the sensor is heard again."""
    state, told = run(_heard(), [_at(5), _at(6), _at(600)])
    assert [t.edge for t in told] == [Edge.RAISE]
    assert next_due(step(state, _at(700)).state) is None


def test_a_live_reading_returns_it() -> None:
    """The first live reading ends the silence, and says how long it was."""
    _, told = run(_heard(), [_at(5), pack(NORTH, [30.0], [3.0])])
    assert [t.edge for t in told] == [Edge.RAISE, Edge.RETURN]
    assert told[1].facts["out_s"] == 30 * 60


def test_never_heard_is_waiting() -> None:
    """A sensor that was never heard is waited for: no alarm."""
    state, told = run(begin(plan(farm(), []), START_MS), [_at(60), _at(6000)])
    assert told == []
    status = sensor_status(state, "north", state.now_ms)
    assert (status.waiting, status.silent) == (True, False)


def test_counts_from_the_start_of_the_program() -> None:
    """After a long stop a sensor has its own time to be heard before it is silent."""
    now_ms = START_MS + 10 * HOUR_MS
    state = begin(plan(farm(), []), now_ms, heard={"north": START_MS})
    assert step(state, Tick(now_ms + 179_000)).transitions == ()
    (silent,) = step(state, Tick(now_ms + 180_000)).transitions
    assert silent.began_ms == START_MS


def test_late_uncertain_and_imported_readings_are_no_sign_of_life() -> None:
    """What was sent long ago, queued without a time, or imported ends no silence."""
    state, _ = run(_heard(), [_at(60)])
    now_ms = START_MS + 61 * MINUTE_MS
    late = pack(NORTH, [10.0], [3.0], received_ms=now_ms)
    uncertain = pack(NORTH, [61.0], [3.0], Flag.TIME_UNCERTAIN, received_ms=now_ms)
    imported = pack(NORTH, [61.0], [3.0], Flag.IMPORTED, received_ms=now_ms)
    _, told = run(state, [late, uncertain, imported])
    assert told == []


def test_a_slow_clock_is_no_silence() -> None:
    """A sensor whose own time is always twenty minutes behind is heard all the same."""
    state = begin(plan(farm(), []), START_MS)
    for minute in range(60):
        received_ms = START_MS + (minute + 20) * MINUTE_MS
        state, told = run(
            state,
            [pack(NORTH, [float(minute)], [3.0], received_ms=received_ms), Tick(received_ms)],
        )
        assert told == []
    assert not sensor_status(state, "north", state.now_ms).silent


def test_a_backlog_sent_at_once_is_no_slow_clock() -> None:
    """Old readings that all arrive together do not make a dead sensor alive."""
    state, _ = run(_heard(), [_at(120)])
    now_ms = START_MS + 121 * MINUTE_MS
    backlog = [pack(NORTH, [float(m)], [3.0], received_ms=now_ms + m) for m in range(1, 30)]
    _, told = run(state, backlog)
    assert told == []


def test_others_still_heard_are_named() -> None:
    """The silence of one sensor names the others that still report from its place."""
    state = begin(plan(farm(), []), START_MS)
    minutes = [float(m) for m in range(6)]
    events: list[Samples | Tick] = [pack(NORTH, [0.0], [3.0]), *each(SOUTH, minutes, [3.0] * 6)]
    _, told = run(state, [*events, _at(5.5)])
    assert [t.facts["others"] for t in told] == [["south"]]


def test_a_sensor_taken_away_ends_its_silence() -> None:
    """When the farm no longer has a silent sensor, its alarm ends and says why."""
    state, _ = run(_heard(), [_at(5)])
    smaller = farm(sensors=[s for s in farm().sensors.values() if s.id == "south"])
    (end,) = step(state, Replanned(plan(smaller, []), START_MS + HOUR_MS)).transitions
    assert (end.key, end.edge, end.facts) == (SILENT, Edge.RETURN, {"gone": True})


def test_a_blind_cooler_with_batches_wakes_someone() -> None:
    """A silence that leaves a cooler with batches unheard is high; beside another it is not."""
    holding = plan(farm(), [batch(1, "cut_stems", "cooler")])
    first = step(begin(holding, START_MS), pack(NORTH, [0.0], [3.0])).state
    state = step(first, pack(SOUTH, [2.0], [3.0])).state
    _, told = run(state, [_at(3.5), _at(6)])
    assert [(t.sensor, t.priority) for t in told] == [
        ("north", Priority.MEDIUM), ("south", Priority.HIGH),
    ]  # fmt: skip
    (alone,) = step(first, _at(4.0)).transitions
    assert alone.priority is Priority.HIGH


@pytest.mark.parametrize(
    ("kind", "holds", "blind", "expected"),
    [
        (PlaceKind.SPROUTING_ROOM, True, True, Priority.HIGH),
        (PlaceKind.SPROUTING_ROOM, False, True, Priority.MEDIUM),
        (PlaceKind.COOLER, True, False, Priority.MEDIUM),
        (PlaceKind.TUNNEL, True, True, Priority.MEDIUM),
    ],
)
def test_only_a_blind_room_with_batches_wakes(
    kind: PlaceKind, holds: bool, blind: bool, expected: Priority
) -> None:
    """Silence wakes in coolers and sprouting rooms alone, with batches and no other sensor."""
    assert of_silence(kind, holds=holds, blind=blind) is expected
