"""Who is told of an alarm, and when."""

import json
from dataclasses import replace
from datetime import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.alarms import acknowledge, on_transition, remind, wording
from monitor.farm import NoticeRules, Person
from monitor.languages import translator
from monitor.model import Alarm, AlarmState, Decision, NoticeKind, NoticeStatus, Priority
from monitor.notices import NOBODY, answer, due_reminders, next_reminder_ms, plan
from tests.alarms.test_machine import RAISE, RETURN
from tests.watch.made import HOUR_MS, MINUTE_MS, START_MS, farm

FARM = farm()
WORDS = wording(FARM)
QUIET = NoticeRules(quiet_from=time(21), quiet_until=time(6))
NIGHT_MS = START_MS + 10 * HOUR_MS  # 02:00 in New York
SIX_MS = START_MS + 14 * HOUR_MS


def _alarm(priority: Priority = Priority.HIGH) -> Alarm:
    decision = on_transition(replace(RAISE, priority=priority), WORDS, START_MS)(None)
    assert decision is not None
    return replace(decision.alarm, id=12)


def _ask(before: Alarm | None, decide: str, now_ms: int = START_MS) -> Decision | None:
    deciders = {
        "raise": on_transition(RAISE, WORDS, now_ms),
        "return": on_transition(RETURN, WORDS, now_ms),
        "acknowledge": acknowledge("ida", now_ms),
        "remind": remind(now_ms),
    }
    whole = answer(
        deciders[decide], FARM.people, FARM.notices, FARM.zone, now_ms, note="Now 44 °F."
    )
    return whole(before)


def test_one_row_per_person_and_address() -> None:
    """Each address of each person has a row of its own, named by its number."""
    rows = plan(_alarm(), NoticeKind.RAISED, FARM.people, FARM.notices, FARM.zone, START_MS)
    assert [(row.person, row.address) for row in rows] == [("ida", "1"), ("ida", "2"), ("max", "1")]
    assert {row.body for row in rows} == {_alarm().text}
    assert {(row.alarm, row.kind, row.status, row.due_ms) for row in rows} == {
        (12, NoticeKind.RAISED, NoticeStatus.WAITING, START_MS)
    }


def test_no_address_is_ever_in_a_row() -> None:
    """What a person's address is stays out of the outbox."""
    rows = plan(_alarm(), NoticeKind.RAISED, FARM.people, FARM.notices, FARM.zone, START_MS)
    assert not any("json://" in repr(row) for row in rows)


@pytest.mark.parametrize(
    ("priority", "due_ms"), [(Priority.HIGH, NIGHT_MS), (Priority.MEDIUM, SIX_MS)]
)
def test_only_high_breaks_quiet_hours(priority: Priority, due_ms: int) -> None:
    """High goes at once, medium when the quiet hours are over."""
    rows = plan(_alarm(priority), NoticeKind.RAISED, FARM.people, QUIET, FARM.zone, NIGHT_MS)
    assert {row.due_ms for row in rows} == {due_ms}


def test_low_waits_for_the_morning_message() -> None:
    """A low alarm has no rows of its own."""
    low = _alarm(Priority.LOW)
    assert plan(low, NoticeKind.RAISED, FARM.people, QUIET, FARM.zone, START_MS) == ()


def test_rules_may_name_who_is_told() -> None:
    """Where the rules name people for a priority, only those are told."""
    rules = NoticeRules(send_to={Priority.HIGH: ("max",)})
    rows = plan(_alarm(), NoticeKind.RAISED, FARM.people, rules, FARM.zone, START_MS)
    assert [(row.person, row.address) for row in rows] == [("max", "1")]


@pytest.mark.parametrize("people", [{}, {"ida": Person("ida", "Ida", ())}])
def test_nobody_to_tell_is_a_failure_that_shows(people: dict[str, Person]) -> None:
    """With no address at all, one failed row says so."""
    (row,) = plan(_alarm(), NoticeKind.RAISED, people, FARM.notices, FARM.zone, START_MS)
    assert (row.status, row.last_error, row.person) == (NoticeStatus.FAILED, NOBODY, "")


def test_a_raise_is_told() -> None:
    """The decision that raises an alarm carries its rows, for the id it will be given."""
    decision = _ask(None, "raise")
    assert decision is not None
    assert {(row.kind, row.alarm) for row in decision.notices} == {(NoticeKind.RAISED, 0)}
    assert decision.notices[0].title == "Walk-in cooler is too warm"


