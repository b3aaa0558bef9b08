"""Tonight and this morning in words: covers in the afternoon, opening in the morning.

A message is sent at its own time, at low priority, never in the quiet hours, and only
where there is something to do. The page and the command say the same, and what is missing.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import Final
from zoneinfo import ZoneInfo

from monitor.alarms import Wording
from monitor.batches.voice import Voice, listed, percent
from monitor.farm import NoticeRules, Person
from monitor.model import Notice, NoticeKind, Priority
from monitor.notices.hours import instant_ms, local_day, quiet_until_ms
from monitor.notices.planning import Letter, address
from monitor.phrase import Phrase, together
from monitor.science.frost_outlook import Basis
from monitor.science.sun import Night
from monitor.science.tunnel_heat import Basis as HeatBasis
from monitor.watch.heat import Heat
from monitor.watch.tonight import OWN_FROM, Lack, Tonight

STATIONS: Final = 42
"""Weather stations whose pooled nights the outlook starts from."""
_EIGHT_IN_TEN: Final = 1.2816  # of a normal spread, to either side
_BEFORE_QUIET_MS: Final = 600_000
_COVERS: Final = {"light": Phrase("light"), "heavy": Phrase("heavy"), "inner": Phrase("inner")}
_LACKS: Final[Mapping[Lack, str]] = {
    Lack.NO_AIR: Phrase("no sensor tells the air's temperature here"),
    Lack.AIR_OLD: Phrase("its air has not been heard for the last 45 minutes"),
    Lack.NO_HUMIDITY: Phrase(
        "no sensor tells the humidity here, and without it there is no dew point"
    ),
    Lack.HUMIDITY_OLD: Phrase(
        "its humidity has not been heard for the last 45 minutes, and without it "
        "there is no dew point"
    ),
    Lack.TOO_EARLY: Phrase("it is too early: the first can be given four hours before sunset"),
    Lack.OUTSIDE: Phrase("this evening's air lies outside what the model was made from"),
    Lack.NO_NIGHT: Phrase("the sun does not set and rise here on this day"),
}


@dataclass(frozen=True, slots=True)
class Telling:
    """The farm's words, and how it speaks now."""

    words: Wording
    voice: Voice

    def degrees(self, value_c: float) -> str:
        """Return a temperature [°C] in whole degrees of the farm."""
        return self.voice.degrees(value_c)


def telling(words: Wording, now_ms: int) -> Telling:
    """Return how the farm speaks at a time. [ms]"""
    return Telling(words, Voice(words.farm.units, words.farm.zone, now_ms))


def needs_cover(told: Tonight, rules: NoticeRules) -> bool:
    """Return whether there is something to do about tonight."""
    return told.holds and told.chance is not None and told.chance >= rules.frost_chance


def say_tonight(told: Tonight, how: Telling) -> str:
    """Return a place's night in sentences, the thing to do first where there is one."""
    return together(each for each in tonight_parts(told, how) if each)


def tonight_parts(told: Tonight, how: Telling) -> tuple[str, str]:
    """Return what to know of a place's night, and what stands behind it."""
    name = how.words.place(told.place)
    if told.least_c is None:
        return Phrase("{name}, tonight: no outlook, for {lack}.", name=name, lack=_lack(told)), ""
    rules = how.words.farm.notices
    do = Phrase("{do}. ", do=_do(told, how)) if needs_cover(told, rules) else ""
    behind = (_cover(told, how), _holds(told, how), say_basis(told, how))
    return Phrase(
        "{name}, tonight: {do}{chance}.", name=name, do=do, chance=_chance(told, how)
    ), together(each for each in behind if each)


def _lack(told: Tonight) -> str:
    return _LACKS[told.lack] if told.lack is not None else Phrase("nothing is known")


