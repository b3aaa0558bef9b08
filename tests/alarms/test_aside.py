"""Alarms put aside: expected states are those of IEC 62682's table."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from monitor.alarms import (
    LONGEST_MS,
    Decider,
    Quiet,
    aside_already,
    expire,
    expired,
    on_transition,
    out_of_service,
    return_to_service,
    say_aside,
    shelve,
    take_back,
    unshelve,
    wording,
)
from monitor.errors import LedgerRuleError
from monitor.model import Alarm, AlarmState, Answer, Decision
from tests.alarms.test_machine import RAISE, RETURN
from tests.watch.made import HOUR_MS, MINUTE_MS, START_MS, farm

WORDS = wording(farm())
DAY_MS = 24 * HOUR_MS
UNTIL_MS = START_MS + 2 * HOUR_MS  # 18:00 by the farm
WHY = "the door is off its hinges"


def _done(decide: Decider, alarm: Alarm | None) -> Decision:
    decision = decide(alarm)
    assert decision is not None
    return decision


def _after(decide: Decider, alarm: Alarm | None) -> Alarm:
    return _done(decide, alarm).alarm


def _raised(state: AlarmState = AlarmState.UNACKNOWLEDGED) -> Alarm:
    alarm = _after(on_transition(RAISE, WORDS, START_MS), None)
    return replace(alarm, id=12, state=state)


def _shelved(*, once: bool = False) -> Alarm:
    return _after(shelve("Ida", WHY, UNTIL_MS, START_MS, once=once), _raised())


@pytest.mark.parametrize(
    "state",
    [AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED, AlarmState.RETURNED_UNACKNOWLEDGED],
)
def test_any_open_alarm_can_be_shelved(state: AlarmState) -> None:
    """Whatever is open can be kept quiet, with reason, time, name and an audit line."""
    decision = _done(shelve("Ida", WHY, UNTIL_MS, START_MS, once=True), _raised(state))
    alarm = decision.alarm
    assert (alarm.state, alarm.until_ms, alarm.why, alarm.once) == (
        AlarmState.SHELVED, UNTIL_MS, WHY, True,
    )  # fmt: skip
    (line,) = decision.audit
    assert (line.by, line.before, line.after) == ("Ida", state, AlarmState.SHELVED)
    assert line.note == f"quiet for 2 h, once: {WHY}"


@pytest.mark.parametrize("alarm", [None, _raised(AlarmState.NORMAL)])
@pytest.mark.parametrize(
    "decide",
    [shelve("Ida", WHY, UNTIL_MS, START_MS), out_of_service("Ida", WHY, START_MS)],
)
def test_what_is_over_cannot_be_put_aside(decide: Decider, alarm: Alarm | None) -> None:
    """An alarm that has ended, or is none, is refused in plain words."""
    with pytest.raises(LedgerRuleError, match="nothing to keep quiet"):
        decide(alarm)


def test_a_year_is_too_long() -> None:
    """Quiet is limited to the longest time, which the refusal names; the limit itself is fine."""
    with pytest.raises(LedgerRuleError, match="for 24 h at most, not for 365 d"):
        shelve("Ida", WHY, START_MS + 365 * DAY_MS, START_MS)
    assert _after(shelve("Ida", WHY, START_MS + LONGEST_MS, START_MS), _raised()).until_ms


@pytest.mark.parametrize("until_ms", [START_MS, START_MS - 1])
def test_a_time_that_is_past_is_refused(until_ms: int) -> None:
    """Quiet until now, or until earlier, is no quiet."""
    with pytest.raises(LedgerRuleError, match="is past"):
        shelve("Ida", WHY, until_ms, START_MS)
    with pytest.raises(LedgerRuleError, match="is past"):
        out_of_service("Ida", WHY, START_MS, until_ms)


@pytest.mark.parametrize(
    ("by", "why", "said"),
    [
        ("Ida", "", "say why"),
        ("Ida", "  ", "say why"),
        ("Ida", "bell\a", r"the reason holds a character that cannot be shown \(U\+0007\)"),
        ("Ida", "x" * 301, "the reason is 301 characters long"),
        ("I\x1bda", WHY, "the name holds"),
    ],
)
def test_a_reason_that_can_be_shown_is_needed(by: str, why: str, said: str) -> None:
    """Name and reason are short, there, and of characters that every page can show."""
    with pytest.raises(LedgerRuleError, match=said):
        shelve(by, why, UNTIL_MS, START_MS)
    with pytest.raises(LedgerRuleError, match=said):
        out_of_service(by, why, START_MS)


@pytest.mark.parametrize(
    "aside",
    [
        _shelved(),
        _after(out_of_service("Ida", WHY, START_MS), _raised()),
        replace(_raised(AlarmState.SUPPRESSED), why="a defrost"),
    ],
)
def test_putting_aside_twice_changes_nothing(aside: Alarm) -> None:
    """What is quiet already stays as it is, and how it stands is said."""
    assert shelve("Bo", "again", UNTIL_MS, START_MS)(aside) is None
    assert out_of_service("Bo", "again", START_MS)(aside) is None
    said = aside_already(aside, WORDS, START_MS)
    assert say_aside(aside, WORDS, START_MS) in said
    assert "nothing changed" in said


def test_beneath_the_quiet_the_alarm_goes_on_recording() -> None:
    """A return and a new raise change figures and words, with lines, and not the state."""
    back = _done(on_transition(RETURN, WORDS, START_MS), _shelved())
    assert (back.alarm.state, back.alarm.active) == (AlarmState.SHELVED, False)
    assert (back.alarm.returned_ms, back.alarm.peak) == (RETURN.at_ms, 8.1)
    assert "back in band" in back.alarm.text
    assert on_transition(RETURN, WORDS, START_MS)(back.alarm) is None
    warmer = replace(RAISE, value=9.5, peak=9.9, at_ms=RAISE.at_ms + HOUR_MS)
    again = _done(on_transition(warmer, WORDS, START_MS), back.alarm)
    assert (again.alarm.state, again.alarm.active) == (AlarmState.SHELVED, True)
    assert (again.alarm.value, again.alarm.peak, again.alarm.returned_ms) == (9.5, 9.9, None)
    assert (again.alarm.until_ms, again.alarm.why) == (UNTIL_MS, WHY)
    assert "Ida" in say_aside(again.alarm, WORDS, START_MS)
    assert on_transition(warmer, WORDS, START_MS)(again.alarm) is None
    for decision in (back, again):
        assert [(line.before, line.after) for line in decision.audit] == [
            (AlarmState.SHELVED, AlarmState.SHELVED)
        ]
        assert decision.notices == ()


def test_what_is_expected_beneath_does_not_hold() -> None:
    """A defrost that begins while an alarm is quiet is recorded, and not told at the end."""
    back = _after(on_transition(RETURN, WORDS, START_MS), _shelved())
    defrost = _after(on_transition(replace(RAISE, expected="a defrost"), WORDS, START_MS), back)
    assert not defrost.active
    assert _after(unshelve("Ida", START_MS), defrost).state is AlarmState.NORMAL


LEAVINGS: list[tuple[Callable[[], Alarm], Decider, str | None]] = [
    (_shelved, unshelve("Bo", START_MS), "Bo"),
    (_shelved, expire(UNTIL_MS), None),
    (_shelved, take_back("Bo", START_MS), "Bo"),
    (lambda: _after(out_of_service("Ida", WHY, START_MS), _raised()),
     return_to_service("Bo", START_MS), "Bo"),
    (lambda: _after(out_of_service("Ida", WHY, START_MS, UNTIL_MS), _raised()),
     expire(UNTIL_MS), None),
    (lambda: _after(out_of_service("Ida", WHY, START_MS), _raised()),
     take_back("Bo", START_MS), "Bo"),
]  # fmt: skip


@pytest.mark.parametrize(("aside", "leave", "by"), LEAVINGS)
def test_leaving_judges_afresh(aside: Callable[[], Alarm], leave: Decider, by: str | None) -> None:
    """What still holds is unanswered at its time, seen by whoever ends it; else it is over."""
    seen = replace(aside(), acknowledged_ms=7, acknowledged_by="Ida", answer=Answer.GOING)
    again = _after(leave, seen)
    told = (again.state, again.acknowledged_by, again.acknowledged_ms, again.answer)
    if by is None:
        assert told == (AlarmState.UNACKNOWLEDGED, None, None, None)
    else:
        assert told == (AlarmState.ACKNOWLEDGED, by, START_MS, Answer.SEEN)
    assert (again.until_ms, again.why, again.once) == (None, "", False)
    over = _after(leave, _after(on_transition(RETURN, WORDS, START_MS), aside()))
    assert over.state is AlarmState.NORMAL
    assert leave(again) is None
    assert leave(None) is None


def test_each_way_back_is_for_its_own_state() -> None:
    """Unshelving moves nothing that is out of service, and the other way round."""
    assert return_to_service("Bo", START_MS)(_shelved()) is None
    resting = _after(out_of_service("Ida", WHY, START_MS), _raised())
    assert unshelve("Bo", START_MS)(resting) is None
    assert expire(START_MS + 365 * DAY_MS)(resting) is None
    assert "not put aside" in aside_already(_raised(), WORDS, START_MS)


def test_once_ends_with_the_return() -> None:
    """Shelved once, the return ends it; the next raise is a new alarm and is told."""
    over = _after(on_transition(RETURN, WORDS, START_MS), _shelved(once=True))
    assert (over.state, over.once) == (AlarmState.NORMAL, False)
    assert _after(on_transition(RAISE, WORDS, START_MS), over).state is AlarmState.UNACKNOWLEDGED


def test_quiet_ends_at_its_very_millisecond() -> None:
    """One millisecond before its time it holds, at its time it does not."""
    assert expire(UNTIL_MS - 1)(_shelved()) is None
    assert expired(_shelved(), UNTIL_MS)


def test_expiring_exactly_as_it_returns_is_over_either_way() -> None:
    """Whichever comes first, the alarm is not left quiet and not left as lasting."""
    back, end = on_transition(RETURN, WORDS, UNTIL_MS), expire(UNTIL_MS)
    assert _after(end, _after(back, _shelved())).state is AlarmState.NORMAL
    late = _after(back, _after(end, _shelved()))
    assert (late.state, late.active) == (AlarmState.RETURNED_UNACKNOWLEDGED, False)


def test_a_clock_that_steps_back_a_day_ends_the_quiet() -> None:
    """Before its own beginning nobody can say how long quiet would last: it ends, with a line."""
    decision = _done(expire(START_MS + HOUR_MS - DAY_MS), _shelved())
    assert decision.alarm.state is AlarmState.UNACKNOWLEDGED
    assert [line.note for line in decision.audit] == ["the clock stepped back: ended, to be safe"]
    assert expire(START_MS + MINUTE_MS)(_shelved()) is None


@pytest.mark.parametrize(
    ("quiet", "said"),
    [
        (Quiet("Ida", WHY, UNTIL_MS), "quiet until 18:00 (Ida: the door"),
        (Quiet("Ida", WHY, UNTIL_MS, once=True), ", or until it is over once (Ida"),
        (Quiet("Ida", WHY, None, rest=True), "switched off for work (Ida: the door"),
        (Quiet("Ida", WHY, UNTIL_MS, rest=True), "switched off for work until 18:00 (Ida"),
    ],
)
def test_it_is_said_until_when_by_whom_and_why(quiet: Quiet, said: str) -> None:
    """One line tells until when it is quiet, who wanted it, and the reason."""
    alarm = _after(quiet.decider(START_MS), _raised())
    assert said in say_aside(alarm, WORDS, START_MS)
    assert say_aside(_raised(), WORDS, START_MS) == ""
