"""The life of an alarm after IEC 62682: pure deciders, each run inside one transaction.

| state | leaves by |
|---|---|
| normal | condition → unacknowledged |
| unacknowledged | acknowledge → acknowledged; return → returned, unacknowledged |
| unacknowledged | expected after all → suppressed |
| acknowledged | return → normal; not better in time → unacknowledged (``ringing``) |
| returned, unacknowledged | acknowledge → normal; again → unacknowledged |
| suppressed | no longer expected → unacknowledged; return → normal |
| shelved, out of service | see ``aside`` |

A decider is given the ledger's row and answers with the new row and its audit lines, or
with None where nothing changes: asking twice is harmless.
"""

from collections.abc import Mapping
from dataclasses import replace
from typing import Final

from monitor.alarms.aside import ASIDE, beneath
from monitor.alarms.deciding import WATCH, Decider, line
from monitor.alarms.telling import say
from monitor.alarms.told import told
from monitor.alarms.wording import Wording
from monitor.model import Alarm, AlarmState, Answer, Decision, Edge, Transition
from monitor.phrase import Phrase

REMINDED: Final = "reminded"
_AHEAD_MS: Final = 60_000
_RAISABLE: Final = frozenset({
    AlarmState.NORMAL, AlarmState.RETURNED_UNACKNOWLEDGED, AlarmState.SUPPRESSED,
})  # fmt: skip
_RETURNS: Final[Mapping[AlarmState, AlarmState]] = {
    AlarmState.UNACKNOWLEDGED: AlarmState.RETURNED_UNACKNOWLEDGED,
    AlarmState.ACKNOWLEDGED: AlarmState.NORMAL,
    AlarmState.SUPPRESSED: AlarmState.NORMAL,
}
_ACKNOWLEDGED: Final[Mapping[AlarmState, AlarmState]] = {
    AlarmState.UNACKNOWLEDGED: AlarmState.ACKNOWLEDGED,
    AlarmState.RETURNED_UNACKNOWLEDGED: AlarmState.NORMAL,
}


def on_transition(transition: Transition, words: Wording, now_ms: int) -> Decider:
    """Return the decider for what the watch saw."""

    def decide(alarm: Alarm | None) -> Decision | None:
        if alarm is not None and alarm.state in ASIDE:
            return beneath(alarm, transition, say(transition, words, now_ms), now_ms)
        if transition.edge is Edge.RAISE:
            return _raise(alarm, transition, words, now_ms)
        return _return(alarm, transition, words, now_ms)

    return decide


def _raise(
    alarm: Alarm | None, transition: Transition, words: Wording, now_ms: int
) -> Decision | None:
    before = AlarmState.NORMAL if alarm is None else alarm.state
    if before is AlarmState.SUPPRESSED and transition.expected:
        return None
    if before not in _RAISABLE and not (
        before is AlarmState.UNACKNOWLEDGED and transition.expected
    ):
        return None
    title, text = said = say(transition, words, now_ms)
    raised = Alarm(
        id=alarm.id if alarm is not None and before is not AlarmState.NORMAL else 0,
        key=transition.key,
        priority=transition.priority,
        state=AlarmState.SUPPRESSED if transition.expected else AlarmState.UNACKNOWLEDGED,
        place=transition.place,
        sensor=transition.sensor,
        quantity=transition.quantity,
        batches=transition.batches,
        began_ms=transition.began_ms,
        raised_ms=transition.at_ms,
        returned_ms=None,
        acknowledged_ms=None,
        acknowledged_by=None,
        value=transition.value,
        limit=transition.limit,
        peak=transition.peak,
        title=title,
        text=text,
        facts={**transition.facts, **told(said, {} if alarm is None else alarm.facts)},
        why=transition.expected,
        until_ms=transition.facts.get("expected_until_ms") if transition.expected else None,
    )
    note = (
        Phrase("{title}; expected: {expected}", title=title, expected=transition.expected)
        if transition.expected
        else title
    )
    return Decision(raised, (line(before, raised, WATCH, now_ms, note),))


def _return(
    alarm: Alarm | None, transition: Transition, words: Wording, now_ms: int
) -> Decision | None:
    if alarm is None or alarm.state not in _RETURNS:
        return None
    title, text = said = say(transition, words, now_ms)
    returned = replace(
        alarm,
        state=AlarmState.NORMAL if _untold(alarm, now_ms) else _RETURNS[alarm.state],
        active=False,
        returned_ms=transition.at_ms,
        value=transition.value,
        peak=alarm.peak if transition.peak is None else transition.peak,
        title=title,
        text=text,
        facts={**alarm.facts, **transition.facts, **told(said, alarm.facts)},
    )
    return Decision(returned, (line(alarm.state, returned, WATCH, now_ms, title),))


def _untold(alarm: Alarm, now_ms: int) -> bool:
    """Return whether an alarm ends before it was worth telling: nobody need look at it."""
    return not _ahead(alarm, now_ms) and int(alarm.facts.get("tell_ms", now_ms)) > now_ms


def _ahead(alarm: Alarm, now_ms: int) -> bool:
    """Return whether an alarm was raised by a clock that has been set back since.

    Whether it has been told then shows in the outbox alone, not by its times.
    """
    return alarm.raised_ms > now_ms + _AHEAD_MS


def acknowledge(by: str, now_ms: int, answer: Answer = Answer.SEEN) -> Decider:
    """Return the decider for a person who has seen an alarm, or is going.

    Where there is nothing to acknowledge it answers None, and no audit line is written;
    ``already`` then says why.
    """

    def decide(alarm: Alarm | None) -> Decision | None:
        if alarm is None:
            return None
        after = _ACKNOWLEDGED.get(alarm.state)
        if after is None and _goes_now(alarm, answer):
            after = alarm.state
        if after is None:
            return None
        seen = replace(
            alarm, state=after, acknowledged_ms=now_ms, acknowledged_by=by, answer=answer
        )
        note = (
            Phrase("has seen it") if answer is Answer.SEEN else Phrase("has seen it, and is going")
        )
        return Decision(seen, (line(alarm.state, seen, by, now_ms, note),))

    return decide


def _goes_now(alarm: Alarm, answer: Answer) -> bool:
    """Return whether somebody goes where an alarm was only seen so far."""
    return (
        alarm.state is AlarmState.ACKNOWLEDGED
        and answer is Answer.GOING
        and alarm.answer is not Answer.GOING
    )


def already(alarm: Alarm, words: Wording, now_ms: int) -> str:
    """Say why an alarm could not be acknowledged: it was before, or it is over."""
    if alarm.acknowledged_ms is not None:
        when = words.time(alarm.acknowledged_ms, now_ms)
        return (
            f"alarm {alarm.id} was acknowledged by {alarm.acknowledged_by} at {when} already; "
            "nothing changed"
        )
    return f"alarm {alarm.id} is {alarm.state.value.replace('_', ' ')}: nothing to acknowledge"


def remind(now_ms: int) -> Decider:
    """Return the decider for an alarm that nobody has acknowledged for some time."""

    def decide(alarm: Alarm | None) -> Decision | None:
        if alarm is None or alarm.state is not AlarmState.UNACKNOWLEDGED:
            return None
        return Decision(alarm, (line(alarm.state, alarm, WATCH, now_ms, REMINDED),))

    return decide
