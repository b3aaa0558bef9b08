"""The morning message: what drifted, what is due, what is still open; else silence."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from monitor.alarms import Wording
from monitor.alarms.limits import NOUN
from monitor.alarms.saying import say_span
from monitor.alarms.told import title_of
from monitor.farm import NoticeRules, Person
from monitor.model import Alarm, AlarmState, Notice, NoticeKind, Priority, Side
from monitor.notices.planning import Letter, address
from monitor.phrase import Phrase, together
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
    title = Phrase("{name}, this morning", name=words.farm.name)
    letter = Letter(
        None, NoticeKind.MORNING, Priority.LOW, title, together([*lines, *morning.notes], "\n")
    )
    return address(letter, people, rules, now_ms)


def _some(lines: Sequence[str]) -> Sequence[str]:
    left = len(lines) - _MOST
    return [*lines[:_MOST], Phrase("and {left} more like these.", left=left)] if left > 0 else lines


def _drifted(drifts: Sequence[Drift], words: Wording) -> Iterator[str]:
    for each in drifts:
        high = each.side is Side.HIGH
        limit, peak = words.value(each.limit, each.quantity), words.value(each.peak, each.quantity)
        yield (
            Phrase(
                "{place} drifted: {noun} above {limit} for {span}, highest {peak}."
                if high
                else "{place} drifted: {noun} below {limit} for {span}, lowest {peak}.",
                place=words.place(each.place),
                noun=NOUN[each.quantity],
                limit=limit,
                span=say_span(each.outside_s),
                peak=peak,
            )
        )


def _due(dues: Sequence[Due], words: Wording, now_ms: int) -> Iterator[str]:
    for each in dues:
        stage = words.stage(each.batch, each.stage)
        since, ends = words.time(each.since_ms, now_ms), words.time(each.ends_ms, now_ms)
        yield Phrase(
            "{place}: {batch}, at {stage} since {since}; the longest time for that "
            "ended {ends}."
            if each.ends_ms <= now_ms
            else "{place}: {batch}, at {stage} since {since}; the longest time for that "
            "ends {ends}.",
            place=words.place(each.place), batch=words.batch(each.batch), stage=stage,
            since=since, ends=ends,
        )  # fmt: skip


def _open(alarms: Sequence[Alarm], words: Wording, now_ms: int) -> Iterator[str]:
    for alarm in alarms:
        low = alarm.priority is Priority.LOW
        if alarm.state is AlarmState.NORMAL or (low and alarm.state is AlarmState.ACKNOWLEDGED):
            continue
        when = words.time(alarm.began_ms, now_ms)
        if alarm.returned_ms is not None:
            yield Phrase("{title}; nobody has said that they saw it.", title=title_of(alarm))
        else:
            look = (
                Phrase(" {first_look}", first_look=words.first_look(alarm.key.kind, alarm.place))
                if low
                else ""
            )
            yield Phrase(
                "Still open: {title}, since {when}.{look}",
                title=title_of(alarm),
                when=when,
                look=look,
            )
