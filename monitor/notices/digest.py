"""The digest: how every place did, in plain words; it proves the road to the phone. Pure."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from monitor.alarms import Wording
from monitor.farm import NoticeRules, Person
from monitor.model import Notice, NoticeKind, Priority, Quantity
from monitor.notices.hours import instant_ms, local_day
from monitor.notices.planning import Letter, address
from monitor.phrase import Capital, Phrase, together

_DAY: Final = timedelta(days=1)
_HOUR_MS: Final = 3_600_000
_PROOF: Final = Phrase("That this reached you also proves the road to your phone.")


@dataclass(frozen=True, slots=True)
class PlaceTime:
    """A place's air over the time told of: hours known, of them in band, and its ends. [h], [°C]"""

    place: str
    known_h: int
    in_band_h: int | None
    coldest_c: float | None
    warmest_c: float | None


@dataclass(frozen=True, slots=True)
class Digest:
    """What there is to tell of some days; ``hours`` where the clocks changed on the way. [h]"""

    days: int
    places: Sequence[PlaceTime]
    alarms: int
    sent: int
    failed: int
    notes: Sequence[str] = ()
    hours: int | None = None


def due(last: date | None, now_ms: int, rules: NoticeRules, zone: ZoneInfo) -> date | None:
    """Return the day whose digest is due and not told yet, or None; weekly is on Sunday."""
    if rules.digest == "off":
        return None
    day = local_day(now_ms, zone)
    if now_ms < instant_ms(day, rules.morning_at, zone):
        day -= _DAY
    if rules.digest == "weekly":
        day -= timedelta(days=day.isoweekday() % 7)
    return day if last is None or last < day else None


def begun(days: int, now_ms: int, zone: ZoneInfo) -> tuple[int, int | None]:
    """Return when a digest's time began, by the clock on the wall, and its hours if unusual.

    The day on which clocks are put forward has 23 hours, the one on which they are put back
    25: then, and only then, the hours are given. [ms], [h]
    """
    now = datetime.fromtimestamp(now_ms / 1000, zone)
    began_ms = instant_ms(now.date() - days * _DAY, now.time(), zone)
    hours = round((now_ms - began_ms) / _HOUR_MS)
    return began_ms, None if hours == 24 * days else hours


def digest_message(
    digest: Digest, words: Wording, people: Mapping[str, Person], rules: NoticeRules, now_ms: int
) -> tuple[Notice, ...]:
    """Return the digest's rows of the outbox."""
    lines = [
        *(_place(each, words) for each in digest.places), _alarms(digest), *digest.notes, _PROOF,
    ]  # fmt: skip
    changed = (
        ""
        if digest.hours is None
        else Phrase(" ({hours} hours: the clocks were changed)", hours=digest.hours)
    )
    title = Phrase(
        "{name}, the last day{changed}" if digest.days == 1 else "{name}, the last week{changed}",
        name=words.farm.name,
        changed=changed,
    )
    letter = Letter(None, NoticeKind.TOLD, Priority.LOW, title, together(lines, "\n"))
    return address(letter, people, rules, now_ms)


def _place(told: PlaceTime, words: Wording) -> str:
    name = words.place(told.place)
    if told.known_h == 0 or told.coldest_c is None or told.warmest_c is None:
        return Phrase("{name}: not known, nothing was heard from there.", name=name)
    low, high = (
        words.value(each, Quantity.TEMPERATURE) for each in (told.coldest_c, told.warmest_c)
    )
    band = ""
    if told.in_band_h is not None:
        band = Phrase("in band {percent} % of ", percent=round(100 * told.in_band_h / told.known_h))
    return Phrase(
        "{name}: {band}{known} hours known; coldest {low}, warmest {high}.",
        name=name,
        band=band,
        known=told.known_h,
        low=low,
        high=high,
    )


def _alarms(digest: Digest) -> str:
    said: list[str] = [
        _counted(digest.alarms, Phrase("no alarms"), Phrase("1 alarm"), _ALARMS),
        _counted(digest.sent, Phrase("no messages sent"), Phrase("1 message sent"), _SENT),
    ]
    if digest.failed:
        said.append(Phrase("{number} NOT SENT: see the alarms page", number=digest.failed))
    return Phrase("{said}.", said=Capital(together(said, ", ")))


_SENT: Final = Phrase("{number} messages sent")
_ALARMS: Final = Phrase("{number} alarms")


def _counted(number: int, none: str, one: str, many: str) -> str:
    return Phrase(many, number=number) if number > 1 else (none, one)[number]
