"""What is said where several sensors are dark at once: places, last words, hold-over."""

from collections.abc import Mapping
from typing import Any, Final

from monitor.alarms.saying import say_list, say_span
from monitor.alarms.wording import Wording, Words
from monitor.model import AlarmKind, Quantity, Transition
from monitor.phrase import Phrase, together

_LAST: Final = (Quantity.TEMPERATURE, Quantity.HUMIDITY)
_MOST: Final = 6  # places named in full in one message
_ABOUT: Final = 1.5  # a range narrower than this is one figure


def sensors_dark(transition: Transition, words: Wording, now_ms: int) -> Words:
    """Say which sensors fell silent together, where, and how long things may hold.

    It is read once it is told, which is later than it is written: spans are of that time.
    """
    facts = transition.facts
    ids = [words.sensor(each) for each in facts.get("sensors", ())]
    gateway = str(facts.get("gateway", ""))
    where = _where(facts, words)
    title = Phrase("{where}: {number} sensors fell silent together", where=where, number=len(ids))
    if gateway:
        title = Phrase(
            "{where}: nothing comes through gateway {gateway}", where=where, gateway=gateway
        )
    since = words.time(transition.began_ms, now_ms)
    told_ms = max(now_ms, int(facts.get("tell_ms", now_ms)))
    parts = [
        Phrase("{title}.", title=title),
        Phrase("Last heard at {since}: {names}.", since=since, names=say_list(sorted(ids))),
        *say_dark(facts, words, told_ms),
        words.first_look(AlarmKind.SENSORS_DARK, transition.place),
    ]
    return Words(title, together(parts))


def _where(facts: Mapping[str, Any], words: Wording) -> str:
    places = [words.place(each["place"]) for each in facts.get("dark", ())]
    if len(places) > 2:  # noqa: PLR2004  # two names still fit a title
        return Phrase("{places} and {number} more places", places=places[0], number=len(places) - 1)
    return say_list(places) or Phrase("The farm")


def say_dark(facts: Mapping[str, Any], words: Wording, now_ms: int) -> list[str]:
    """Return a sentence on each dark place, and what to do: keep the door shut.

    Parameters
    ----------
    facts : Mapping
        With ``dark`` as the watch gives it; temperatures in [°C].
    words : Wording
        The farm's names and units.
    now_ms : int
        Now. [ms]
    """
    places = facts.get("dark", ())
    if not places:
        return []
    said = [_place(each, words, now_ms) for each in places[:_MOST]]
    if len(places) > _MOST:
        said.append(Phrase("{number} more places are dark.", number=len(places) - _MOST))
    if any(each.get("hold_s") for each in places):
        said.append(
            Phrase(
                "That is common practice for a box in a room of {low} to {high}, not "
                "a measurement.",
                low=words.value(14.0, Quantity.TEMPERATURE),
                high=words.value(26.0, Quantity.TEMPERATURE),
            )
        )
    return [*said, Phrase("Keep the door shut.")]


def _place(dark: Mapping[str, Any], words: Wording, now_ms: int) -> str:
    name = words.place(dark["place"])
    last = [words.value(dark["last"][each], each) for each in _LAST if each in dark["last"]]
    heard = words.time(int(dark["heard_ms"]), now_ms)
    text = Phrase("{name} is dark since {heard}", name=name, heard=heard)
    if last:
        text += Phrase(", its last word {names}", names=say_list(last))
    text += "."
    if "hold_s" in dark:
        gone_s = (now_ms - int(dark["heard_ms"])) / 1000
        early_s, late_s = (max(each - gone_s, 0.0) for each in dark["hold_s"])
        top = words.value(float(dark["top_c"]), Quantity.TEMPERATURE)
        text += Phrase(
            " Should its cooling have stopped too: {hold} left until ", hold=_hold(early_s, late_s)
        )
        text += Phrase("what is in there passes {top}.", top=top)
    return text


def _hold(early_s: float, late_s: float) -> str:
    if early_s <= 0.0:
        return Phrase("at most {hours}", hours=_hours(late_s))
    if late_s <= _ABOUT * early_s:
        return Phrase("about {hours}", hours=_hours((early_s + late_s) / 2))
    return Phrase("{least} to {most}", least=_hours(early_s), most=_hours(late_s))


def _hours(span_s: float) -> str:
    """Return a span as coarse as it is known."""
    step_s = 3600.0 if span_s >= 4 * 3600.0 else 900.0  # beyond it hours do
    return (
        say_span(round(span_s / step_s) * step_s)
        if span_s >= step_s
        else Phrase("less than 15 min")
    )
