"""Settings of when people are told: quiet hours, the morning, reminders, and turns of duty."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, time
from typing import Final

from fastapi import APIRouter, Response
from fastapi.responses import HTMLResponse

from monitor.days import SHORT
from monitor.farm import Duty
from monitor.farm.duty import WEEKDAYS
from monitor.farm.editing import set_duty, set_rules
from monitor.farm.editing.limits import say_duration
from monitor.phrase import Phrase, together
from monitor.units import parse_duration_s
from monitor.web.rendering import Here, Pages
from monitor.web.settings.changing import change, made, shown
from monitor.web.settings.typed import Sent, Typed

DIGESTS: Final = (
    ("weekly", Phrase("once a week")),
    ("daily", Phrase("every day")),
    ("off", Phrase("never")),
)
DAYS: Final = tuple(zip(WEEKDAYS, SHORT, strict=True))
_SPARE: Final = 2
_NUMBERED: Final = re.compile(r"person\.(\d{1,4})", re.ASCII)
_CLOCKS: Final = {
    "quiet_from": Phrase("quiet from"),
    "quiet_until": Phrase("quiet until"),
    "morning_at": Phrase("morning message"),
}
_SPANS: Final = {"remind_after": Phrase("reminders"), "escalate_after": Phrase("ringing the next")}

router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)


@router.get("/settings/times")
def times(pages: Here, *, done: bool = False) -> Response:
    """Show when people are told."""
    return _times(pages, Typed(), done=done)


@router.post("/settings/times")
def change_times(pages: Here, typed: Sent) -> Response:
    """Change when people are told."""
    values: dict[str, str | None] = {}
    for key in _CLOCKS:
        if typed.touched(key):
            at = typed.read(key, _clock)
            values[key] = None if at is None else f"{at:%H:%M}"
    for key in _SPANS:
        if typed.touched(key):
            values[key] = say_duration(typed.read(key, parse_duration_s) or 0) or None
            typed.needed(key, Phrase("say how long, as 30 min"))
    if typed.touched("summary"):
        known = [value for value, _ in DIGESTS]
        values["digest"] = typed.one_of("summary", known, Phrase("choose how often"))
    quiet = [bool(typed.text(key)) for key in ("quiet_from", "quiet_until")]
    if any(quiet) and not all(quiet):
        typed.refuse("quiet_until", Phrase("quiet hours have a beginning and an end, or neither"))
    if not values:
        typed.refuse("", Phrase("nothing is different from what it was"))
    names = {**_CLOCKS, **_SPANS, "digest": "summary"}
    why = Phrase(
        "{names} changed: {why}",
        names=together((names[key] for key in values), ", "),
        why=typed.why,
    )
    if change(pages, typed, [set_rules(values)], why):
        return made("/settings/times")
    return _times(pages, typed)


def _clock(text: str) -> time:
    try:
        return time.fromisoformat(text)
    except ValueError:
        raise ValueError(f"{text!r} is no time of day: write it as 21:30") from None


def _times(pages: Pages, typed: Typed, *, done: bool = False) -> Response:
    look = pages.look()
    rules = look.farm.notices
    clocks = {key: getattr(rules, key) for key in _CLOCKS}
    now = {key: "" if each is None else f"{each:%H:%M}" for key, each in clocks.items()}
    now |= {
        "remind_after": say_duration(rules.remind_after_s),
        "escalate_after": say_duration(rules.escalate_after_s), "summary": rules.digest,
    }  # fmt: skip
    return shown(pages, look, "times.html", "/settings", typed, done=done, now=now, digests=DIGESTS)


@dataclass(frozen=True, slots=True)
class Turn:
    """One turn of duty as the form shows it."""

    person: str
    days: tuple[str, ...]
    first: str
    last: str


@router.get("/settings/duty")
def duty(pages: Here, *, done: bool = False) -> Response:
    """Show who is on duty when."""
    return _duty(pages, Typed(), done=done)


@router.post("/settings/duty")
def change_duty(pages: Here, typed: Sent) -> Response:
    """Put other turns of duty in the place of those there are."""
    turns = list(_turns(typed, list(pages.desk.farm().people)))
    why = Phrase("turns of duty changed: {why}", why=typed.why)
    if change(pages, typed, [set_duty(turns)], why):
        return made("/settings/duty")
    return _duty(pages, typed)


def _turns(typed: Typed, people: list[str]) -> Iterator[dict[str, object]]:
    numbers = sorted({int(each[1]) for each in map(_NUMBERED.fullmatch, typed.sent) if each})
    for n in numbers:
        person = typed.text(f"person.{n}")
        if not person:
            continue
        typed.one_of(f"person.{n}", people, Phrase("choose somebody"))
        days = [each for each in WEEKDAYS if each in typed.all(f"days.{n}")]
        first, last = (
            typed.read(Phrase("{key}.{n}", key=key, n=n), _date) for key in ("first", "last")
        )
        if first and last and last < first:
            typed.refuse(f"last.{n}", Phrase("that is before it begins"))
        yield {"person": person, "weekdays": days, "first": first, "last": last}


def _date(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise ValueError(f"{text!r} is no date: write it as 2026-11-28") from None


def _turn(each: Duty) -> Turn:
    first, last = (day.isoformat() if day else "" for day in (each.first, each.last))
    return Turn(each.person, tuple(WEEKDAYS[day] for day in each.weekdays), first, last)


def _duty(pages: Pages, typed: Typed, *, done: bool = False) -> Response:
    look = pages.look()
    turns = [*map(_turn, look.farm.duty), *[Turn("", (), "", "")] * _SPARE]
    people = [("", Phrase("nobody")), *((each.id, each.name) for each in look.farm.people.values())]
    return shown(
        pages, look, "duty_turns.html", "/settings", typed, done=done, turns=turns,
        people_known=people, days=DAYS,
    )  # fmt: skip
