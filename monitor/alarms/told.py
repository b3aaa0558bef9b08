"""What an alarm has told, kept with it so that it can be told in every language."""

from collections.abc import Mapping
from typing import Any, Final

from monitor.alarms.wording import Words
from monitor.model import Alarm
from monitor.phrase import Phrase, packed, unpacked

_TOLD: Final = "told"
_TITLES: Final = "titles"
_MOST: Final = 4


def told(words: Words, before: Mapping[str, Any]) -> dict[str, Any]:
    """Return what the facts of an alarm keep of its words, and of its last titles."""
    titles = [*before.get(_TITLES, ()), packed(words.title)]
    return {_TOLD: [packed(each) for each in words], _TITLES: titles[-_MOST:]}


def title_of(alarm: Alarm) -> str:
    """Return an alarm's title, as a phrase where its parts are known."""
    return _kept(alarm.facts, 0, alarm.title)


def text_of(alarm: Alarm) -> str:
    """Return an alarm's text, as a phrase where its parts are known."""
    return _kept(alarm.facts, 1, alarm.text)


def note_of(alarm: Alarm, note: str) -> str:
    """Return the note of a step of an alarm, as a phrase where it is a title it had."""
    titles = (unpacked(each) for each in alarm.facts.get(_TITLES, ()))
    return next((each for each in titles if each == note), Phrase(note))


def _kept(facts: Mapping[str, Any], part: int, text: str) -> str:
    """Return what the facts keep, unless the row says something else by now."""
    kept = facts.get(_TOLD)
    found = unpacked(kept[part]) if kept else text
    return found if found == text else text
