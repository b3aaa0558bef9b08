"""What is said of a batch that stands where it should not."""

from monitor.alarms.saying import say_list
from monitor.alarms.wording import FIRST_LOOK, Wording, Words
from monitor.model import AlarmKind, Transition
from monitor.phrase import Capital, Phrase, together


def misplaced(transition: Transition, words: Wording, now_ms: int) -> Words:
    """Say which batch is harmed where it stands, or may be recorded in a wrong place."""
    place, batch = words.place(transition.place), words.batch(transition.batches[0])
    harmful = bool(transition.facts.get("harmful"))
    title = Phrase(
        "{place}: {batch} is harmed there" if harmful else "{place}: {batch} is not kept there",
        place=place, batch=batch,
    )  # fmt: skip
    fits = [str(each) for each in transition.facts.get("fits", ())]
    parts = [
        Phrase("{title}.", title=title),
        _ended(transition.facts.get("detail", "")),
        Phrase("There since {time} by your records.", time=words.time(transition.began_ms, now_ms)),
        *([Phrase("It keeps in: {names}.", names=say_list(fits))] if fits else []),
        _first(words, transition, harmful=harmful),
    ]
    return Words(title, together(parts))


def _first(words: Wording, transition: Transition, *, harmful: bool) -> str:
    if harmful:
        return words.first_look(AlarmKind.WRONG_PLACE, transition.place)
    look = Phrase("its record, and correct place or stage; if the record is right, move it")
    return Phrase("{mark} {look}.", mark=FIRST_LOOK, look=look)


def _ended(sentence: str) -> str:
    return sentence if sentence.endswith("?") else Phrase("{sentence}.", sentence=sentence)


def moved_away(transition: Transition, words: Wording, now_ms: int) -> Words:
    """Say that a batch does not stand there any more, or otherwise than was told."""
    batch = words.batch(transition.batches[0])
    if transition.facts.get("anew"):
        title = Phrase("{batch} stands otherwise than was told", batch=Capital(batch))
        when = words.time(transition.at_ms, now_ms)
        return Words(
            title,
            Phrase(
                "{title}, as of {when}. What is wrong now is told anew.", title=title, when=when
            ),
        )
    title = Phrase("{batch} is out of the wrong place", batch=Capital(batch))
    when = words.time(transition.at_ms, now_ms)
    harm = Phrase(" Look it over in the days to come: such harm shows late.")
    late = harm if transition.facts.get("harmful") else ""
    return Words(
        title, Phrase("{title} by your records of {when}.{late}", title=title, when=when, late=late)
    )
