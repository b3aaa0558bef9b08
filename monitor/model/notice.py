"""Messages about alarms: a row before each is sent."""

from dataclasses import dataclass
from enum import StrEnum


class NoticeKind(StrEnum):
    """Why a message goes out."""

    RAISED = "raised"
    CLEARED = "cleared"
    REMINDER = "reminder"
    MORNING = "morning"  # drift and due work, once a day, nothing that wakes
    DRILL = "drill"
    TOLD = "told"  # a plain message with no alarm behind it


class NoticeStatus(StrEnum):
    """How far a message has come."""

    WAITING = "waiting"
    SENT = "sent"
    FAILED = "failed"  # no further try
    DROPPED = "dropped"  # a clearing whose raise never went out


@dataclass(frozen=True, slots=True)
class Notice:
    """One message to one address of one person: a row of the outbox.

    ``address`` names the address within the person's list ("1", "2", …), and follows it where
    the list changes ("gone" once it is none of it): the address itself is a secret and is
    never stored. ``id`` is 0 until the store has given it one.
    """

    id: int
    alarm: int | None
    kind: NoticeKind
    person: str
    address: str
    title: str
    body: str
    created_ms: int
    due_ms: int
    status: NoticeStatus = NoticeStatus.WAITING
    attempts: int = 0
    sent_ms: int | None = None
    last_error: str = ""
    priority: str = "medium"
