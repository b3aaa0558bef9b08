"""An alarm put aside: kept quiet for a while (shelved), or out of service for work.

| state | leaves by |
|---|---|
| shelved | unshelve, its time, or with ``once`` the return → judged afresh |
| out of service | return to service, its time where one was given → judged afresh |

Judged afresh: unacknowledged where the condition still holds, else normal. Ended by hand
while it holds, it is acknowledged: whoever ended it has seen it, and is not rung to hear what
they just did; where it does not become better it rings again like any answered alarm
(``ringing``), and then the next person. Beneath either state the alarm goes on working: it is
raised, returns and is recorded, and nobody is told.

References
----------
IEC 62682 and ANSI/ISA-18.2 for the states; OPC 10000-9 for a longest shelving time and an
audit line with the duration.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Final

from monitor.alarms.deciding import WATCH, Decider, line
from monitor.alarms.saying import say_span
from monitor.alarms.told import told
from monitor.alarms.wording import Wording, Words
from monitor.batches.plain_text import NAME_AT_MOST, printable
from monitor.errors import LedgerRuleError
from monitor.model import Alarm, AlarmState, Answer, Decision, Edge, Transition
from monitor.phrase import Phrase

LONGEST_MS: Final = 24 * 3_600_000
"""The longest time an alarm can be kept quiet at once: common practice. [ms]"""
ASIDE: Final = frozenset({AlarmState.SHELVED, AlarmState.OUT_OF_SERVICE})
_KEPT: Final = "aside"


@dataclass(frozen=True, slots=True)
class Quiet:
    """How a person puts an alarm aside.

    ``until_ms`` may be None out of service (``rest``) alone; ``once`` ends with the next
    return, where that comes first.
    """

    by: str
    why: str
    until_ms: int | None
    once: bool = False
    rest: bool = False

    def decider(self, now_ms: int) -> Decider:
        """Return the decider that puts an alarm aside so."""
        if self.rest or self.until_ms is None:
            return out_of_service(self.by, self.why, now_ms, self.until_ms)
        return shelve(self.by, self.why, self.until_ms, now_ms, once=self.once)


def shelve(by: str, why: str, until_ms: int, now_ms: int, *, once: bool = False) -> Decider:
    """Return the decider for keeping an alarm quiet until a time.

    Answers None where it is put aside or expected already; ``aside_already`` then says so.

    Raises
    ------
    LedgerRuleError
        If name or reason cannot be shown, the time is past, or it is further off than
        ``LONGEST_MS``; from the decider, if the alarm is over.
    """
    if until_ms - now_ms > LONGEST_MS:
        raise LedgerRuleError(
            Phrase(
                "an alarm can be kept quiet for {span} at most, not for {span_2}: choose a "
                "shorter time, or take it out of service while you work on it: cormwatch "
                "alarm rest ID --why TEXT",
                span=say_span(LONGEST_MS / 1000),
                span_2=say_span((until_ms - now_ms) / 1000),
            )
        )
    return _putting(AlarmState.SHELVED, Quiet(by, why, until_ms, once), now_ms)


def out_of_service(by: str, why: str, now_ms: int, until_ms: int | None = None) -> Decider:
    """Return the decider for taking an alarm out of service, as for work on its sensor.

    Raises
    ------
    LedgerRuleError
        If name or reason cannot be shown, or the time is past; from the decider, if the
        alarm is over.
    """
    return _putting(AlarmState.OUT_OF_SERVICE, Quiet(by, why, until_ms, rest=True), now_ms)


def unshelve(by: str, now_ms: int) -> Decider:
    """Return the decider for ending the quiet of a shelved alarm; None where it has none."""
    return _leaving((AlarmState.SHELVED,), by, now_ms)


def return_to_service(by: str, now_ms: int) -> Decider:
    """Return the decider for an alarm that is to serve again; None where it does."""
    return _leaving((AlarmState.OUT_OF_SERVICE,), by, now_ms)


def take_back(by: str, now_ms: int) -> Decider:
    """Return the decider that ends either way of being put aside."""
    return _leaving(tuple(ASIDE), by, now_ms)


def expire(now_ms: int) -> Decider:
    """Return the decider that ends what was put aside when its time has come."""

    def decide(alarm: Alarm | None) -> Decision | None:
        if alarm is None or not expired(alarm, now_ms):
            return None
        over = now_ms >= (alarm.until_ms or 0)
        note = (
            Phrase("its time is over")
            if over
            else Phrase("the clock stepped back: ended, to be safe")
        )
        return _left(alarm, WATCH, now_ms, note)

    return decide


def expired(alarm: Alarm, now_ms: int) -> bool:
    """Return whether an alarm put aside has had its time.

    A clock that now stands before the moment it was put aside has stepped back, and nobody
    can say how long the quiet would last: it ends.
    """
    if alarm.state not in ASIDE or alarm.until_ms is None:
        return False
    return now_ms >= alarm.until_ms or now_ms < since_ms(alarm)


def since_ms(alarm: Alarm) -> int:
    """Return when an alarm was put aside. [ms]"""
    return int(_kept(alarm).get("since_ms", alarm.raised_ms))


def put_by(alarm: Alarm) -> str:
    """Return who put an alarm aside."""
    return str(_kept(alarm).get("by", ""))


def say_aside(alarm: Alarm, words: Wording, now_ms: int) -> str:
    """Return ``"quiet until 14:00 (Ida: mending the door)"``; nothing where it is not aside."""
    if alarm.state is AlarmState.SUPPRESSED:
        if alarm.until_ms is not None:
            return Phrase(
                "expected until {time}: {why}",
                time=words.time(alarm.until_ms, now_ms),
                why=Phrase(alarm.why),
            )
        return (
            Phrase("expected, such as {why}", why=Phrase(alarm.why))
            if alarm.why
            else Phrase("expected")
        )
    if alarm.state not in ASIDE:
        return ""
    until = (
        ""
        if alarm.until_ms is None
        else Phrase(" until {time}", time=words.time(alarm.until_ms, now_ms))
    )
    once = Phrase(", or until it is over once") if alarm.once else ""
    what = Phrase("quiet") if alarm.state is AlarmState.SHELVED else Phrase("switched off for work")
    return Phrase(
        "{what}{until}{once} ({person}: {why})",
        what=what,
        until=until,
        once=once,
        person=put_by(alarm),
        why=alarm.why,
    )


def aside_already(alarm: Alarm, words: Wording, now_ms: int) -> str:
    """Say why an alarm could not be put aside, or taken back."""
    if alarm.state in ASIDE or alarm.state is AlarmState.SUPPRESSED:
        said = say_aside(alarm, words, now_ms)
        end = "return" if alarm.state is AlarmState.OUT_OF_SERVICE else "unshelve"
        way = f"; end that first: cormwatch alarm {end} {alarm.id}" if alarm.state in ASIDE else ""
        return f"alarm {alarm.id} is {said} already; nothing changed{way}"
    return f"alarm {alarm.id} is not put aside; nothing changed"


def beneath(alarm: Alarm, transition: Transition, said: Words, now_ms: int) -> Decision | None:
    """Record what the watch saw of an alarm that is put aside: no notice, no change of state."""
    if transition.edge is Edge.RETURN:
        return _returned(alarm, transition, said, now_ms) if alarm.active else None
    if alarm.active:
        return None
    raised = replace(
        alarm,
        priority=transition.priority,
        sensor=transition.sensor,
        quantity=transition.quantity,
        batches=transition.batches,
        began_ms=transition.began_ms,
        raised_ms=transition.at_ms,
        returned_ms=None,
        value=transition.value,
        limit=transition.limit,
        peak=transition.peak,
        title=said.title,
        text=said.text,
        facts={**transition.facts, **told(said, alarm.facts), _KEPT: _kept(alarm)},
        active=not transition.expected,
    )
    expected = (
        Phrase("; expected: {expected}", expected=transition.expected)
        if transition.expected
        else ""
    )
    return Decision(raised, (line(alarm.state, raised, WATCH, now_ms, said.title + expected),))


def _returned(alarm: Alarm, transition: Transition, said: Words, now_ms: int) -> Decision:
    back = replace(
        alarm, active=False, returned_ms=transition.at_ms, value=transition.value,
        peak=alarm.peak if transition.peak is None else transition.peak,
        title=said.title, text=said.text,
        facts={**alarm.facts, **transition.facts, **told(said, alarm.facts)},
    )  # fmt: skip
    if not alarm.once:
        return Decision(back, (line(alarm.state, back, WATCH, now_ms, said.title),))
    return _left(back, WATCH, now_ms, Phrase("{title}; it was to be quiet once", title=said.title))


def _putting(state: AlarmState, quiet: Quiet, now_ms: int) -> Decider:
    _check(quiet, now_ms)
    span = ""
    if quiet.until_ms is not None:
        span = Phrase(" for {span}", span=say_span((quiet.until_ms - now_ms) / 1000))
    word = "quiet" if state is AlarmState.SHELVED else Phrase("out of service")
    note = Phrase(
        "{word}{span}{how}: {strip}",
        word=word,
        span=span,
        how=", once" if quiet.once else "",
        strip=quiet.why.strip(),
    )

    def decide(alarm: Alarm | None) -> Decision | None:
        if alarm is None or alarm.state is AlarmState.NORMAL:
            number = (
                Phrase("there is no such alarm")
                if alarm is None
                else Phrase("alarm {id} is over", id=alarm.id)
            )
            raise LedgerRuleError(Phrase("{number}: there is nothing to keep quiet", number=number))
        if alarm.state in ASIDE or alarm.state is AlarmState.SUPPRESSED:
            return None
        kept = {_KEPT: {"by": quiet.by, "since_ms": now_ms}}
        aside = replace(
            alarm, state=state, until_ms=quiet.until_ms, why=quiet.why.strip(),
            once=quiet.once, facts={**alarm.facts, **kept},
        )  # fmt: skip
        step = line(alarm.state, aside, quiet.by, now_ms, note)
        return Decision(aside, (step,), withdraw=True)

    return decide


def _check(quiet: Quiet, now_ms: int) -> None:
    printable(quiet.by, NAME_AT_MOST, "the name")
    printable(quiet.why, NAME_AT_MOST, "the reason")
    if not quiet.why.strip():
        raise LedgerRuleError(Phrase("say why, so that the next person knows: --why TEXT"))
    if quiet.until_ms is not None and quiet.until_ms <= now_ms:
        raise LedgerRuleError(
            Phrase("the time until which it is to be quiet is past: name a later one")
        )


def _leaving(states: tuple[AlarmState, ...], by: str, now_ms: int) -> Decider:
    printable(by, NAME_AT_MOST, "the name")

    def decide(alarm: Alarm | None) -> Decision | None:
        if alarm is None or alarm.state not in states:
            return None
        return _left(alarm, by, now_ms, Phrase("ended by hand"))

    return decide


def _left(alarm: Alarm, by: str, now_ms: int, note: str) -> Decision:
    """Judge afresh what was put aside; a person who ends it has seen what still holds."""
    facts = {key: each for key, each in alarm.facts.items() if key != _KEPT}
    afresh = replace(
        alarm, until_ms=None, why="", once=False, facts=facts,
        state=AlarmState.UNACKNOWLEDGED if alarm.active else AlarmState.NORMAL,
    )  # fmt: skip
    if alarm.active and by != WATCH:
        afresh = replace(
            afresh, state=AlarmState.ACKNOWLEDGED, acknowledged_ms=now_ms, acknowledged_by=by,
            answer=Answer.SEEN,
        )  # fmt: skip
    elif alarm.active:
        afresh = replace(afresh, acknowledged_ms=None, acknowledged_by=None, answer=None)
    return Decision(afresh, (line(alarm.state, afresh, by, now_ms, note),))


def _kept(alarm: Alarm) -> Mapping[str, Any]:
    found = alarm.facts.get(_KEPT)
    return found if isinstance(found, dict) else {}
