"""Who is on duty, and who is rung next where nobody answers. Pure.

A day's duty lasts from the time of the morning message until the next one. What somebody took
("I've got it") counts before what the files say, and the newest of it.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import timedelta
from typing import Final
from zoneinfo import ZoneInfo

from monitor.farm import Farm, NoticeRules, Person
from monitor.model import (
    Alarm,
    AlarmState,
    DutyLine,
    Notice,
    NoticeKind,
    NoticeStatus,
    Priority,
)
from monitor.notices.hours import instant_ms, local_day

TELLING: Final = (NoticeKind.RAISED, NoticeKind.REMINDER)
_DAY: Final = timedelta(days=1)
TURN_MS: Final = 60_000
"""A notice may be written a little after the look at it began. [ms]"""


def duty_until_ms(now_ms: int, rules: NoticeRules, zone: ZoneInfo) -> int:
    """Return when the duty of this day ends: at the next morning message. [ms]"""
    today = local_day(now_ms, zone)
    at_ms = instant_ms(today, rules.morning_at, zone)
    return at_ms if at_ms > now_ms else instant_ms(today + _DAY, rules.morning_at, zone)


def on_duty(farm: Farm, taken: Sequence[DutyLine], now_ms: int) -> tuple[str, ...]:
    """Return who is on duty now: whoever took it last, else whom the files name, else nobody."""
    for each in reversed(taken):
        if each.from_ms <= now_ms < each.until_ms and each.person in farm.people:
            return (each.person,)
    until_ms = duty_until_ms(now_ms, farm.notices, farm.zone)
    day = local_day(until_ms, farm.zone) - _DAY
    names = (each.person for each in farm.duty if each.covers(day))
    return tuple(dict.fromkeys(names))


def uses_duty(farm: Farm, taken: Sequence[DutyLine]) -> bool:
    """Return whether this farm has a duty at all."""
    return bool(farm.duty or taken)


def first_told(farm: Farm, priority: Priority, duty: Collection[str]) -> tuple[str, ...] | None:
    """Return whom an alarm rings first; None for everyone, where nobody is on duty.

    Whoever has no address cannot be rung, and counts as not on duty.
    """
    reached = [each for each in duty if each in farm.people and farm.people[each].addresses]
    others = [each.id for each in _reachable(farm.notices, priority, farm.people)]
    if not reached or set(others) <= set(reached):
        return None
    return tuple(reached)


def next_told(
    farm: Farm, alarm: Alarm, notices: Iterable[Notice], now_ms: int
) -> tuple[str, ...] | None:
    """Return who is rung next of an alarm that nobody has answered, or None: nobody, yet.

    First the next person of the file, then everyone. Times that lie well ahead count for nothing:
    the clock was set back, and one call too many is the lesser harm.
    """
    if alarm.state is not AlarmState.UNACKNOWLEDGED or alarm.priority is not Priority.HIGH:
        return None
    since_ms = max(alarm.raised_ms, int(alarm.facts.get("rung_ms", 0)))
    since_ms = since_ms if since_ms <= now_ms + TURN_MS else 0  # the clock was set back
    told = [
        each for each in notices
        if each.alarm == alarm.id and each.kind in TELLING and each.created_ms >= since_ms
    ]  # fmt: skip
    if any(_waits(each, now_ms) for each in told):
        return None
    called = {each.person for each in told}
    reachable = [each.id for each in _reachable(farm.notices, alarm.priority, farm.people)]
    left = [each for each in reachable if each not in called]
    past = [at_ms for each in told if (at_ms := _told_ms(each)) <= now_ms + TURN_MS]
    last_ms = max(past, default=None)
    if not left or not called:
        return None
    if last_ms is not None and now_ms - last_ms < farm.notices.escalate_after_s * 1000:
        return None
    rounds = len({each.created_ms for each in told})
    return (left[0],) if rounds == 1 else tuple(reachable)


def _waits(notice: Notice, now_ms: int) -> bool:
    """Return whether a notice is not to go yet, such as of a silence that may heal by itself."""
    fresh = notice.status is NoticeStatus.WAITING and notice.attempts == 0
    return fresh and notice.created_ms <= now_ms + TURN_MS and notice.due_ms > now_ms


def _told_ms(notice: Notice) -> int:
    """Return when a notice was to go first; a retry has moved that away. [ms]"""
    tries = 1 if notice.status is NoticeStatus.SENT else 0
    return notice.created_ms if notice.attempts > tries else max(notice.created_ms, notice.due_ms)


def rung_first(farm: Farm, alarm: Alarm, duty: Collection[str]) -> tuple[str, ...] | None:
    """Return whom an alarm rings that was answered and is no better: whoever answered it."""
    answered = _named(farm, alarm.acknowledged_by or "")
    if answered is not None and answered.addresses:
        return (answered.id,)
    return first_told(farm, alarm.priority, duty)


def not_told_yet(
    farm: Farm, alarm: Alarm, notices: Iterable[Notice], duty: Collection[str], by: str
) -> tuple[str, ...]:
    """Return whom the usual rules would ring first and who has not heard of this raise.

    ``by`` names who has seen it just now, and need not be told.
    """
    heard = {
        each.person for each in notices
        if each.alarm == alarm.id and each.kind in TELLING and each.created_ms >= alarm.raised_ms
        and each.status in {NoticeStatus.SENT, NoticeStatus.WAITING}
    }  # fmt: skip
    seen = _named(farm, by)
    rung = first_told(farm, alarm.priority, duty)
    if rung is None:
        rung = tuple(each.id for each in _reachable(farm.notices, alarm.priority, farm.people))
    return tuple(each for each in rung if each not in heard and (not seen or each != seen.id))


def _named(farm: Farm, name: str) -> Person | None:
    wanted = name.strip().casefold()
    fits = (e for e in farm.people.values() if wanted in {e.id.casefold(), e.name.casefold()})
    return next(fits, None)


def _reachable(
    rules: NoticeRules, priority: Priority, people: Mapping[str, Person]
) -> list[Person]:
    return [each for each in rules.told(priority, people) if each.addresses]
