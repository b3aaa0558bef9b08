"""What is said of a place past its limits, and of its return."""

from collections.abc import Mapping
from typing import Any, Final

from monitor.alarms.cost import COST, say_cost, unknown_s
from monitor.alarms.saying import say_span, say_trend
from monitor.alarms.wording import Wording, Words
from monitor.model import AlarmKind, Quantity, Transition
from monitor.phrase import Capital, Phrase, together

_ENDS: Final = ("from", "until")
_STALE_MS: Final = 10 * 60_000
_STATE: Final[Mapping[AlarmKind, str]] = {
    AlarmKind.TOO_WARM: Phrase("too warm"),
    AlarmKind.TOO_COLD: Phrase("too cold"),
    AlarmKind.TOO_DRY: Phrase("too dry"),
    AlarmKind.TOO_WET: Phrase("too damp"),
}
NOUN: Final = {
    Quantity.TEMPERATURE: Phrase("air"),
    Quantity.SOIL_TEMPERATURE: Phrase("soil"),
    Quantity.HUMIDITY: Phrase("humidity"),
}
_HIGH: Final = (AlarmKind.TOO_WARM, AlarmKind.TOO_WET)


def raised(transition: Transition, words: Wording, now_ms: int) -> Words:
    """Say that a place has been past a limit for longer than it may be."""
    if transition.facts.get("warming"):
        return _warming(transition, words, now_ms)
    if transition.facts.get("nearing"):
        return _nearing(transition, words, now_ms)
    place, kind = words.place(transition.place), transition.key.kind
    if transition.quantity is Quantity.SOIL_TEMPERATURE:
        place = Phrase("{place} soil", place=place)
    title = Phrase("{place} is {state}", place=place, state=_STATE[kind])
    parts = [
        Phrase("{title}.", title=title),
        _figure(transition, words, now_ms),
        _limit(transition, words, now_ms),
        *_doubts(transition.facts),
        words.contents(transition.place, now_ms),
        words.first_look(kind, transition.place),
    ]
    return Words(title, together(parts))


def _warming(transition: Transition, words: Wording, now_ms: int) -> Words:
    """Say that a cooler warms for longer than it ever does, before its limits are passed."""
    title = Phrase("{place} is warming", place=words.place(transition.place))
    since = words.time(transition.began_ms, now_ms)
    parts = [
        Phrase("{title}.", title=title),
        _figure(transition, words, now_ms),
        _ahead(transition, words, now_ms),
        Phrase(
            "It has risen since {since}, longer than this cooler's doors and defrosts take.",
            since=since,
        ),
        *_doubts({**transition.facts, "unknown_s": None}),
        words.contents(transition.place, now_ms),
        words.first_look(transition.key.kind, transition.place),
    ]
    return Words(title, together(each for each in parts if each))


def _nearing(transition: Transition, words: Wording, now_ms: int) -> Words:
    """Say that a place heads for a harm limit, by what the last hour shows."""
    title = Phrase(
        "{place} heads for {limit}",
        place=words.place(transition.place),
        limit=words.value(transition.limit or 0.0, transition.quantity),
    )
    parts = [
        Phrase("{title}.", title=title),
        _figure(transition, words, now_ms),
        _ahead(transition, words, now_ms),
        Phrase("That is by the last hour alone: go and look."),
        *_doubts({**transition.facts, "unknown_s": None}),
        words.contents(transition.place, now_ms),
        words.first_look(transition.key.kind, transition.place),
    ]
    return Words(title, together(each for each in parts if each))


def _ahead(transition: Transition, words: Wording, now_ms: int) -> str:
    """Return between which times the flowers, else the air, pass the band, where told."""
    facts, limit = transition.facts, transition.limit
    kept_c = facts.get("contents_c")
    parts = []
    if kept_c is not None:
        parts.append(
            Phrase("Flowers about {value}", value=words.value(kept_c, transition.quantity))
        )
    name = "past" if kept_c is None else "contents_past"
    if limit is not None and f"{name}_from_ms" in facts:
        early, late = (words.time(int(facts[f"{name}_{end}_ms"]), now_ms) for end in _ENDS)
        when = (
            Phrase("about {early}", early=early)
            if early == late
            else Phrase("between {early} and {late}", early=early, late=late)
        )
        parts.append(
            Phrase("past {value} {when}", value=words.value(limit, transition.quantity), when=when)
        )
    said = together(parts, ": ")
    return Phrase("{said}.", said=Capital(said)) if said else ""