@pytest.mark.parametrize("state", [AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED])
def test_a_return_is_told_whether_seen_or_not(state: AlarmState) -> None:
    """The decision that returns an alarm carries its clearing."""
    decision = _ask(replace(_alarm(), state=state), "return")
    assert decision is not None
    assert {row.kind for row in decision.notices} == {NoticeKind.CLEARED}
    assert "back in band" in decision.notices[0].body


@pytest.mark.parametrize("state", [AlarmState.UNACKNOWLEDGED, AlarmState.RETURNED_UNACKNOWLEDGED])
def test_acknowledging_sends_nothing(state: AlarmState) -> None:
    """That somebody has seen an alarm is written, and told to nobody."""
    decision = _ask(replace(_alarm(), state=state, returned_ms=START_MS), "acknowledge")
    assert decision is not None
    assert decision.notices == ()


def test_a_reminder_says_how_it_stands() -> None:
    """A reminder carries the alarm's text and how it stands now."""
    decision = _ask(_alarm(), "remind")
    assert decision is not None
    assert {row.kind for row in decision.notices} == {NoticeKind.REMINDER}
    assert decision.notices[0].title == "Still: Walk-in cooler is too warm"
    assert "Now 44 °F." in decision.notices[0].body


def test_what_changes_nothing_tells_nothing() -> None:
    """Where the decider has nothing to decide, there is no notice either."""
    assert _ask(_alarm(), "raise") is None


def test_reminds_once_the_time_is_over() -> None:
    """An alarm nobody has seen is due again a set time after it was last sent."""
    alarm = _alarm()
    sent = [
        replace(row, status=NoticeStatus.SENT, sent_ms=START_MS + MINUTE_MS)
        for row in plan(alarm, NoticeKind.RAISED, FARM.people, QUIET, FARM.zone, START_MS)
    ]
    due_ms = START_MS + 31 * MINUTE_MS
    assert next_reminder_ms([alarm], sent, QUIET) == due_ms
    assert due_reminders([alarm], sent, QUIET, due_ms - 1) == ()
    assert due_reminders([alarm], sent, QUIET, due_ms) == (alarm,)


def test_a_dead_address_puts_off_no_reminder() -> None:
    """One row sent is enough to count from, though another still waits."""
    alarm = _alarm()
    rows = plan(alarm, NoticeKind.RAISED, FARM.people, QUIET, FARM.zone, START_MS)
    mixed = [replace(rows[0], status=NoticeStatus.SENT, sent_ms=START_MS), *rows[1:]]
    assert due_reminders([alarm], mixed, QUIET, START_MS + 30 * MINUTE_MS) == (alarm,)
    assert due_reminders([alarm], rows, QUIET, START_MS + 30 * MINUTE_MS) == ()


@pytest.mark.parametrize("state", [s for s in AlarmState if s is not AlarmState.UNACKNOWLEDGED])
def test_no_reminder_of_what_is_seen_or_over(state: AlarmState) -> None:
    """Only an unacknowledged alarm is reminded of."""
    alarm = replace(_alarm(), state=state)
    assert due_reminders([alarm], [], QUIET, START_MS + 100 * HOUR_MS) == ()


@given(st.integers(0, 400 * 24 * 60))
def test_quiet_hours_put_off_and_never_drop(minutes: int) -> None:
    """A medium notice is due now or at the end of the quiet hours, within a night."""
    now_ms = START_MS + minutes * MINUTE_MS
    alarm = _alarm(Priority.MEDIUM)
    rows = plan(alarm, NoticeKind.RAISED, FARM.people, QUIET, FARM.zone, now_ms)
    assert len(rows) == 3
    assert all(now_ms <= row.due_ms <= now_ms + 10 * HOUR_MS for row in rows)


def test_each_person_is_told_in_the_own_language() -> None:
    """One alarm, as the ledger keeps it: in Spanish to one, in English to the other."""
    kept = _alarm()
    kept = replace(kept, title=str.__str__(kept.title), facts=json.loads(json.dumps(kept.facts)))
    people = dict(FARM.people)
    people["ida"] = replace(people["ida"], language="es", speak=translator("es"))
    rows = plan(kept, NoticeKind.REMINDER, people, FARM.notices, FARM.zone, START_MS)
    said = {row.person: (row.title, row.body) for row in rows}
    assert said["ida"][0] == "Sigue: Walk-in cooler: demasiado calor"
    assert "Primero mire: puerta" in said["ida"][1]
    assert "Nadie ha dicho todavía que vio esto." in said["ida"][1]
    assert said["max"][0] == "Still: Walk-in cooler is too warm"
