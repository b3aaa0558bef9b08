"""Alarms as IEC 62682 defines them: what needs a timely human response."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any, NamedTuple

from monitor.model.reading import Quantity


class AlarmKind(StrEnum):
    """What is wrong."""

    TOO_WARM = "too_warm"
    TOO_COLD = "too_cold"
    TOO_DRY = "too_dry"
    TOO_WET = "too_wet"
    SENSOR_SILENT = "sensor_silent"
    SENSOR_DOUBTFUL = "sensor_doubtful"  # what it says is not believed
    BATTERY_LOW = "battery_low"
    SENSORS_DARK = "sensors_dark"  # several fell silent together: a gateway, the mains, the network
    MAINS_LOST = "mains_lost"
    DOOR_OPEN = "door_open"  # for longer than anybody works there
    WORKING_HARDER = "working_harder"  # a cooler that runs longer than it used to
    STAGE_ENDING = "stage_ending"  # the longest time of a stage is near and lateness harms
    WRONG_PLACE = "wrong_place"  # a batch stands where its crop is harmed
    STORE_FAILED = "store_failed"  # readings cannot be written
    RECORD_LOST = "record_lost"  # the record of batches begins anew: its file was damaged
    DISK_FILLING = "disk_filling"  # weeks are left
    DISK_SHORT = "disk_short"  # days are left
    BROKER_LOST = "broker_lost"
    CONFIGURATION_REFUSED = "configuration_refused"
    NOTICES_FAILED = "notices_failed"  # no message reaches anybody
    FARM_DARK = "farm_dark"  # what a second watcher tells: the farm's monitor is not heard


class Priority(StrEnum):
    """Consequence times urgency; only HIGH breaks quiet hours."""

    HIGH = "high"
    MEDIUM = "medium"
    LOW = "low"


class AlarmState(StrEnum):
    """The states of IEC 62682 (ANSI/ISA-18.2)."""

    NORMAL = "normal"
    UNACKNOWLEDGED = "unacknowledged"
    ACKNOWLEDGED = "acknowledged"
    RETURNED_UNACKNOWLEDGED = "returned_unacknowledged"
    SHELVED = "shelved"
    SUPPRESSED = "suppressed"
    OUT_OF_SERVICE = "out_of_service"


class AlarmKey(NamedTuple):
    """What makes two alarms the same one: at most one open row each.

    ``subject`` is a place, a sensor, ``"batch:14"`` or ``""`` for the monitor itself.
    """

    kind: AlarmKind
    subject: str


class Answer(StrEnum):
    """What a person says to an alarm."""

    SEEN = "seen"
    GOING = "going"


class Edge(StrEnum):
    """What the watch says of an alarm's condition."""

    RAISE = "raise"
    RETURN = "return"


@dataclass(frozen=True, slots=True)
class Transition:
    """A condition that became true, or false again, as the watch saw it.

    ``at_ms`` is the sample time (or ``now`` for silence) of the decision, ``began_ms``
    the exact crossing by interpolation. ``facts`` holds what the wording needs: plain
    JSON values, temperatures in [°C]. ``expected`` says why a raised condition is to be
    suppressed by design: "a defrost", "the gateway is dark"; raised again without it, it is
    told.
    """

    key: AlarmKey
    edge: Edge
    at_ms: int
    began_ms: int
    priority: Priority
    place: str | None = None
    sensor: str | None = None
    quantity: Quantity | None = None
    batches: tuple[int, ...] = ()
    value: float | None = None
    limit: float | None = None
    peak: float | None = None
    facts: Mapping[str, Any] = field(default_factory=dict)
    expected: str = ""


@dataclass(frozen=True, slots=True)
class Alarm:
    """One occurrence of an alarm: a row of the ledger, and the only truth of it.

    ``id`` is 0 until the store has given it one. ``active`` says whether the condition
    holds, also beneath a state that keeps quiet; ``until_ms``, ``why`` and ``once`` belong to
    shelved, suppressed and out of service: until when, why, and whether a return ends it.
    """

    id: int
    key: AlarmKey
    priority: Priority
    state: AlarmState
    place: str | None
    sensor: str | None
    quantity: Quantity | None
    batches: tuple[int, ...]
    began_ms: int
    raised_ms: int
    returned_ms: int | None
    acknowledged_ms: int | None
    acknowledged_by: str | None
    value: float | None
    limit: float | None
    peak: float | None
    title: str
    text: str
    facts: Mapping[str, Any] = field(default_factory=dict)
    active: bool = True
    until_ms: int | None = None
    why: str = ""
    once: bool = False
    answer: Answer | None = None


@dataclass(frozen=True, slots=True)
class AuditLine:
    """One transition of one alarm: who, when, from, to, with the value and limit in force."""

    at_ms: int
    by: str
    before: AlarmState
    after: AlarmState
    value: float | None
    limit: float | None
    note: str
