"""When this computer's clock jumps, forward or back."""

from monitor.model import AlarmKind, Edge, Flag
from monitor.watch import ClockStepped, Samples, Tick, begin, plan, step
from tests.watch.made import (
    HOUR_MS,
    MINUTE_MS,
    NORTH,
    START_MS,
    each,
    farm,
    pack,
    run,
)

DAY_MS = 24 * HOUR_MS


def _by_receipt(minutes: list[float], value: float, flag: Flag = Flag.NONE) -> list[Samples]:
    return [pack(NORTH, [minute], [value], flag) for minute in minutes]


def test_a_jump_forward_makes_nobody_silent() -> None:
    """A computer that booted in the past and jumps 13 days tells no silence."""
    state, _ = run(begin(plan(farm(), []), START_MS), _by_receipt([0.0, 1.0], 3.0))
    now_ms = START_MS + 90_000 + 13 * DAY_MS
    stepped = step(state, ClockStepped(now_ms, 13 * DAY_MS))
    assert stepped.transitions == ()
    assert step(stepped.state, Tick(now_ms + MINUTE_MS)).transitions == ()
    assert step(stepped.state, Tick(now_ms + 3 * MINUTE_MS)).transitions != ()


def test_a_jump_forward_runs_out_no_delay() -> None:
    """A pending delay goes on from where it was: the jump is no time outside."""
    state, _ = run(begin(plan(farm(), []), START_MS), _by_receipt([float(m) for m in range(20)], 7))
    jump_min = 20.0  # short enough to look like more time outside
    state, _ = run(
        state, [ClockStepped(START_MS + round((19.5 + jump_min) * MINUTE_MS), 20 * MINUTE_MS)]
    )
    later = [m + jump_min for m in range(20, 40)]
    _, told = run(state, _by_receipt(later, 7.0))
    assert [t.at_ms for t in told] == [START_MS + round((30 + jump_min) * MINUTE_MS)]


def test_a_jump_back_by_a_day_keeps_a_pending_alarm_sane() -> None:
    """After the clock was set back by a day a pending delay goes on, and raises in time."""
    state, _ = run(begin(plan(farm(), []), START_MS), _by_receipt([float(m) for m in range(20)], 7))
    state, told = run(state, [ClockStepped(START_MS + 19 * MINUTE_MS + 30_000 - DAY_MS, -DAY_MS)])
    assert told == []
    later = [m - 24 * 60.0 for m in range(20, 40)]
    _, told = run(state, _by_receipt(later, 7.0, Flag.CLOCK_UNSURE))
    assert [(t.key.kind, t.at_ms, t.began_ms) for t in told] == [
        (AlarmKind.TOO_WARM, START_MS + 30 * MINUTE_MS - DAY_MS, START_MS - DAY_MS)
    ]


def test_a_jump_back_with_an_alarm_standing_lets_it_return() -> None:
    """An alarm that was raised before the clock was set back still returns by readings."""
    state, told = run(
        begin(plan(farm(), []), START_MS), _by_receipt([float(m) for m in range(40)], 7)
    )
    assert [t.edge for t in told] == [Edge.RAISE]
    state, _ = run(state, [ClockStepped(START_MS + 39 * MINUTE_MS + 30_000 - DAY_MS, -DAY_MS)])
    later = [m - 24 * 60.0 for m in range(40, 50)]
    _, told = run(state, _by_receipt(later, 3.0, Flag.CLOCK_UNSURE))
    assert [(t.edge, t.facts.get("gone")) for t in told] == [(Edge.RETURN, None)]


def test_readings_before_the_jump_was_told_are_not_lost() -> None:
    """Readings stamped by a clock set back judge at once, though nobody told of the jump."""
    state, _ = run(begin(plan(farm(), []), START_MS), _by_receipt([float(m) for m in range(20)], 7))
    later = [m - 24 * 60.0 for m in range(20, 60)]
    _, told = run(state, _by_receipt(later, 7.0, Flag.CLOCK_UNSURE))
    assert [t.key.kind for t in told] == [AlarmKind.TOO_WARM]


def test_the_sensors_own_time_stays() -> None:
    """A jump forward of this computer leaves samples with a time of their own in place."""
    state, _ = run(begin(plan(farm(), []), START_MS), each(NORTH, [0.0, 1.0], [3.0, 3.0]))
    state, _ = run(state, [ClockStepped(START_MS + 2 * MINUTE_MS, 90_000)])
    newest = state.tracks[NORTH].newest
    assert newest is not None
    assert newest.at_ms == START_MS + MINUTE_MS
