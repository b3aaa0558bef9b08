"""What needs a timely human response: its states, its reasons and its words. Pure."""

from monitor.alarms.aside import (
    ASIDE,
    LONGEST_MS,
    Quiet,
    aside_already,
    expire,
    expired,
    out_of_service,
    put_by,
    return_to_service,
    say_aside,
    shelve,
    take_back,
    unshelve,
)
from monitor.alarms.cost import costed, costs, say_reckoned
from monitor.alarms.deciding import Decider
from monitor.alarms.happened import happened
from monitor.alarms.listing import alarm_json, alarms_json, audit_json
from monitor.alarms.machine import acknowledge, already, on_transition, remind
from monitor.alarms.own import own_transition
from monitor.alarms.rationale import (
    RATIONALES,
    Rationale,
    first_look,
    rationale,
    rationale_json,
)
from monitor.alarms.telling import say
from monitor.alarms.wording import Wording, Words, wording

__all__ = [
    "ASIDE",
    "LONGEST_MS",
    "RATIONALES",
    "Decider",
    "Quiet",
    "Rationale",
    "Wording",
    "Words",
    "acknowledge",
    "alarm_json",
    "alarms_json",
    "already",
    "aside_already",
    "audit_json",
    "costed",
    "costs",
    "expire",
    "expired",
    "first_look",
    "happened",
    "on_transition",
    "out_of_service",
    "own_transition",
    "put_by",
    "rationale",
    "rationale_json",
    "remind",
    "return_to_service",
    "say",
    "say_aside",
    "say_reckoned",
    "shelve",
    "take_back",
    "unshelve",
    "wording",
]  # fmt: skip
