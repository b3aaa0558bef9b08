"""Who is told of an alarm, and when: one row per person and address."""

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Final
from zoneinfo import ZoneInfo

from monitor.alarms.told import text_of, title_of
from monitor.farm import NoticeRules, Person
from monitor.model import (
    Alarm,
    AlarmState,
    AuditLine,
    Decision,
    Notice,
    NoticeKind,
    NoticeStatus,
    Priority,
)
from monitor.notices.duty import TURN_MS
from monitor.notices.hours import quiet_until_ms
from monitor.phrase import Phrase, spoken, together

Decider = Callable[[Alarm | None], Decision | None]

NOBODY: Final = Phrase(
    "nobody to tell: no person of this priority has an address in the farm's files"
)


@dataclass(frozen=True, slots=True)
class Letter:
    """What is to be sent, to whom it may concern."""

    alarm: int | None
    kind: NoticeKind
    priority: Priority
    title: str
    body: str


def plan(  # noqa: PLR0917  # the farm, the alarm, and when: all are always needed
    alarm: Alarm,
    kind: NoticeKind,
    people: Mapping[str, Person],
    rules: NoticeRules,
    zone: ZoneInfo,
    now_ms: int,
    *,
    note: str = "",
    to: Collection[str] | None = None,
) -> tuple[Notice, ...]:
    """Return the outbox rows for an alarm that was raised, returned or is still there.

    High goes at once; medium waits out the quiet hours; low is left to the morning
    message. Where nobody has an address, one row stands for the failure: ``FAILED``, with
    no person and ``NOBODY`` as its error.

    Parameters
    ----------
    alarm : Alarm
        With the text to send.
    kind : NoticeKind
        Raised, cleared or reminder.
    people, rules, zone
        The farm's.
    now_ms : int
        Now. [ms]
    note : str
        A sentence to add, such as how it stands now.
    to : Collection of str, optional
        Whom alone to tell, by id, such as who is on duty; everyone by default.
    """
    at_ms = _due_ms(alarm, kind, rules, zone, now_ms)
    if at_ms is None:
        return ()
    letter = Letter(alarm.id, kind, alarm.priority, *_words(alarm, kind, note))
    if to is not None:
        rules = replace(rules, send_to={alarm.priority: tuple(e for e in to if e in people)})
    return address(letter, people, rules, now_ms, due_ms=at_ms)


def due_ms(priority: Priority, rules: NoticeRules, zone: ZoneInfo, now_ms: int) -> int | None:
    """Return when people are told of an alarm of this priority; None: in the morning. [ms]"""
    if priority is Priority.LOW:
        return None
    if priority is Priority.HIGH:
        return now_ms
    return quiet_until_ms(now_ms, rules, zone) or now_ms


def _due_ms(
    alarm: Alarm, kind: NoticeKind, rules: NoticeRules, zone: ZoneInfo, now_ms: int
) -> int | None:
    """Return when an alarm is told; what may heal by itself is not told before its time."""
    wait_ms = int(alarm.facts.get("tell_ms", now_ms)) if kind is NoticeKind.RAISED else now_ms
    return due_ms(alarm.priority, rules, zone, max(now_ms, wait_ms))


def _overtaken(decision: Decision, rules: NoticeRules, zone: ZoneInfo, now_ms: int) -> bool:
    """Return whether an alarm ended, or was explained, before anybody was to be told of it."""
    alarm = decision.alarm
    if "tell_ms" not in alarm.facts:
        return False
    if alarm.returned_ms is None and alarm.state is not AlarmState.SUPPRESSED:
        return False
    if alarm.raised_ms > now_ms + TURN_MS:  # the clock was set back: its times say nothing
        return False
    at_ms = due_ms(alarm.priority, rules, zone, int(alarm.facts["tell_ms"]))
    return at_ms is None or now_ms < at_ms


def _words(alarm: Alarm, kind: NoticeKind, note: str) -> tuple[str, str]:
    title, body = title_of(alarm), together((text_of(alarm), note))
    if kind is NoticeKind.REMINDER:
        answered = alarm.acknowledged_ms is not None
        said = "" if answered else Phrase("Nobody has said yet that they saw this.")
        return Phrase("Still: {title}", title=title), together((body, said))
    if kind is NoticeKind.CLEARED and alarm.id:
        ask = f"cormwatch alarm score {alarm.id} real (or needless) --by NAME"
        return title, Phrase(
            "{body} Was this real or needless? Say so by: {ask}", body=body, ask=ask
        )
    return title, body


def address(
    letter: Letter,
    people: Mapping[str, Person],
    rules: NoticeRules,
    now_ms: int,
    *,
    due_ms: int | None = None,
) -> tuple[Notice, ...]:
    """Return one outbox row per person and address; one failed row where there is none."""
    draft = Notice(
        id=0,
        alarm=letter.alarm,
        kind=letter.kind,
        person="",
        address="",
        title=letter.title,
        body=letter.body,
        created_ms=now_ms,
        due_ms=now_ms if due_ms is None else due_ms,
        priority=letter.priority.value,
    )
    rows = tuple(_rows(draft, rules.told(letter.priority, people)))
    return rows or (replace(draft, status=NoticeStatus.FAILED, last_error=NOBODY),)


def _rows(draft: Notice, people: Iterable[Person]) -> Iterator[Notice]:
    for person in people:
        for number, _ in enumerate(person.addresses, start=1):
            yield replace(
                draft, person=person.id, address=str(number),
                title=spoken(draft.title, person.speak), body=spoken(draft.body, person.speak),
            )  # fmt: skip


def answer(
    decide: Decider,
    people: Mapping[str, Person],
    rules: NoticeRules,
    zone: ZoneInfo,
    now_ms: int,
    *,
    note: str = "",
    to: Collection[str] | None = None,
) -> Decider:
    """Return a decider that also writes the notices its decision calls for."""

    def whole(alarm: Alarm | None) -> Decision | None:
        decision = decide(alarm)
        if decision is None:
            return None
        if _overtaken(decision, rules, zone, now_ms):
            return replace(decision, withdraw=True)
        kinds = (kind for line in decision.audit if (kind := _kind(line, decision.alarm)))
        notices = tuple(
            notice
            for kind in kinds
            for notice in plan(
                decision.alarm,
                kind,
                people,
                rules,
                zone,
                now_ms,
                note=note,
                to=None if kind is NoticeKind.CLEARED else to,
            )
        )
        return replace(decision, notices=decision.notices + notices)

    return whole


def _kind(line: AuditLine, alarm: Alarm) -> NoticeKind | None:
    """Return what a transition calls for; acknowledging calls for nothing."""
    if line.after is AlarmState.UNACKNOWLEDGED:
        known = line.before in {AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED}
        return NoticeKind.REMINDER if known else NoticeKind.RAISED
    returned = line.after is AlarmState.RETURNED_UNACKNOWLEDGED or (
        line.before is AlarmState.ACKNOWLEDGED and line.after is AlarmState.NORMAL
    )
    return NoticeKind.CLEARED if returned and alarm.returned_ms is not None else None
