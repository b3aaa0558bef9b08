"""What is said of sensors that are not believed, and of their batteries."""

from collections.abc import Callable, Mapping
from typing import Final

from monitor.alarms.saying import say_list, say_span
from monitor.alarms.wording import Wording, Words
from monitor.model import AlarmKind, Transition
from monitor.phrase import Phrase, together


def _what(transition: Transition, words: Wording) -> str:
    said = transition.facts.get("said", transition.value)
    return Phrase("nothing") if said is None else words.value(float(said), transition.quantity)


def _beside(transition: Transition, words: Wording) -> str:
    beside = transition.facts.get("beside")
    return "" if beside is None else words.value(float(beside), transition.quantity)


def _span(transition: Transition) -> str:
    return say_span((transition.at_ms - transition.began_ms) / 1000)


def _impossible(transition: Transition, words: Wording) -> str:
    return Phrase("It says {what}, which cannot be there", what=_what(transition, words))


def _flat(transition: Transition, words: Wording) -> str:
    lasted = Phrase(
        "It has said exactly {what} for {span}",
        what=_what(transition, words),
        span=_span(transition),
    )
    if transition.facts.get("others"):
        return Phrase("{lasted}, as if it repeated its last value", lasted=lasted)
    return Phrase("{lasted}, which it never does", lasted=lasted)


def _held(transition: Transition, words: Wording) -> str:
    return Phrase(
        "It leapt to exactly {what} and has said just that for {span}: air does "
        "not do that, a broken probe does",
        what=_what(transition, words),
        span=_span(transition),
    )


def _odd_one(transition: Transition, words: Wording) -> str:
    return Phrase(
        "It says {what}, the others there {beside}",
        what=_what(transition, words),
        beside=_beside(transition, words),
    )


def _sunrise(transition: Transition, words: Wording) -> str:
    return Phrase(
        "In the morning it jumps further than the air beside it, to {what} against "
        "{beside}: the sun shines on it. It is not used for heat, for frost it is",
        what=_what(transition, words),
        beside=_beside(transition, words),
    )


def _apart(transition: Transition, words: Wording) -> str:
    return Phrase(
        "It says {what}, the other there {beside}: further apart for {span} than is usual for them",
        what=_what(transition, words),
        beside=_beside(transition, words),
        span=_span(transition),
    )


def _clock(transition: Transition, words: Wording) -> str:  # noqa: ARG001  # as the others
    return Phrase(
        "Its clock has been wrong for {span}: its readings count by when they are heard",
        span=_span(transition),
    )


def _unit(transition: Transition, words: Wording) -> str:
    return Phrase(
        "It says {what}, which reads as if the other unit (°F or °C) was set",
        what=_what(transition, words),
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
    title = Phrase("{place}: sensor {sensor} is not to be believed", place=place, sensor=sensor)
    reason = _REASONS.get(str(transition.facts.get("reason", "")))
    since = words.time(transition.began_ms, now_ms)
    parts = [
        Phrase("{title} since {since}.", title=title, since=since),
        Phrase("{reason}.", reason=reason(transition, words)) if reason else "",
        _judged(transition, words, place),
        words.contents(transition.place, now_ms) if _blind(transition) else "",
        words.first_look(AlarmKind.SENSOR_DOUBTFUL, transition.place),
    ]
    return Words(title, together(each for each in parts if each))


def _blind(transition: Transition) -> bool:
    return not transition.facts.get("judges") and not transition.facts.get("others")


def _judged(transition: Transition, words: Wording, place: str) -> str:
    others = [words.sensor(each) for each in transition.facts.get("others", ())]
    if transition.facts.get("reason") == "apart":
        return Phrase(
            "Until it is known which is right, {place} is judged by the one nearer to harm.",
            place=place,
        )
    if transition.facts.get("judges") or transition.facts.get("reason") == "sunrise":
        return ""
    if transition.facts.get("heat_only"):
        return Phrase("Melting ice says so too: it is not used for heat, for frost it is.")
    if others:
        return Phrase(
            "How {place} stands is judged by {names} alone.", place=place, names=say_list(others)
        )
    return Phrase("How {place} stands is not known.", place=place)


def believed(transition: Transition, words: Wording, now_ms: int) -> Words:
    """Say that a sensor is believed again."""
    place, sensor = words.place(transition.place), words.sensor(transition.sensor)
    title = Phrase("{place}: sensor {sensor} is believed again", place=place, sensor=sensor)
    when = words.time(transition.at_ms, now_ms)
    return Words(
        title,
        Phrase(
            "{title} since {when}, after {span}.", title=title, when=when, span=_span(transition)
        ),
    )


def battery(transition: Transition, words: Wording, now_ms: int) -> Words:  # noqa: ARG001
    """Say that a battery is to be changed."""
    place, sensor = words.place(transition.place), words.sensor(transition.sensor)
    title = Phrase("{place}: the battery of sensor {sensor} is low", place=place, sensor=sensor)
    value = transition.value
    left = (
        ""
        if value is None
        else Phrase(" It says {value:.0f} %, and has been low for a day or fell fast.", value=value)
    )
    look = words.first_look(AlarmKind.BATTERY_LOW, transition.place)
    return Words(title, Phrase("{title}.{left} {look}", title=title, left=left, look=look))


def short(reason: str) -> str:
    """Return why a sensor is doubted, in a few words for a list."""
    return {
        "impossible": Phrase("says what cannot be"),
        "held": Phrase("leapt to one value and has said just that since"),
        "flat": Phrase("has said the same for hours"),
        "odd_one": Phrase("far from the others there"),
        "sunrise": Phrase("the sun shines on it"),
        "apart": Phrase("further from the other there than usual"),
        "clock": Phrase("its clock is wrong"),
        "unit": Phrase("reads as if the other unit was set"),
    }.get(reason, Phrase("not to be believed"))
