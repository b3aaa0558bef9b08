"""What is said of a batch that stands where it should not."""

from monitor.alarms.saying import say_list
from monitor.alarms.wording import Wording, Words
from monitor.model import AlarmKind, Transition


def misplaced(transition: Transition, words: Wording, now_ms: int) -> Words:
    """Say which batch is harmed where it stands, or may be recorded in a wrong place."""
    place, batch = words.place(transition.place), words.batch(transition.batches[0])
    harmful = bool(transition.facts.get("harmful"))
    title = f"{place}: {batch} {'is harmed there' if harmful else 'is not kept there'}"
    fits = [str(each) for each in transition.facts.get("fits", ())]
    parts = [
        f"{title}.",
        f"{transition.facts.get('detail', '')}.".replace("?.", "?"),
        f"There since {words.time(transition.began_ms, now_ms)} by your records.",
        *([f"It keeps in: {say_list(fits)}."] if fits else []),
        _first(words, transition, harmful=harmful),
    ]
    return Words(title, " ".join(parts))


def _first(words: Wording, transition: Transition, *, harmful: bool) -> str:
    if harmful:
        return words.first_look(AlarmKind.WRONG_PLACE, transition.place)
    return "First look: its record, and correct place or stage; if the record is right, move it."


def moved_away(transition: Transition, words: Wording, now_ms: int) -> Words:
    """Say that a batch does not stand there any more, or otherwise than was told."""
    batch = words.batch(transition.batches[0])
    if transition.facts.get("anew"):
        title = f"{batch[:1].upper()}{batch[1:]} stands otherwise than was told"
        when = words.time(transition.at_ms, now_ms)
        return Words(title, f"{title}, as of {when}. What is wrong now is told anew.")
    title = f"{batch[:1].upper()}{batch[1:]} is out of the wrong place"
    when = words.time(transition.at_ms, now_ms)
    harm = " Look it over in the days to come: such harm shows late."
    late = harm if transition.facts.get("harmful") else ""
    return Words(title, f"{title} by your records of {when}.{late}")
