"""When a condition is told, and with what facts.

A place's alarm of one kind is raised when any of its channels has been outside any harm
limit for the tolerated time, and returns when every channel is back. What is told is
remembered; how the channels stand does not depend on it.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any, Final, NamedTuple

from monitor.model import AlarmKey, AlarmKind, Channel, Edge, Priority, Transition
from monitor.watch import loading, priority
from monitor.watch.doubting import believed, look
from monitor.watch.plan import KIND_OF, Line, PlacePlan
from monitor.watch.state import Spell, Standing, Told, Track, WatchState
from monitor.watch.tail import trend_per_h
from monitor.watch.usual import WHY, Lasting, until_ms
from monitor.watch.warned import (
    course_ended,
    course_facts,
    course_standing,
    early_standing,
    warming_facts,
)

KINDS: Final = tuple(dict.fromkeys(KIND_OF.values()))
_HOUR_MS: Final = 3_600_000


class Member(NamedTuple):
    """One line of one channel that a place's alarm rests on."""

    channel: Channel
    track: Track
    line: Line
    standing: Standing


@dataclass(frozen=True, slots=True)
class Tale:
    """A state that has told what it had to tell."""

    state: WatchState
    transitions: tuple[Transition, ...] = ()


def tell_place(state: WatchState, place: PlacePlan) -> Tale:
    """Raise or return the alarms of a place, each at most once."""
    told, transitions = dict(state.told), []
    for kind in KINDS:
        key = AlarmKey(kind, place.id)
        members = list(_members(state, place, kind))
        if key in told:
            if not _lasts(members, told[key]) and not _doubted(state, members, told[key]):
                transitions.append(_returned(key, place, members, told.pop(key)))
            elif told[key].usual and not _explained(state, place, kind, members).why:
                transitions.append(_unusual(key, place, members, state.now_ms))
                told[key] = replace(told[key], usual=False)
        elif any(_raises(state, each) and _may(state, each) for each in members):
            state = look(state, [place])
            raising = [each for each in members if _raises(state, each) and _may(state, each)]
            if not raising:
                continue
            transition = _raised(key, place, raising)
            explained = _explained(state, place, kind, raising)
            if explained.why:
                transition = _expected(transition, explained)
            told[key] = Told(transition.began_ms, transition.at_ms, usual=bool(transition.expected))
            transitions.append(transition)
    if not transitions:
        return Tale(state)
    return Tale(replace(state, told=told), tuple(transitions))


def _members(state: WatchState, place: PlacePlan, kind: AlarmKind) -> Iterator[Member]:
    for channel in place.channels:
        track = state.tracks.get(channel)
        if track is None:
            continue
        lines = state.plan.channels[channel].lines
        for line, standing in zip(lines, track.standings, strict=True):
            if line.kind is kind:
                yield Member(channel, track, line, standing)
        early = state.plan.channels[channel].early
        if early is not None and early.kind is kind:
            yield Member(channel, track, early, early_standing(track))
        for ahead, course in zip(state.plan.channels[channel].aheads, track.courses, strict=True):
            if ahead.line.kind is kind:
                yield Member(channel, track, ahead.line, course_standing(track, course))


def _raises(state: WatchState, member: Member) -> bool:
    """Return whether a spell lasts at a newest sample that is news, not history."""
    if member.standing.spell is None or member.standing.run is None:
        return False
    silent_after_ms = state.plan.channels[member.channel].silent_after_ms
    return state.now_ms - member.track.fresh_ms <= silent_after_ms


def _may(state: WatchState, member: Member) -> bool:
    return believed(state, member.channel, member.line.side)


def _lasting(members: list[Member]) -> list[Lasting]:
    return [
        Lasting(each.track, each.line, each.standing.spell)
        for each in members
        if each.standing.spell is not None
    ]


def _usual(lasting: list[Lasting]) -> bool:
    """Return whether this cooler's habit explains all that lasts, at the newest sample."""
    end_ms = until_ms(lasting)
    newest = [each.track.newest for each in lasting]
    return all(each is not None and each.at_ms < end_ms for each in newest)


class _Explained(NamedTuple):
    """Why something is expected, and until when where that is known. [ms]"""

    why: str = ""
    until_ms: int = 0


def _explained(
    state: WatchState, place: PlacePlan, kind: AlarmKind, members: list[Member]
) -> _Explained:
    """Return what explains all that lasts: the place is being loaded, or a habit."""
    lasting = _lasting(members)
    held_ms = loading.explained_until_ms(place, kind, lasting, state.now_ms)
    if held_ms:
        return _Explained(loading.LOADING, held_ms)
    return _Explained(WHY if _usual(lasting) else "")


def _expected(raised: Transition, explained: _Explained) -> Transition:
    facts = dict(raised.facts)
    if explained.until_ms:
        facts["expected_until_ms"] = explained.until_ms
    return replace(raised, expected=explained.why, facts=facts)


def _unusual(key: AlarmKey, place: PlacePlan, members: list[Member], now_ms: int) -> Transition:
    """Raise what was expected, at the moment when nothing explains it any more."""
    raised = _raised(key, place, [each for each in members if each.standing.spell is not None])
    since_ms = max(until_ms(_lasting(members)), loading.ended_ms(place, now_ms))
    return replace(raised, at_ms=max(raised.at_ms, since_ms))


