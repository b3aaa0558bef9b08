"""A new plan under a running watch."""

from monitor.model import Edge, Quantity
from monitor.watch import Replanned, WatchPlan, begin, plan, step
from tests.watch.made import (
    MINUTE_MS,
    NORTH,
    START_MS,
    band,
    batch,
    cooler,
    each,
    farm,
    judged,
    run,
    sensor,
)


def _with_high(high: float) -> WatchPlan:
    return plan(farm([cooler(bands={Quantity.TEMPERATURE: band(high=high)})]), [])


def test_the_same_plan_changes_nothing() -> None:
    """A plan that says the same leaves every channel as it stood."""
    state, _ = run(begin(_with_high(5.0), START_MS), each(NORTH, [0.0, 1.0], [7.0, 7.0]))
    again = step(state, Replanned(_with_high(5.0), state.now_ms))
    assert again.transitions == ()
    assert judged(again.state) == judged(state)


def test_another_limit_begins_its_own_run() -> None:
    """Under a new limit the time outside counts from the newest sample: no more is known."""
    minutes = [float(m) for m in range(20)]
    state, _ = run(begin(_with_high(9.0), START_MS), each(NORTH, minutes, [7.0] * 20))
    state, told = run(state, [Replanned(_with_high(5.0), state.now_ms)])
    assert told == []
    _, told = run(state, each(NORTH, [float(m) for m in range(20, 60)], [7.0] * 40))
    assert [t.at_ms for t in told] == [START_MS + (19 + 30) * MINUTE_MS]


def test_a_new_limit_ends_no_alarm_by_itself() -> None:
    """An alarm lasts through a change of its limit until readings show the place is back."""
    minutes = [float(m) for m in range(45)]
    state, _ = run(begin(_with_high(5.0), START_MS), each(NORTH, minutes, [7.0] * 45))
    state, told = run(state, [Replanned(_with_high(9.0), state.now_ms)])
    assert told == []
    _, told = run(state, each(NORTH, [45.0, 46.0, 47.0, 48.0], [7.0] * 4))
    assert [(t.edge, t.facts.get("gone")) for t in told] == [(Edge.RETURN, None)]


def test_a_limit_taken_away_ends_its_alarm_with_the_reason() -> None:
    """Where nothing judges any more the alarm ends, and does not say that all is well."""
    minutes = [float(m) for m in range(45)]
    state, _ = run(begin(_with_high(5.0), START_MS), each(NORTH, minutes, [7.0] * 45))
    without = plan(farm([cooler(bands={})]), [])
    (end,) = step(state, Replanned(without, state.now_ms)).transitions
    assert (end.edge, end.facts) == (Edge.RETURN, {"gone": True})


def test_a_batch_that_comes_brings_its_limits() -> None:
    """A batch moved in is judged from the newest sample on, by its own limit."""
    place = cooler(bands={Quantity.TEMPERATURE: band(high=12.0)})
    state, _ = run(begin(plan(farm([place]), []), START_MS), each(NORTH, [0.0, 1.0], [9.0, 9.0]))
    stems = batch(14, "cut_stems", "cooler")
    state, _ = run(state, [Replanned(plan(farm([place]), [stems]), state.now_ms)])
    _, told = run(state, each(NORTH, [float(m) for m in range(2, 15)], [9.0] * 13))
    assert [(t.at_ms, t.batches) for t in told] == [(START_MS + 11 * MINUTE_MS, (14,))]


def test_a_sensor_that_is_hung_elsewhere_begins_anew() -> None:
    """What a sensor measured in one place is never judged, nor shown, as another's."""
    here = farm([cooler(), cooler(id="other", name="Other cooler")])
    there = farm(
        [cooler(), cooler(id="other", name="Other cooler")],
        [sensor("north", (Quantity.TEMPERATURE,), "other")],
    )
    minutes = [float(m) for m in range(45)]
    state, _ = run(begin(plan(here, []), START_MS), each(NORTH, minutes, [7.0] * 45))
    moved = step(state, Replanned(plan(there, []), state.now_ms))
    assert [(t.key.subject, t.edge, t.facts) for t in moved.transitions] == [
        ("cooler", Edge.RETURN, {"gone": True})
    ]
    assert moved.state.tracks[NORTH].shown is None


def test_equal_limits_are_one_line() -> None:
    """Several batches at one stage share one line, owned by all of them."""
    stems = [batch(14, "cut_stems", "cooler"), batch(15, "cut_stems", "cooler")]
    lines = plan(farm(), stems).channels[NORTH].lines
    assert [line.owners for line in lines if line.limit == 8.0 and line.batch is None] == [
        ("batch:14", "batch:15")
    ]
    assert sorted(line.batch for line in lines if line.batch is not None) == [14, 15]
