"""Which alarms it is time to remind of, and when the next one is due."""

from collections.abc import Iterable, Iterator, Sequence
from typing import Final, NamedTuple

from monitor.farm import NoticeRules
from monitor.model import Alarm, AlarmState, Notice, NoticeKind, NoticeStatus, Priority
from monitor.notices.duty import TURN_MS

_EVER_MS: Final = 2**62
_TELLING: Final = (NoticeKind.RAISED, NoticeKind.REMINDER)


class _Due(NamedTuple):
    alarm: Alarm
    at_ms: int


def due_reminders(
    alarms: Iterable[Alarm], notices: Sequence[Notice], rules: NoticeRules, now_ms: int
) -> tuple[Alarm, ...]:
    """Return the alarms that nobody acknowledged, and that were last told long enough ago.

    Parameters
    ----------
    alarms : Iterable[Alarm]
        The open ones.
    notices : Sequence[Notice]
        Of those alarms, in any state. While the first ones still wait to be sent, nothing
        is added to them; one dead address puts off no reminder to the others.
    rules : NoticeRules
        With the time between reminders.
    now_ms : int
        Now. [ms]
    """
    return tuple(due.alarm for due in _dues(alarms, notices, rules, now_ms) if due.at_ms <= now_ms)


def next_reminder_ms(
    alarms: Iterable[Alarm], notices: Sequence[Notice], rules: NoticeRules
) -> int | None:
    """Return when the next reminder is due, or None. [ms]"""
    return min((due.at_ms for due in _dues(alarms, notices, rules)), default=None)


def _dues(
    alarms: Iterable[Alarm], notices: Sequence[Notice], rules: NoticeRules,
    now_ms: int = _EVER_MS,
) -> Iterator[_Due]:  # fmt: skip
    for alarm in alarms:
        if alarm.state is not AlarmState.UNACKNOWLEDGED or alarm.priority is Priority.LOW:
            continue
        told = [
            each
            for each in notices
            if each.alarm == alarm.id and each.kind in _TELLING
            and each.created_ms >= (alarm.raised_ms if alarm.raised_ms <= now_ms + TURN_MS else 0)
        ]  # fmt: skip
        sent = any(each.sent_ms is not None for each in told)
        if not sent and any(each.status is NoticeStatus.WAITING for each in told):
            continue
        # A reminder that waits to be sent counts as well, or one would follow each look.
        times = [each.sent_ms or each.created_ms for each in told]
        past = [each for each in times if each <= now_ms + TURN_MS]
        if times and not past:  # told by a clock that has gone back since: told anew
            yield _Due(alarm, now_ms)
            continue
        last_ms = max(past, default=alarm.raised_ms)
        yield _Due(alarm, last_ms + round(rules.remind_after_s * 1000))
