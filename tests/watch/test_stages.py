"""Stages that end: told before their longest time is over, where lateness harms."""

from dataclasses import replace

from monitor.model import AlarmKey, AlarmKind, Edge, Priority, Stay
from monitor.watch import Replanned, Tick, begin, due_work, next_due, plan, step
from tests.watch.made import HOUR_MS, START_MS, batch, farm, run

SOAKING = batch(7, "soak", "bucket", unit="corms", count=120)
KEY = AlarmKey(AlarmKind.STAGE_ENDING, "batch:7")


def test_a_soak_rings_at_three_hours() -> None:
    """A soak of four hours at most is told an hour before, loudly enough for a night."""
    state = begin(plan(farm(), [SOAKING]), START_MS)
    assert step(state, Tick(START_MS + 3 * HOUR_MS - 1)).transitions == ()
    (ending,) = step(state, Tick(START_MS + 3 * HOUR_MS)).transitions
    assert (ending.key, ending.edge, ending.priority) == (KEY, Edge.RAISE, Priority.HIGH)
    assert ending.facts["ends_ms"] == START_MS + 4 * HOUR_MS
    assert ending.batches == (7,)


def test_next_due_is_the_ringing() -> None:
    """With nothing else to watch, the state asks to be looked at when the soak rings."""
    stepped = step(begin(plan(farm(), [SOAKING]), START_MS), Tick(START_MS))
    assert next_due(stepped.state) == START_MS + 3 * HOUR_MS


def test_moving_the_batch_ends_it() -> None:
    """Once the records say that the batch moved on, its alarm returns."""
    state, _ = run(begin(plan(farm(), [SOAKING]), START_MS), [Tick(START_MS + 3 * HOUR_MS)])
    moved = replace(
        SOAKING,
        stays=(
            Stay("bucket", "soak", START_MS, START_MS + 3 * HOUR_MS),
            Stay("room", "pre_sprout", START_MS + 3 * HOUR_MS, None),
        ),
    )
    (end,) = step(
        state, Replanned(plan(farm(), [moved]), START_MS + 3 * HOUR_MS + 60_000)
    ).transitions
    assert (end.key, end.edge) == (KEY, Edge.RETURN)


def test_a_move_at_the_same_stage_starts_nothing_anew() -> None:
    """Carrying the bucket elsewhere does not give the soak more time."""
    carried = replace(
        SOAKING,
        stays=(
            Stay("bucket", "soak", START_MS, START_MS + HOUR_MS),
            Stay("room", "soak", START_MS + HOUR_MS, None),
        ),
    )
    state = begin(plan(farm(), [carried]), START_MS)
    assert step(state, Tick(START_MS + 3 * HOUR_MS)).transitions != ()


def test_where_lateness_harms_little_it_waits_for_the_morning() -> None:
    """A stage whose end is not pressing raises no alarm and stands in the work due."""
    resting = batch(8, "pre_sprout", "room")
    now_ms = START_MS + 13 * 24 * HOUR_MS
    compiled = plan(farm(), [SOAKING, resting])
    _, told = run(begin(compiled, START_MS), [Tick(now_ms)])
    assert {t.key for t in told} == {KEY}
    assert [each.batch for each in due_work(compiled, now_ms)] == [8]
    assert due_work(compiled, now_ms - 1) == ()
