"""When an answered alarm rings again."""

from dataclasses import replace

import pytest

from monitor.alarms import acknowledge, on_transition, wording
from monitor.alarms.ringing import Stand, note_answered, ring_again, why_again
from monitor.model import Alarm, AlarmState, Answer, Priority
from tests.alarms.test_machine import RAISE
from tests.watch.made import HOUR_MS, MINUTE_MS, START_MS, farm

DAY_MS = 24 * HOUR_MS
LATER_MS = START_MS + 30 * MINUTE_MS


def _answered(answer: Answer = Answer.SEEN, value: float = 7.0) -> Alarm:
    """Return a grave alarm that was answered at the start, at 7 °C."""
    raised = on_transition(replace(RAISE, priority=Priority.HIGH), wording(farm()), START_MS)(None)
    assert raised is not None
    seen = acknowledge("Ida", START_MS, answer)(raised.alarm)
    assert seen is not None
    noted = note_answered(Stand(value))(seen.alarm)
    assert noted is not None
    return noted.alarm


@pytest.mark.parametrize("answer", list(Answer))
def test_no_better_in_half_an_hour_rings_again(answer: Answer) -> None:
    """Whatever was answered, thirty minutes without getting better ring again, with a line."""
    alarm, stand = _answered(answer), Stand(7.0, 0.0)
    assert ring_again(stand, LATER_MS - 1)(alarm) is None
    rung = ring_again(stand, LATER_MS)(alarm)
    assert rung is not None
    assert rung.alarm.state is AlarmState.UNACKNOWLEDGED
    (line,) = rung.audit
    assert (line.before, line.after) == (AlarmState.ACKNOWLEDGED, AlarmState.UNACKNOWLEDGED)


@pytest.mark.parametrize(
    ("value", "trend", "rings"), [(6.6, -1.0, False), (6.6, 0.5, True), (6.8, -1.0, True)]
)
def test_better_is_nearer_and_not_going_out(value: float, trend: float, *, rings: bool) -> None:
    """Nearer by more than the deadband of 0.3 K, and not turning out again, keeps quiet."""
    assert bool(why_again(_answered(), Stand(value, trend), LATER_MS)) is rings


def test_clearly_worse_rings_at_once() -> None:
    """More than 2 K further out than at the answer waits for nothing."""
    assert why_again(_answered(), Stand(9.0), START_MS + MINUTE_MS) == ""
    assert "worse" in why_again(_answered(), Stand(9.1), START_MS + MINUTE_MS)


def test_harm_within_the_hour_leaves_ten_minutes() -> None:
    """Where harm is near, an answer holds for ten minutes."""
    near = Stand(7.0, harm_ms=START_MS + 40 * MINUTE_MS)
    assert why_again(_answered(), near, START_MS + 9 * MINUTE_MS) == ""
    assert "harm" in why_again(_answered(), near, START_MS + 10 * MINUTE_MS)


def test_a_clock_set_back_by_a_day_rings() -> None:
    """An answer that lies ahead says nothing: one call too many is the lesser harm."""
    assert why_again(_answered(), Stand(7.0), START_MS - DAY_MS) != ""


def test_what_is_over_or_less_than_grave_keeps_quiet() -> None:
    """Only a grave alarm whose condition holds rings again."""
    for alarm in (
        replace(_answered(), active=False), replace(_answered(), priority=Priority.MEDIUM),
    ):  # fmt: skip
        assert why_again(alarm, Stand(20.0), LATER_MS) == ""


def test_going_follows_seen_and_twice_is_nothing() -> None:
    """Somebody may go where it was only seen; the same answer again changes nothing."""
    seen = _answered()
    going = acknowledge("Max", START_MS + 1, Answer.GOING)(seen)
    assert going is not None
    assert (going.alarm.acknowledged_by, going.alarm.answer) == ("Max", Answer.GOING)
    assert acknowledge("Ida", START_MS + 2, Answer.GOING)(going.alarm) is None
    assert acknowledge("Ida", START_MS + 2)(going.alarm) is None