def _do(told: Tonight, how: Telling) -> str:
    before = ""
    if told.night is not None and how.voice.now_ms < told.night.set_ms:
        before = Phrase(" before sunset at {clock}", clock=how.voice.clock(told.night.set_ms))
    if told.cover == "none":
        return Phrase("close it{before}, there is no cover for it by farm.toml", before=before)
    return Phrase("covers on{before}", before=before)


def _chance(told: Tonight, how: Telling) -> str:
    least = _least(told, how)
    if told.limit is None or told.chance is None:
        return Phrase("{least}; no harm limit stands for it", least=least)
    when = ""
    if told.chance >= how.words.farm.notices.frost_chance and told.passes_ms is not None:
        when = Phrase(
            ", if so from about {clock}", clock=how.voice.clock(_to_ten_minutes(told.passes_ms))
        )
    limit = how.degrees(told.limit.limit_c)
    return Phrase(
        "{percent} chance of {limit} or less{when}; {least}",
        percent=percent(told.chance),
        limit=limit,
        when=when,
        least=least,
    )


def _to_ten_minutes(at_ms: int) -> int:
    return round(at_ms / 600_000) * 600_000


def _least(told: Tonight, how: Telling) -> str:
    least_c, sd_k = told.least_c or 0.0, told.sd_k or 0.0
    low, high = (how.degrees(least_c + sign * _EIGHT_IN_TEN * sd_k) for sign in (-1, 1))
    until = (
        Phrase(" towards {clock}", clock=how.voice.clock(told.night.rise_ms)) if told.night else ""
    )
    return Phrase(
        "least about {degrees}{until} (8 nights in 10: {low} to {high})",
        degrees=how.degrees(least_c),
        until=until,
        low=low,
        high=high,
    )


def _cover(told: Tonight, how: Telling) -> str:
    covered = told.chance_covered
    if covered is None or not needs_cover(told, how.words.farm.notices):
        return ""
    return Phrase(
        "Under its {cover} cover: {percent}.",
        cover=_COVERS.get(told.cover or "", ""),
        percent=percent(covered),
    )


def _holds(told: Tonight, how: Telling) -> str:
    """Return whose limit it is: what is there, and at which stage."""
    if told.limit is None or not needs_cover(told, how.words.farm.notices):
        return ""
    limit = how.degrees(told.limit.limit_c)
    if not told.limit.batches:
        return Phrase(
            "{limit} is the place's own harm limit; nothing stands there by your records.",
            limit=limit,
        )
    named = listed([how.words.batch(each) for each in told.limit.batches])
    at = Phrase(" at {stage}", stage=Phrase(told.limit.stage).lower()) if told.limit.stage else ""
    return Phrase("In there: {named}; {limit} harms{at}.", named=named, limit=limit, at=at)


def say_basis(told: Tonight, how: Telling) -> str:
    """Return what the outlook rests on, in plain words."""
    if told.basis is None:
        given = _typed(told, how)
        return (
            Phrase("By {given} alone, for {lack}.", given=given, lack=_lack(told)) if given else ""
        )
    given = _typed(told, how)
    return Phrase(
        "From {nights}{more}.",
        nights=_nights(told),
        more=Phrase(", and {given}", given=given) if given else "",
    )


def _nights(told: Tonight) -> str:
    others = Phrase("{number} other stations' nights", number=STATIONS)
    if told.basis is Basis.OWN_NIGHTS:
        return Phrase("{own_nights} nights of its own", own_nights=told.own_nights)
    if told.own_nights < OWN_FROM:
        has = (
            Phrase("it has {own_nights}", own_nights=told.own_nights)
            if told.own_nights
            else Phrase("it has none yet")
        )
        return Phrase(
            "{others} until it has {enough} of its own; {has}",
            others=others,
            enough=OWN_FROM,
            has=has,
        )
    return Phrase(
        "{others}, moved by {own_nights} of its own", others=others, own_nights=told.own_nights
    )


def _typed(told: Tonight, how: Telling) -> str:
    if told.typed is None:
        return ""
    low = how.degrees(told.typed.low_c)
    return Phrase(
        "the forecast low of {low} that {by} gave {when}",
        low=low,
        by=told.typed.by,
        when=how.voice.when(told.typed.at_ms),
    )


