"""What is said of a cooler that works harder than it used to."""

from monitor.alarms.wording import Wording, Words
from monitor.model import AlarmKind, Transition
from monitor.phrase import Phrase, together

_CARE = Phrase(
    "Switch it off before you clean. Wiring and refrigerant are for a licensed "
    "person, who can tell before it fails: the flowers are not warm yet."
)


def harder(transition: Transition, words: Wording, now_ms: int) -> Words:
    """Say by how much its machine is weaker, how long it runs now, and what to look at."""
    facts = transition.facts
    title = Phrase("{place} works harder than it used to", place=words.place(transition.place))
    loss = 100.0 * float(facts.get("loss", 0.0))
    parts: list[str] = [
        Phrase("{title} since {time}.", title=title, time=words.time(transition.began_ms, now_ms))
    ]
    if loss:
        parts.append(
            Phrase(
                "Its machine takes away about {loss:.0f} % less heat than in the weeks before.",
                loss=loss,
            )
        )
    if facts.get("share_now", 0.0) > facts.get("share_before", 1.0):
        now, before = (100.0 * float(facts[f"share_{each}"]) for each in ("now", "before"))
        parts.append(
            Phrase(
                "It runs {now:.0f} % of the time; {before:.0f} % was usual.", now=now, before=before
            )
        )
    parts += [words.first_look(AlarmKind.WORKING_HARDER, transition.place), _CARE]
    return Words(title, together(parts))
