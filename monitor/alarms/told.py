"""What an alarm has told, kept with it so that it can be told in every language."""

from collections.abc import Mapping
from typing import Any, Final

from monitor.alarms.wording import Words
from monitor.model import Alarm
from monitor.phrase import packed, unpacked

_TOLD: Final = "told"


def told(words: Words) -> dict[str, Any]:
    """Return what the facts of an alarm keep of its words."""
    return {_TOLD: [packed(each) for each in words]}


def title_of(alarm: Alarm) -> str:
    """Return an alarm's title, as a phrase where its parts are known."""
    return _kept(alarm.facts, 0, alarm.title)


def text_of(alarm: Alarm) -> str:
    """Return an alarm's text, as a phrase where its parts are known."""
    return _kept(alarm.facts, 1, alarm.text)


def _kept(facts: Mapping[str, Any], part: int, text: str) -> str:
    """Return what the facts keep, unless the row says something else by now."""
    kept = facts.get(_TOLD)
    found = unpacked(kept[part]) if kept else text
    return found if found == text else text