def _doubted(state: WatchState, members: list[Member], told: Told) -> bool:
    """Return whether an alarm would end by the word of a channel that is not believed."""
    return any(not _may(state, each) for each, _ in _ended(members, told))


def _ended(members: list[Member], told: Told) -> list[tuple[Member, Spell]]:
    return [
        (each, each.standing.last)
        for each in members
        if each.standing.last is not None and (each.standing.last.ended_ms or 0) >= told.raised_ms
    ]


def _lasts(members: list[Member], told: Told) -> bool:
    """Return whether any channel is still out, or went out before the last one was back."""
    if any(each.standing.spell is not None for each in members):
        return True
    until_ms = max((spell.ended_ms or 0 for _, spell in _ended(members, told)), default=None)
    runs = [each.standing.run for each in members if each.standing.run is not None]
    return any(until_ms is None or run.began_ms <= until_ms for run in runs)


def _raised(key: AlarmKey, place: PlacePlan, raising: list[Member]) -> Transition:
    worst = max(raising, key=_beyond)
    spells = [each.standing.spell for each in raising if each.standing.spell is not None]
    run = worst.standing.run or spells[0]
    newest_ms, value = worst.track.newest or (spells[0].raised_ms, spells[0].peak)
    unknown_ms = max(newest_ms - run.began_ms - run.known_ms, 0)
    facts: dict[str, Any] = {
        "owners": sorted({owner for each in raising for owner in each.line.owners}),
        "tolerated_s": _seconds(worst.line.tolerated_ms),
        "cumulative_s": _seconds(worst.line.cumulative_ms),
        "whole_s": worst.standing.whole_ms / 1000,
        "outside_s": run.known_ms / 1000,
        "unknown_s": unknown_ms / 1000,
        "sample_ms": newest_ms,
        "trend_per_h": trend_per_h(worst.track.tail_ms, worst.track.tail_value),
        "unit_suspect": worst.track.unit_suspect,
    }
    if worst.track.warming.told is not None and worst.line.tolerated_ms is None:
        facts |= warming_facts(worst.track, worst.line.limit, place.lag_ms)
    if worst.standing.spell is not None and worst.line.tolerated_ms is None:
        facts |= course_facts(worst.track, worst.standing.spell.raised_ms)
    return Transition(
        key=key,
        edge=Edge.RAISE,
        at_ms=min(spell.raised_ms for spell in spells),
        began_ms=min(spell.began_ms for spell in spells),
        priority=priority.of_place(key.kind, place.kind, held=place.held),
        place=place.id,
        sensor=worst.channel.sensor,
        quantity=worst.channel.quantity,
        batches=_batches(place, raising),
        value=value,
        limit=worst.line.limit,
        peak=run.peak,
        facts=facts,
    )


def _returned(key: AlarmKey, place: PlacePlan, members: list[Member], told: Told) -> Transition:
    ended = _ended(members, told)
    if not ended:
        return gone(key, told, place)
    worst, spell = max(ended, key=lambda pair: pair[0].line.sign * pair[1].peak)
    back_ms = max(each.back_ms or told.raised_ms for _, each in ended)
    settled = [each.standing.inside_since_ms or 0 for each in members]
    out_ms = max(back_ms, *settled) - told.began_ms
    facts: dict[str, Any] = {
        "back_ms": max(back_ms, *settled),
        "out_s": out_ms / 1000,
        "unknown_s": spell.unknown_ms / 1000,
        "degree_hours": max(each.area for _, each in ended) / _HOUR_MS,
    }
    if course_ended(worst.track, spell) and worst.line.sign * (spell.peak - worst.line.limit) < 0.0:
        facts["kept_in"] = True
    return Transition(
        key=key,
        edge=Edge.RETURN,
        at_ms=max(*settled, *(each.ended_ms or 0 for _, each in ended)),
        began_ms=told.began_ms,
        priority=priority.of_place(key.kind, place.kind, held=place.held),
        place=place.id,
        sensor=worst.channel.sensor,
        quantity=worst.channel.quantity,
        batches=place.batches,
        value=worst.track.newest.value if worst.track.newest else None,
        limit=worst.line.limit,
        peak=spell.peak,
        facts=facts,
    )


def gone(key: AlarmKey, told: Told, place: PlacePlan | None, at_ms: int = 0) -> Transition:
    """Return the end of an alarm whose condition nothing judges any more.

    The limit, the sensor or the batch that it rested on was taken away.
    """
    return Transition(
        key=key,
        edge=Edge.RETURN,
        at_ms=max(at_ms, told.raised_ms),
        began_ms=told.began_ms,
        priority=Priority.LOW,
        place=place.id if place else None,
        facts={"gone": True},
    )


def _beyond(member: Member) -> float:
    peak = member.standing.run.peak if member.standing.run else member.line.limit
    return member.line.sign * (peak - member.line.limit)


def _batches(place: PlacePlan, raising: list[Member]) -> tuple[int, ...]:
    """Return the batches it concerns: all of the place where the limit is the place's own."""
    owners = {owner for each in raising for owner in each.line.owners}
    if "place" in owners:
        return place.batches
    return tuple(each for each in place.batches if f"batch:{each}" in owners)


def _seconds(span_ms: int | None) -> float | None:
    return None if span_ms is None else span_ms / 1000
