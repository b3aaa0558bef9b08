"""What a second watcher says: the farm's monitor is not heard, and is heard again."""

from typing import Final

from monitor.alarms.saying import say_span
from monitor.alarms.wording import Wording, Words
from monitor.model import AlarmKind, Transition
from monitor.phrase import Phrase, together

_WHY: Final = Phrase(
    "The power, the computer or the internet there may be out, and then no "
    "alarm of the farm reaches anybody."
)


def raised(transition: Transition, words: Wording, now_ms: int) -> Words:
    """Say since when nothing came, what was last known, and what to do first."""
    farm = words.farm.name
    title = Phrase("{farm}: its monitor is not heard", farm=farm)
    span = say_span((transition.at_ms - transition.began_ms) / 1000)
    last = str(transition.facts.get("last", ""))
    if transition.facts.get("heard"):
        heard = Phrase(
            "Last heard {time}, {span} ago", time=words.time(transition.began_ms, now_ms), span=span
        )
        parts: list[str] = [
            Phrase("{title}.", title=title),
            Phrase(
                "{heard}{more}.", heard=heard, more=Phrase(": {last}", last=last) if last else ""
            ),
        ]
    else:
        since = words.time(transition.began_ms, now_ms)
        parts = [
            Phrase("{title}.", title=title),
            Phrase(
                "Nothing has ever come from it since {since}, {span} ago.", since=since, span=span
            ),
        ]
    parts += [
        _WHY,
        words.first_look(AlarmKind.FARM_DARK, None),
    ]
    return Words(title, together(parts))


def returned(transition: Transition, words: Wording, now_ms: int) -> Words:
    """Say that it is heard again, and for how long it was not."""
    title = Phrase("{name}: its monitor is heard again", name=words.farm.name)
    span = say_span((transition.at_ms - transition.began_ms) / 1000)
    now = str(transition.facts.get("last", ""))
    when = words.time(transition.at_ms, now_ms)
    text = Phrase(
        "{title} since {when}, after {span}.{more}",
        title=title,
        when=when,
        span=span,
        more=Phrase(" Now: {now}.", now=now) if now else "",
    )
    return Words(title, Phrase("{text} What happened in between it tells itself.", text=text))
