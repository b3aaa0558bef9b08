"""What is said where several sensors are dark at once: places, last words, hold-over."""

from collections.abc import Mapping
from typing import Any, Final

from monitor.alarms.saying import say_list, say_span
from monitor.alarms.wording import Wording, Words
from monitor.model import AlarmKind, Quantity, Transition

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
    title = f"{where}: {len(ids)} sensors fell silent together"
    if gateway:
        title = f"{where}: nothing comes through gateway {gateway}"
    since = words.time(transition.began_ms, now_ms)
    told_ms = max(now_ms, int(facts.get("tell_ms", now_ms)))
    parts = [
        f"{title}.",
        f"Last heard at {since}: {say_list(sorted(ids))}.",
        *say_dark(facts, words, told_ms),
        words.first_look(AlarmKind.SENSORS_DARK, transition.place),
    ]
    return Words(title, " ".join(parts))


def _where(facts: Mapping[str, Any], words: Wording) -> str:
    places = [words.place(each["place"]) for each in facts.get("dark", ())]
    if len(places) > 2:  # noqa: PLR2004  # two names still fit a title
        return f"{places[0]} and {len(places) - 1} more places"
    return say_list(places) or "The farm"


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
        said.append(f"{len(places) - _MOST} more places are dark.")
    if any(each.get("hold_s") for each in places):
        said.append(
            "That is common practice for a box in a room of "
            f"{words.value(14.0, Quantity.TEMPERATURE)} to "
            f"{words.value(26.0, Quantity.TEMPERATURE)}, not a measurement."
        )
    return [*said, "Keep the door shut."]


def _place(dark: Mapping[str, Any], words: Wording, now_ms: int) -> str:
    name = words.place(dark["place"])
    last = [words.value(dark["last"][each], each) for each in _LAST if each in dark["last"]]
    heard = words.time(int(dark["heard_ms"]), now_ms)
    text = f"{name} is dark since {heard}"
    if last:
        text += f", its last word {say_list(last)}"
    text += "."
    if "hold_s" in dark:
        gone_s = (now_ms - int(dark["heard_ms"])) / 1000
        early_s, late_s = (max(each - gone_s, 0.0) for each in dark["hold_s"])
        top = words.value(float(dark["top_c"]), Quantity.TEMPERATURE)
        text += f" Should its cooling have stopped too: {_hold(early_s, late_s)} left until "
        text += f"what is in there passes {top}."
    return text


def _hold(early_s: float, late_s: float) -> str:
    if early_s <= 0.0:
        return f"at most {_hours(late_s)}"
    if late_s <= _ABOUT * early_s:
        return f"about {_hours((early_s + late_s) / 2)}"
    return f"{_hours(early_s)} to {_hours(late_s)}"


def _hours(span_s: float) -> str:
    """Return a span as coarse as it is known."""
    step_s = 3600.0 if span_s >= 4 * 3600.0 else 900.0  # beyond it hours do
    return say_span(round(span_s / step_s) * step_s) if span_s >= step_s else "less than 15 min"
