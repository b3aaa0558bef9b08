"""Night drills: a marked test as loud as an alarm, and who was woken by one. Pure."""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any, Final

from monitor.errors import LedgerRuleError
from monitor.farm import Farm, Person
from monitor.model import Notice, NoticeKind, Priority
from monitor.phrase import Phrase, in_english, spoken

WITHIN_MS: Final = 600_000
"""To be woken within ten minutes counts. [ms]"""
OLD_MS: Final = 30 * 86_400_000
"""A drill of so long ago proves nothing any more (cautious setting of our own). [ms]"""
KEY: Final = "night_drills"
_DAY_MS: Final = 86_400_000


def plain_test(farm: Farm, person: str, label: str, by: str, now_ms: int) -> Notice:
    """Return the test to one address that says that an alarm would come this way."""
    notice = Notice(
        id=0, alarm=None, kind=NoticeKind.DRILL, person=person, address=label,
        title=Phrase("TEST: {name} can reach you", name=farm.name),
        body=Phrase("This is a test, asked for by {by}. Nothing is wrong. An alarm would come "
"this way.", by=by),
        created_ms=now_ms, due_ms=now_ms,
    )  # fmt: skip
    return _in_the_language_of(farm.people.get(person), notice)


def night_test(farm: Farm, person: str, label: str, by: str, now_ms: int) -> Notice:
    """Return the test to one address: as urgent as an alarm that wakes someone."""
    notice = Notice(
        id=0, alarm=None, kind=NoticeKind.DRILL, person=person, address=label,
        title=title(farm),
        body=(
            Phrase("This is a night drill, asked for by {by}. Nothing is wrong. If it woke "
"you, say so within ten minutes: cormwatch alarm drill --woke", by=by)
        ),
        created_ms=now_ms, due_ms=now_ms, priority=Priority.HIGH.value,
    )  # fmt: skip
    return _in_the_language_of(farm.people.get(person), notice)


def _in_the_language_of(person: Person | None, notice: Notice) -> Notice:
    """Return a notice as its person is spoken to."""
    speak = in_english if person is None else person.speak
    return replace(notice, title=spoken(notice.title, speak), body=spoken(notice.body, speak))


def title(farm: Farm) -> str:
    """Return what a night drill asks."""
    return Phrase("TEST: does {name} wake you?", name=farm.name)


def is_night(notice: Notice) -> bool:
    """Return whether a notice is a night drill: a plain test is in no hurry."""
    return notice.kind is NoticeKind.DRILL and notice.priority == Priority.HIGH.value


def begun(kept: object, people: Iterable[str], now_ms: int) -> dict[str, Any]:
    """Return what is kept of the drills once one has been sent."""
    old = _plain(kept)
    return {**old, "sent": {**old["sent"], **dict.fromkeys(people, now_ms)}}


def woken(kept: object, person: Person, now_ms: int) -> dict[str, Any]:
    """Return what is kept once someone says that it woke them.

    Raises
    ------
    LedgerRuleError
        If no drill went to them, or it is more than ten minutes ago.
    """
    old = _plain(kept)
    sent_ms = old["sent"].get(person.id)
    if sent_ms is None:
        raise LedgerRuleError(
            Phrase(
                "no night drill has gone to {name}: send one with cormwatch alarm drill --night",
                name=person.name,
            )
        )
    if not 0 <= now_ms - sent_ms <= WITHIN_MS:
        minutes = max(0, now_ms - sent_ms) // 60_000
        raise LedgerRuleError(
            Phrase(
                "the last night drill to {name} was {minutes} minutes ago, and only ten "
                "count: look at how the phone is set for the night, then send another",
                name=person.name,
                minutes=minutes,
            )
        )
    return {**old, "woken": {**old["woken"], person.id: now_ms}}


def untested(kept: object, people: Mapping[str, Person], now_ms: int) -> list[str]:
    """Return a sentence for each person whom no drill has woken for thirty days."""
    old = _plain(kept)
    told: list[str] = []
    for person in people.values():
        if not person.addresses:
            continue
        woken_ms = old["woken"].get(person.id)
        since_ms = old["since_ms"] if woken_ms is None else woken_ms
        if since_ms is None or now_ms - since_ms < OLD_MS:
            continue
        days = (now_ms - since_ms) // _DAY_MS
        told.append(
            Phrase(
                "No drill has woken {name} yet: cormwatch alarm drill --night"
                if woken_ms is None
                else "No drill has woken {name} for {days} days: cormwatch alarm drill --night",
                name=person.name,
                days=days,
            )
        )
    return told


def watched_since(kept: object, now_ms: int) -> dict[str, Any] | None:
    """Return what to keep where nothing says yet since when drills are looked for, or None."""
    old = _plain(kept)
    return {**old, "since_ms": now_ms} if old["since_ms"] is None else None


def _plain(kept: object) -> dict[str, Any]:
    found = kept if isinstance(kept, Mapping) else {}
    return {
        "sent": dict(found.get("sent", {})),
        "woken": dict(found.get("woken", {})),
        "since_ms": found.get("since_ms"),
    }
