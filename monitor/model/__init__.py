"""What the program speaks of: frozen, with no behaviour to speak of."""

from monitor.model.alarm import (
    Alarm,
    AlarmKey,
    AlarmKind,
    AlarmState,
    Answer,
    AuditLine,
    Edge,
    Priority,
    Transition,
)
from monitor.model.answering import DutyLine, Link, LinkAction
from monitor.model.band import Band, Grade, Harm, Ideal, Side, Stage
from monitor.model.batch import (
    Batch,
    EntryKind,
    LedgerEntry,
    NewEntry,
    PlaceState,
    Stay,
)
from monitor.model.decision import Decision
from monitor.model.message import Message
from monitor.model.notice import Notice, NoticeKind, NoticeStatus
from monitor.model.place import PlaceKind
from monitor.model.reading import Channel, Flag, Quantity, Reading, Refusal
from monitor.model.role import Role

__all__ = [
    "Alarm", "AlarmKey", "AlarmKind", "AlarmState", "Answer", "AuditLine", "Band", "Batch",
    "Channel", "Decision", "DutyLine", "Edge", "EntryKind", "Flag", "Grade", "Harm", "Ideal",
    "LedgerEntry", "Link", "LinkAction",
    "Message", "NewEntry", "Notice", "NoticeKind", "NoticeStatus", "PlaceKind", "PlaceState",
    "Priority", "Quantity", "Reading", "Refusal", "Role", "Side", "Stage", "Stay", "Transition",
]  # fmt: skip
