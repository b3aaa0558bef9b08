"""The life of an alarm: expected states are those of IEC 62682's table."""

from dataclasses import replace

import pytest

from monitor.alarms import acknowledge, already, on_transition, remind, wording
from monitor.model import (
    Alarm,
    AlarmKey,
    AlarmKind,
    AlarmState,
    Decision,
    Edge,
    Priority,
    Quantity,
    Transition,
)
from tests.watch.made import HOUR_MS, START_MS, farm

WORDS = wording(farm())
RAISE = Transition(
    key=AlarmKey(AlarmKind.TOO_WARM, "cooler"),
    edge=Edge.RAISE,
    at_ms=START_MS,
    began_ms=START_MS - HOUR_MS,
    priority=Priority.HIGH,
    place="cooler",
    sensor="north",
    quantity=Quantity.TEMPERATURE,
    value=7.0,
    limit=5.0,
    peak=7.2,
    facts={"tolerated_s": 1800.0},
)
RETURN = replace(
    RAISE,
    edge=Edge.RETURN,
    at_ms=START_MS + HOUR_MS,
    value=3.0,
    peak=8.1,
    facts={"back_ms": START_MS + HOUR_MS - 120_000, "out_s": 7080.0},
)


def _raised() -> Alarm:
    decision = on_transition(RAISE, WORDS, START_MS)(None)
    assert decision is not None
    return replace(decision.alarm, id=12)


def _after(decision: Decision | None) -> Alarm:
    assert decision is not None
    return decision.alarm


def test_a_raise_begins_an_occurrence_with_its_audit_line() -> None:
    """A condition that becomes true makes a new, unacknowledged alarm, and says so."""
    decision = on_transition(RAISE, WORDS, START_MS + 5)(None)
    assert decision is not None
    assert (decision.alarm.id, decision.alarm.state) == (0, AlarmState.UNACKNOWLEDGED)
    assert (decision.alarm.began_ms, decision.alarm.raised_ms) == (START_MS - HOUR_MS, START_MS)
    (line,) = decision.audit
    assert (line.before, line.after) == (AlarmState.NORMAL, AlarmState.UNACKNOWLEDGED)
    assert (line.by, line.at_ms, line.value, line.limit) == ("watch", START_MS + 5, 7.0, 5.0)


@pytest.mark.parametrize("state", [AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED])
def test_a_raise_of_an_open_alarm_changes_nothing(state: AlarmState) -> None:
    """What is raised already is not raised twice."""
    assert on_transition(RAISE, WORDS, START_MS)(replace(_raised(), state=state)) is None


@pytest.mark.parametrize(
    ("before", "after"),
    [
        (AlarmState.UNACKNOWLEDGED, AlarmState.RETURNED_UNACKNOWLEDGED),
        (AlarmState.ACKNOWLEDGED, AlarmState.NORMAL),
    ],
)
def test_a_return_follows_the_table(before: AlarmState, after: AlarmState) -> None:
    """A return leaves an unseen alarm to be seen, and ends one that was."""
    decision = on_transition(RETURN, WORDS, START_MS)(replace(_raised(), state=before))
    alarm = _after(decision)
    assert (alarm.state, alarm.returned_ms, alarm.id) == (after, RETURN.at_ms, 12)
    assert alarm.peak == 8.1
    assert "back in band" in alarm.text


@pytest.mark.parametrize("state", [None, AlarmState.RETURNED_UNACKNOWLEDGED])
def test_a_return_of_nothing_changes_nothing(state: AlarmState | None) -> None:
    """What has returned, or was never raised, does not return again."""
    alarm = None if state is None else replace(_raised(), state=state)
    assert on_transition(RETURN, WORDS, START_MS)(alarm) is None


def test_a_returned_alarm_that_comes_again_is_the_same_row() -> None:
    """Returned and unseen, then out again: unacknowledged once more, under its number."""
    returned = _after(on_transition(RETURN, WORDS, START_MS)(_raised()))
    again = _after(on_transition(replace(RAISE, at_ms=START_MS + 9), WORDS, START_MS + 9)(returned))
    assert (again.id, again.state) == (12, AlarmState.UNACKNOWLEDGED)
    assert (again.returned_ms, again.raised_ms) == (None, START_MS + 9)


@pytest.mark.parametrize(
    ("before", "after"),
    [
        (AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED),
        (AlarmState.RETURNED_UNACKNOWLEDGED, AlarmState.NORMAL),
    ],
)
def test_acknowledging_follows_the_table(before: AlarmState, after: AlarmState) -> None:
    """Seen while it lasts it is acknowledged; seen after its return it is over."""
    decision = acknowledge("ida", START_MS)(replace(_raised(), state=before))
    alarm = _after(decision)
    assert (alarm.state, alarm.acknowledged_by, alarm.acknowledged_ms) == (after, "ida", START_MS)
    assert decision is not None
    assert [line.by for line in decision.audit] == ["ida"]


def test_acknowledging_twice_leaves_one_audit_line_and_a_clear_answer() -> None:
    """The second to acknowledge changes nothing and is told who was first, and when."""
    seen = _after(acknowledge("ida", START_MS)(_raised()))
    assert acknowledge("max", START_MS + 60_000)(seen) is None
    assert already(seen, WORDS, START_MS + 60_000) == (
        "alarm 12 was acknowledged by ida at 16:00 already; nothing changed"
    )


def test_nothing_to_acknowledge() -> None:
    """An alarm that is not there changes nothing; one that is over says so."""
    assert acknowledge("max", START_MS)(None) is None
    over = replace(_raised(), state=AlarmState.NORMAL)
    assert acknowledge("max", START_MS)(over) is None
    assert "nothing to acknowledge" in already(over, WORDS, START_MS)


def test_reminding_only_of_what_nobody_has_seen() -> None:
    """An unacknowledged alarm is reminded of, with a line; any other is not."""
    decision = remind(START_MS)(_raised())
    assert decision is not None
    assert decision.alarm == _raised()
    assert [line.note for line in decision.audit] == ["reminded"]
    for state in AlarmState:
        if state is not AlarmState.UNACKNOWLEDGED:
            assert remind(START_MS)(replace(_raised(), state=state)) is None


@pytest.mark.parametrize("state", [AlarmState.SHELVED, AlarmState.OUT_OF_SERVICE])
def test_what_is_put_aside_is_left_alone(state: AlarmState) -> None:
    """A raise, a return or an acknowledgement moves no alarm out of being put aside."""
    aside = replace(_raised(), state=state)
    assert on_transition(RAISE, WORDS, START_MS)(aside) is None
    assert _after(on_transition(RETURN, WORDS, START_MS)(aside)).state is state
    assert acknowledge("ida", START_MS)(aside) is None


def test_what_is_expected_keeps_quiet_until_it_no_longer_is() -> None:
    """An expected condition is suppressed by design, and told once it is expected no more."""
    expected = replace(RAISE, expected="a defrost")
    quiet = on_transition(expected, WORDS, START_MS)(None)
    assert quiet is not None
    assert (quiet.alarm.state, quiet.alarm.why) == (AlarmState.SUPPRESSED, "a defrost")
    assert on_transition(expected, WORDS, START_MS)(quiet.alarm) is None
    told = on_transition(RAISE, WORDS, START_MS)(quiet.alarm)
    assert told is not None
    assert told.alarm.state is AlarmState.UNACKNOWLEDGED
    over = on_transition(RETURN, WORDS, START_MS)(quiet.alarm)
    assert over is not None
    assert over.alarm.state is AlarmState.NORMAL