def _figure(transition: Transition, words: Wording, now_ms: int) -> str:
    """Return ``"Air 43.8 °F and rising 3 °F an hour."``."""
    noun = Capital(NOUN[transition.quantity or Quantity.TEMPERATURE])
    if transition.value is None:
        return Phrase("{noun} not known now.", noun=noun)
    value = words.value(transition.value, transition.quantity)
    sample_ms = int(transition.facts.get("sample_ms", transition.at_ms))
    if now_ms - sample_ms > _STALE_MS:
        return Phrase(
            "{noun} was {value} at {time}.",
            noun=noun,
            value=value,
            time=words.time(sample_ms, now_ms),
        )
    trend = transition.facts.get("trend_per_h")
    return Phrase(
        "{noun} {value}{trend}.",
        noun=noun,
        value=value,
        trend=say_trend(trend, transition.quantity, words.farm.units),
    )


def _limit(transition: Transition, words: Wording, now_ms: int) -> str:
    """Return since when it is past which limit, whose it is, and how long it may be."""
    if transition.limit is None:
        return Phrase("Out since {time}.", time=words.time(transition.began_ms, now_ms))
    facts = transition.facts
    limit = words.value(transition.limit, transition.quantity)
    side = Phrase("at or above") if transition.key.kind in _HIGH else Phrase("at or below")
    out = Phrase(
        "It has been {side} {limit}{whose}", side=side, limit=limit, whose=_whose(facts, words)
    )
    if facts.get("cumulative_s") is not None:
        return Phrase(
            "{out} for {span} in all during this stay: more than the {allowed} it may be.",
            out=out,
            span=say_span(facts["whole_s"]),
            allowed=say_span(facts["cumulative_s"]),
        )
    allowed_s = facts.get("tolerated_s") or 0.0
    allowed = (
        Phrase(", longer than the {span} it may be", span=say_span(allowed_s)) if allowed_s else ""
    )
    return Phrase(
        "{out} since {time}{allowed}.",
        out=out,
        time=words.time(transition.began_ms, now_ms),
        allowed=allowed,
    )


def _whose(facts: Mapping[str, Any], words: Wording) -> str:
    """Name the batches whose limit it is, unless it is the place's own."""
    owners = [str(each) for each in facts.get("owners", ())]
    numbers = [int(each.partition(":")[2]) for each in owners if each.startswith("batch:")]
    if "place" in owners or not numbers:
        return ""
    more = Phrase(" and {number} more", number=len(numbers) - 1) if len(numbers) > 1 else ""
    return Phrase(" (the limit of {batch}{more})", batch=words.batch(numbers[0]), more=more)


def _doubts(facts: Mapping[str, Any]) -> list[str]:
    """Return what makes the figures less than sure."""
    doubts: list[str] = []
    if facts.get("unknown_s"):
        doubts.append(
            Phrase("For {span} of that nothing is known.", span=say_span(facts["unknown_s"]))
        )
    if facts.get("unit_suspect"):
        doubts.append(Phrase("The figure looks like another unit: check what the sensor sends."))
    return doubts


def returned(transition: Transition, words: Wording, now_ms: int) -> Words:
    """Say that a place is back, for how long it was out, and how far."""
    place, facts = words.place(transition.place), transition.facts
    title = Phrase("{place} is back in band", place=place)
    back = words.time(int(facts.get("back_ms", transition.at_ms)), now_ms)
    if facts.get("kept_in"):
        title = Phrase("{place} stayed in band", place=place)
        turned = Phrase("It turned back by {back}.", back=back)
        farthest = Phrase("{farthest}.", farthest=Capital(_farthest(transition, words)))
        return Words(title, together([Phrase("{title}.", title=title), farthest, turned]))
    parts = [Phrase("{title} since {back}.", title=title, back=back), _was_out(transition, words)]
    if unknown := unknown_s(facts):
        left_out = Phrase(", and not counted") if COST in facts else ""
        parts.append(
            Phrase(
                "For {span} of that nothing is known{left_out}.",
                span=say_span(unknown),
                left_out=left_out,
            )
        )
    return Words(title, together(parts))


def _was_out(transition: Transition, words: Wording) -> str:
    out = Phrase("Out for {span}", span=say_span(transition.facts.get("out_s", 0.0)))
    if transition.peak is None:
        return Phrase("{out}.", out=out)
    cost = say_cost(transition.facts, transition.key.kind, words)
    return Phrase(
        "{out}, {farthest}{cost}", out=out, farthest=_farthest(transition, words), cost=cost
    )


def _farthest(transition: Transition, words: Wording) -> str:
    """Return ``"air highest 81.2 °F"``."""
    return Phrase(
        "{noun} {most} {value}",
        noun=NOUN[transition.quantity or Quantity.TEMPERATURE],
        most=Phrase("highest") if transition.key.kind in _HIGH else Phrase("lowest"),
        value=words.value(transition.peak or 0.0, transition.quantity),
    )
