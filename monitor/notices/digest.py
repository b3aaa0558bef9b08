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

_DAY: Final = timedelta(days=1)
_HOUR_MS: Final = 3_600_000
_PROOF: Final = "That this reached you also proves the road to your phone."


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
    span = "day" if digest.days == 1 else "week"
    lines = [
        *(_place(each, words) for each in digest.places), _alarms(digest), *digest.notes, _PROOF,
    ]  # fmt: skip
    changed = "" if digest.hours is None else f" ({digest.hours} hours: the clocks were changed)"
    title = f"{words.farm.name}, the last {span}{changed}"
    letter = Letter(None, NoticeKind.TOLD, Priority.LOW, title, "\n".join(lines))
    return address(letter, people, rules, now_ms)


def _place(told: PlaceTime, words: Wording) -> str:
    name = words.place(told.place)
    if told.known_h == 0 or told.coldest_c is None or told.warmest_c is None:
        return f"{name}: not known, nothing was heard from there."
    low, high = (
        words.value(each, Quantity.TEMPERATURE) for each in (told.coldest_c, told.warmest_c)
    )
    band = ""
    if told.in_band_h is not None:
        band = f"in band {round(100 * told.in_band_h / told.known_h)} % of "
    return f"{name}: {band}{told.known_h} hours known; coldest {low}, warmest {high}."


def _alarms(digest: Digest) -> str:
    said = [_counted(digest.alarms, "alarm"), f"{_counted(digest.sent, 'message')} sent"]
    if digest.failed:
        said.append(f"{digest.failed} NOT SENT: see the alarms page")
    text = f"{', '.join(said)}."
    return f"{text[:1].upper()}{text[1:]}"


def _counted(number: int, one: str) -> str:
    return f"{number or 'no'} {one}{'' if number == 1 else 's'}"
