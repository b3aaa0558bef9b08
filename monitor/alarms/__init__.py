"""What needs a timely human response: its states, its reasons and its words. Pure."""

from monitor.alarms.happened import happened
from monitor.alarms.listing import alarm_json, alarms_json, audit_json
from monitor.alarms.machine import Decider, acknowledge, already, on_transition, remind
from monitor.alarms.own import own_transition
from monitor.alarms.rationale import RATIONALES, Rationale, first_look
from monitor.alarms.telling import say
from monitor.alarms.wording import Wording, Words, wording

__all__ = [
    "RATIONALES", "Decider", "Rationale", "Wording", "Words", "acknowledge", "alarm_json",
    "alarms_json", "already", "audit_json", "first_look", "happened", "on_transition",
    "own_transition", "remind", "say", "wording",
]  # fmt: skip