def say_heat(told: Heat, how: Telling) -> str:
    """Return when a place passes its opening temperature, to open it, and what says so."""
    return together(heat_parts(told, how))


def heat_parts(told: Heat, how: Telling) -> tuple[str, str]:
    """Return when to open a place, and what stands behind it."""
    clock, name = how.voice.clock, how.words.place(told.place)
    late = (
        Phrase("or not at all")
        if told.late_ms is None
        else Phrase("to {clock}", clock=clock(told.late_ms))
    )
    hour = Phrase(
        "about {clock} ({early} {late})",
        clock=clock(told.middle_ms),
        early=clock(told.early_ms),
        late=late,
    )
    return Phrase(
        "{name} passes {degrees} {hour}: open it.",
        name=name,
        degrees=how.degrees(told.limit_c),
        hour=hour,
    ), _heat_basis(told)


def _heat_basis(told: Heat) -> str:
    if told.basis is HeatBasis.CLIMB_ALONE:
        return Phrase("From this morning's climb alone: too few like days of its own are known.")
    chance = (
        ""
        if told.chance is None
        else Phrase("; {percent} of them passed it", percent=percent(told.chance))
    )
    return Phrase(
        "From this morning's climb and {days} like days of its own{chance}.",
        days=told.days,
        chance=chance,
    )


def cover_window(night: Night | None, rules: NoticeRules, zone: ZoneInfo) -> tuple[int, int] | None:
    """Return from when to when covers are spoken of: while there is light. [ms]

    It ends at sunset, or ten minutes before quiet hours that begin earlier, and begins as
    long before that as before sunset. None on a day without a sunset.
    """
    if night is None:
        return None
    end_ms = night.set_ms
    if rules.quiet_from is not None and rules.quiet_until is not None:
        today = local_day(night.set_ms, zone)
        for day in (today - timedelta(days=1), today):
            from_ms = instant_ms(day, rules.quiet_from, zone)
            until_ms = quiet_until_ms(from_ms, rules, zone)
            if until_ms is not None and from_ms <= night.set_ms < until_ms:
                end_ms = min(end_ms, from_ms - _BEFORE_QUIET_MS)
    return end_ms - round(rules.covers_before_s * 1000), end_ms


def cover_message(
    told: Sequence[Tonight], words: Wording, people: Mapping[str, Person], rules: NoticeRules,
    now_ms: int,
) -> tuple[Notice, ...]:  # fmt: skip
    """Return the afternoon's rows of the outbox: none where there is nothing to do."""
    cold = [each for each in told if needs_cover(each, rules)]
    if not cold:
        return ()
    how = telling(words, now_ms)
    names = listed([words.place(each.place) for each in cold])
    title = Phrase("{names}: cover for tonight", names=names)
    body = together((say_tonight(each, how) for each in cold), "\n")
    return _letter(title, body, people, rules, now_ms)


def heat_message(
    told: Sequence[Heat], words: Wording, people: Mapping[str, Person], rules: NoticeRules,
    now_ms: int,
) -> tuple[Notice, ...]:  # fmt: skip
    """Return the morning's rows of the outbox: none where nothing will get too warm."""
    if not told or quiet_until_ms(now_ms, rules, words.farm.zone) is not None:
        return ()
    how = telling(words, now_ms)
    names = listed([words.place(each.place) for each in told])
    title = Phrase("{names}: open this morning", names=names)
    return _letter(
        title, together((say_heat(each, how) for each in told), "\n"), people, rules, now_ms
    )


def _letter(
    title: str, body: str, people: Mapping[str, Person], rules: NoticeRules, now_ms: int
) -> tuple[Notice, ...]:
    letter = Letter(None, NoticeKind.TOLD, Priority.LOW, title, body)
    return address(letter, people, rules, now_ms)
