"""What is said of sensors that are not believed, and of their batteries."""

from collections.abc import Callable, Mapping
from typing import Final

from monitor.alarms.saying import say_list, say_span
from monitor.alarms.wording import Wording, Words
from monitor.model import AlarmKind, Transition


def _what(transition: Transition, words: Wording) -> str:
    said = transition.facts.get("said", transition.value)
    return "nothing" if said is None else words.value(float(said), transition.quantity)


def _beside(transition: Transition, words: Wording) -> str:
    beside = transition.facts.get("beside")
    return "" if beside is None else words.value(float(beside), transition.quantity)


def _span(transition: Transition) -> str:
    return say_span((transition.at_ms - transition.began_ms) / 1000)


def _impossible(transition: Transition, words: Wording) -> str:
    return f"It says {_what(transition, words)}, which cannot be there"


def _flat(transition: Transition, words: Wording) -> str:
    lasted = f"It has said exactly {_what(transition, words)} for {_span(transition)}"
    if transition.facts.get("others"):
        return f"{lasted}, as if it repeated its last value"
    return f"{lasted}, which it never does"


def _held(transition: Transition, words: Wording) -> str:
    return (
        f"It leapt to exactly {_what(transition, words)} and has said just that for "
        f"{_span(transition)}: air does not do that, a broken probe does"
    )


def _odd_one(transition: Transition, words: Wording) -> str:
    return f"It says {_what(transition, words)}, the others there {_beside(transition, words)}"


def _sunrise(transition: Transition, words: Wording) -> str:
    return (
        f"In the morning it jumps further than the air beside it, to {_what(transition, words)} "
        f"against {_beside(transition, words)}: the sun shines on it. "
        "It is not used for heat, for frost it is"
    )


def _apart(transition: Transition, words: Wording) -> str:
    return (
        f"It says {_what(transition, words)}, the other there {_beside(transition, words)}: "
        f"further apart for {_span(transition)} than is usual for them"
    )


def _clock(transition: Transition, words: Wording) -> str:  # noqa: ARG001  # as the others
    return (
        f"Its clock has been wrong for {_span(transition)}: "
        "its readings count by when they are heard"
    )


def _unit(transition: Transition, words: Wording) -> str:
    return (
        f"It says {_what(transition, words)}, which reads as if the other unit (°F or °C) was set"
    )


_REASONS: Final[Mapping[str, Callable[[Transition, Wording], str]]] = {
    "impossible": _impossible,
    "held": _held,
    "flat": _flat,
    "odd_one": _odd_one,
    "sunrise": _sunrise,
    "apart": _apart,
    "clock": _clock,
    "unit": _unit,
}


def doubtful(transition: Transition, words: Wording, now_ms: int) -> Words:
    """Say that a sensor is not to be believed, why, and who stands in for it."""
    place, sensor = words.place(transition.place), words.sensor(transition.sensor)
    title = f"{place}: sensor {sensor} is not to be believed"
    reason = _REASONS.get(str(transition.facts.get("reason", "")))
    since = words.time(transition.began_ms, now_ms)
    parts = [
        f"{title} since {since}.",
        f"{reason(transition, words)}." if reason else "",
        _judged(transition, words, place),
        words.contents(transition.place, now_ms) if _blind(transition) else "",
        words.first_look(AlarmKind.SENSOR_DOUBTFUL, transition.place),
    ]
    return Words(title, " ".join(each for each in parts if each))


def _blind(transition: Transition) -> bool:
    return not transition.facts.get("judges") and not transition.facts.get("others")


def _judged(transition: Transition, words: Wording, place: str) -> str:
    others = [words.sensor(each) for each in transition.facts.get("others", ())]
    if transition.facts.get("reason") == "apart":
        return f"Until it is known which is right, {place} is judged by the one nearer to harm."
    if transition.facts.get("judges") or transition.facts.get("reason") == "sunrise":
        return ""
    if transition.facts.get("heat_only"):
        return "Melting ice says so too: it is not used for heat, for frost it is."
    if others:
        return f"How {place} stands is judged by {say_list(others)} alone."
    return f"How {place} stands is not known."


def believed(transition: Transition, words: Wording, now_ms: int) -> Words:
    """Say that a sensor is believed again."""
    place, sensor = words.place(transition.place), words.sensor(transition.sensor)
    title = f"{place}: sensor {sensor} is believed again"
    when = words.time(transition.at_ms, now_ms)
    return Words(title, f"{title} since {when}, after {_span(transition)}.")


def battery(transition: Transition, words: Wording, now_ms: int) -> Words:  # noqa: ARG001
    """Say that a battery is to be changed."""
    place, sensor = words.place(transition.place), words.sensor(transition.sensor)
    title = f"{place}: the battery of sensor {sensor} is low"
    value = transition.value
    left = (
        "" if value is None else f" It says {value:.0f} %, and has been low for a day or fell fast."
    )
    look = words.first_look(AlarmKind.BATTERY_LOW, transition.place)
    return Words(title, f"{title}.{left} {look}")


def short(reason: str) -> str:
    """Return why a sensor is doubted, in a few words for a list."""
    return {
        "impossible": "says what cannot be",
        "held": "leapt to one value and has said just that since",
        "flat": "has said the same for hours",
        "odd_one": "far from the others there",
        "sunrise": "the sun shines on it",
        "apart": "further from the other there than usual",
        "clock": "its clock is wrong",
        "unit": "reads as if the other unit was set",
    }.get(reason, "not to be believed")
