"""What a second watcher says: the farm's monitor is not heard, and is heard again."""

from typing import Final

from monitor.alarms.saying import say_span
from monitor.alarms.wording import Wording, Words
from monitor.model import AlarmKind, Transition

_WHY: Final = (
    "The power, the computer or the internet there may be out, and then no alarm of the farm "
    "reaches anybody."
)


def raised(transition: Transition, words: Wording, now_ms: int) -> Words:
    """Say since when nothing came, what was last known, and what to do first."""
    farm = words.farm.name
    title = f"{farm}: its monitor is not heard"
    span = say_span((transition.at_ms - transition.began_ms) / 1000)
    last = str(transition.facts.get("last", ""))
    if transition.facts.get("heard"):
        heard = f"Last heard {words.time(transition.began_ms, now_ms)}, {span} ago"
        parts = [f"{title}.", f"{heard}{f': {last}' if last else ''}."]
    else:
        since = words.time(transition.began_ms, now_ms)
        parts = [f"{title}.", f"Nothing has ever come from it since {since}, {span} ago."]
    parts += [
        _WHY,
        words.first_look(AlarmKind.FARM_DARK, None),
    ]
    return Words(title, " ".join(parts))


def returned(transition: Transition, words: Wording, now_ms: int) -> Words:
    """Say that it is heard again, and for how long it was not."""
    title = f"{words.farm.name}: its monitor is heard again"
    span = say_span((transition.at_ms - transition.began_ms) / 1000)
    now = str(transition.facts.get("last", ""))
    when = words.time(transition.at_ms, now_ms)
    text = f"{title} since {when}, after {span}.{f' Now: {now}.' if now else ''}"
    return Words(title, f"{text} What happened in between it tells itself.")
