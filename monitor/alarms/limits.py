"""What is said of a place past its limits, and of its return."""

from collections.abc import Mapping
from typing import Any, Final

from monitor.alarms.cost import COST, say_cost, unknown_s
from monitor.alarms.saying import say_span, say_trend
from monitor.alarms.wording import Wording, Words
from monitor.model import AlarmKind, Quantity, Transition

_ENDS: Final = ("from", "until")
_STALE_MS: Final = 10 * 60_000
_STATE: Final[Mapping[AlarmKind, str]] = {
    AlarmKind.TOO_WARM: "too warm",
    AlarmKind.TOO_COLD: "too cold",
    AlarmKind.TOO_DRY: "too dry",
    AlarmKind.TOO_WET: "too damp",
}
NOUN: Final = {
    Quantity.TEMPERATURE: "air",
    Quantity.SOIL_TEMPERATURE: "soil",
    Quantity.HUMIDITY: "humidity",
}
_HIGH: Final = (AlarmKind.TOO_WARM, AlarmKind.TOO_WET)


def raised(transition: Transition, words: Wording, now_ms: int) -> Words:
    """Say that a place has been past a limit for longer than it may be."""
    if transition.facts.get("warming"):
        return _warming(transition, words, now_ms)
    place, kind = words.place(transition.place), transition.key.kind
    what = " soil" if transition.quantity is Quantity.SOIL_TEMPERATURE else ""
    title = f"{place}{what} is {_STATE[kind]}"
    parts = [
        f"{title}.",
        _figure(transition, words, now_ms),
        _limit(transition, words, now_ms),
        *_doubts(transition.facts),
        words.contents(transition.place, now_ms),
        words.first_look(kind, transition.place),
    ]
    return Words(title, " ".join(parts))


def _warming(transition: Transition, words: Wording, now_ms: int) -> Words:
    """Say that a cooler warms for longer than it ever does, before its limits are passed."""
    title = f"{words.place(transition.place)} is warming"
    since = words.time(transition.began_ms, now_ms)
    parts = [
        f"{title}.",
        _figure(transition, words, now_ms),
        _ahead(transition, words, now_ms),
        f"It has risen since {since}, longer than this cooler's doors and defrosts take.",
        *_doubts({**transition.facts, "unknown_s": None}),
        words.contents(transition.place, now_ms),
        words.first_look(transition.key.kind, transition.place),
    ]
    return Words(title, " ".join(each for each in parts if each))


def _ahead(transition: Transition, words: Wording, now_ms: int) -> str:
    """Return between which times the flowers, else the air, pass the band, where told."""
    facts, limit = transition.facts, transition.limit
    kept_c = facts.get("contents_c")
    parts = []
    if kept_c is not None:
        parts.append(f"Flowers about {words.value(kept_c, transition.quantity)}")
    name = "past" if kept_c is None else "contents_past"
    if limit is not None and f"{name}_from_ms" in facts:
        early, late = (words.time(int(facts[f"{name}_{end}_ms"]), now_ms) for end in _ENDS)
        when = f"about {early}" if early == late else f"between {early} and {late}"
        parts.append(f"past {words.value(limit, transition.quantity)} {when}")
    said = ": ".join(parts)
    return f"{said[0].upper()}{said[1:]}." if said else ""


def _figure(transition: Transition, words: Wording, now_ms: int) -> str:
    """Return ``"Air 43.8 °F and rising 3 °F an hour."``."""
    noun = NOUN.get(transition.quantity or Quantity.TEMPERATURE, "air").capitalize()
    if transition.value is None:
        return f"{noun} not known now."
    value = words.value(transition.value, transition.quantity)
    sample_ms = int(transition.facts.get("sample_ms", transition.at_ms))
    if now_ms - sample_ms > _STALE_MS:
        return f"{noun} was {value} at {words.time(sample_ms, now_ms)}."
    trend = transition.facts.get("trend_per_h")
    return f"{noun} {value}{say_trend(trend, transition.quantity, words.farm.units)}."


def _limit(transition: Transition, words: Wording, now_ms: int) -> str:
    """Return since when it is past which limit, whose it is, and how long it may be."""
    if transition.limit is None:
        return f"Out since {words.time(transition.began_ms, now_ms)}."
    facts = transition.facts
    limit = words.value(transition.limit, transition.quantity)
    side = "at or above" if transition.key.kind in _HIGH else "at or below"
    out = f"It has been {side} {limit}{_whose(facts, words)}"
    if facts.get("cumulative_s") is not None:
        return (
            f"{out} for {say_span(facts['whole_s'])} in all during this stay: "
            f"more than the {say_span(facts['cumulative_s'])} it may be."
        )
    allowed_s = facts.get("tolerated_s") or 0.0
    allowed = f", longer than the {say_span(allowed_s)} it may be" if allowed_s else ""
    return f"{out} since {words.time(transition.began_ms, now_ms)}{allowed}."


def _whose(facts: Mapping[str, Any], words: Wording) -> str:
    """Name the batches whose limit it is, unless it is the place's own."""
    owners = [str(each) for each in facts.get("owners", ())]
    numbers = [int(each.partition(":")[2]) for each in owners if each.startswith("batch:")]
    if "place" in owners or not numbers:
        return ""
    more = f" and {len(numbers) - 1} more" if len(numbers) > 1 else ""
    return f" (the limit of {words.batch(numbers[0])}{more})"


def _doubts(facts: Mapping[str, Any]) -> list[str]:
    """Return what makes the figures less than sure."""
    doubts = []
    if facts.get("unknown_s"):
        doubts.append(f"For {say_span(facts['unknown_s'])} of that nothing is known.")
    if facts.get("unit_suspect"):
        doubts.append("The figure looks like another unit: check what the sensor sends.")
    return doubts


def returned(transition: Transition, words: Wording, now_ms: int) -> Words:
    """Say that a place is back, for how long it was out, and how far."""
    place, facts = words.place(transition.place), transition.facts
    title = f"{place} is back in band"
    back = words.time(int(facts.get("back_ms", transition.at_ms)), now_ms)
    parts = [f"{title} since {back}.", _was_out(transition, words)]
    if unknown := unknown_s(facts):
        left_out = ", and not counted" if COST in facts else ""
        parts.append(f"For {say_span(unknown)} of that nothing is known{left_out}.")
    return Words(title, " ".join(parts))


def _was_out(transition: Transition, words: Wording) -> str:
    out = f"Out for {say_span(transition.facts.get('out_s', 0.0))}"
    if transition.peak is None:
        return f"{out}."
    noun = NOUN.get(transition.quantity or Quantity.TEMPERATURE, "air")
    most = "highest" if transition.key.kind in _HIGH else "lowest"
    cost = say_cost(transition.facts, transition.key.kind, words)
    return f"{out}, {noun} {most} {words.value(transition.peak, transition.quantity)}{cost}"
