"""Who answers an alarm, by what link, and what was thought of it afterwards."""

from dataclasses import dataclass
from enum import StrEnum


class LinkAction(StrEnum):
    """What a one-tap link does."""

    SEEN = "seen"
    GOING = "going"
    REAL = "real"
    NEEDLESS = "needless"
    WOKE = "woke"  # a night drill did


@dataclass(frozen=True, slots=True)
class Link:
    """A one-tap link as it is kept: bound to a person, an alarm and an action; no token. [ms]

    That of a night drill belongs to no alarm.
    """

    alarm: int | None
    notice: int | None
    person: str
    action: LinkAction
    made_ms: int
    expires_ms: int
    used_ms: int | None = None


@dataclass(frozen=True, slots=True)
class DutyLine:
    """Someone who took the duty from one time until another. [ms]"""

    from_ms: int
    until_ms: int
    person: str
    recorded_ms: int
    by: str
