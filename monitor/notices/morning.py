"""The morning message: what drifted, what is due, what is still open; else silence."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from monitor.alarms import Wording
from monitor.alarms.limits import NOUN
from monitor.alarms.saying import say_span
from monitor.farm import NoticeRules, Person
from monitor.model import Alarm, AlarmState, Notice, NoticeKind, Priority, Side
from monitor.notices.planning import Letter, address
from monitor.watch import Drift, Due

_MOST: Final = 8  # lines of one kind: a message is read on a phone


@dataclass(frozen=True, slots=True)
class Morning:
    """What there may be to tell: since yesterday's message, and now; notes only beside it.

    ``troubles`` are sentences about the monitor itself that are told on their own, too.
    """

    drifts: Sequence[Drift] = ()
    dues: Sequence[Due] = ()
    alarms: Sequence[Alarm] = ()
    notes: Sequence[str] = ()
    troubles: Sequence[str] = ()


def morning_message(
    morning: Morning,
    words: Wording,
    people: Mapping[str, Person],
    rules: NoticeRules,
    now_ms: int,
) -> tuple[Notice, ...]:
    """Return the morning's rows of the outbox: none where there is nothing to tell."""
    lines = [
        *_some(list(_drifted(morning.drifts, words))),
        *_some(list(_due(morning.dues, words, now_ms))),
        *_some(list(_open(morning.alarms, words, now_ms))),
        *morning.troubles,
    ]
    if not lines:
        return ()
    title = f"{words.farm.name}, this morning"
    letter = Letter(
        None, NoticeKind.MORNING, Priority.LOW, title, "\n".join([*lines, *morning.notes])
    )
    return address(letter, people, rules, now_ms)


def _some(lines: Sequence[str]) -> Sequence[str]:
    left = len(lines) - _MOST
    return [*lines[:_MOST], f"and {left} more like these."] if left > 0 else lines


def _drifted(drifts: Sequence[Drift], words: Wording) -> Iterator[str]:
    for each in drifts:
        high = each.side is Side.HIGH
        limit, peak = words.value(each.limit, each.quantity), words.value(each.peak, each.quantity)
        yield (
            f"{words.place(each.place)} drifted: {NOUN[each.quantity]} "
            f"{'above' if high else 'below'} {limit} for {say_span(each.outside_s)}, "
            f"{'highest' if high else 'lowest'} {peak}."
        )


def _due(dues: Sequence[Due], words: Wording, now_ms: int) -> Iterator[str]:
    for each in dues:
        stage = words.stage(each.batch, each.stage)
        since, ends = words.time(each.since_ms, now_ms), words.time(each.ends_ms, now_ms)
        verb = "ended" if each.ends_ms <= now_ms else "ends"
        yield (
            f"{words.place(each.place)}: {words.batch(each.batch)}, at {stage} since {since}; "
            f"the longest time for that {verb} {ends}."
        )


def _open(alarms: Sequence[Alarm], words: Wording, now_ms: int) -> Iterator[str]:
    for alarm in alarms:
        low = alarm.priority is Priority.LOW
        if alarm.state is AlarmState.NORMAL or (low and alarm.state is AlarmState.ACKNOWLEDGED):
            continue
        when = words.time(alarm.began_ms, now_ms)
        if alarm.returned_ms is not None:
            yield f"{alarm.title}; nobody has said that they saw it."
        else:
            look = f" {words.first_look(alarm.key.kind, alarm.place)}" if low else ""
            yield f"Still open: {alarm.title}, since {when}.{look}"
