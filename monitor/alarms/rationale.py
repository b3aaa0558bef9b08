"""Why each alarm exists: what is behind it, what it costs, what to do, and how soon.

An alarm without a response is none (IEC 62682, ANSI/ISA-18.2: rationalisation). The
figures are common practice in the trade; the limits and delays themselves stand in the
farm's files, each with its grade of evidence.
"""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from typing import Final

from monitor.alarms.saying import say_value
from monitor.model import AlarmKind, PlaceKind, Quantity
from monitor.units import TemperatureUnit


@dataclass(frozen=True, slots=True)
class Rationale:
    """One alarm kind, rationalised."""

    cause: str
    consequence: str
    response: str
    time_available: str
    priority: str
    limit: str
    delays: str


_LIMIT: Final = "the harm limit of the place, or of the stage of a batch in it"
_DELAYS: Final = (
    "once it has been outside for the whole time that is tolerated; it is over when the value "
    "has been back by a little more than the limit for some minutes"
)
_FREEZES_C: Final = -1.0  # cut flowers and buds: common practice
_MONITOR: Final = "none: it is told as it happens"

RATIONALES: Final[Mapping[AlarmKind, Rationale]] = {
    AlarmKind.TOO_WARM: Rationale(
        cause="door open, cooling or vent failed, heater stuck on, sun on a closed tunnel",
        consequence="stems age days in hours; sprouting roots run long; plants shut down",
        response="look at the place and stop the cause",
        time_available="what is kept there follows the air slowly: half an hour to some hours",
        priority="high in coolers, tunnels and soak buckets, else medium",
        limit=_LIMIT,
        delays=_DELAYS,
    ),
    AlarmKind.TOO_COLD: Rationale(
        cause="cooling stuck on, heater failed, frost night, covers off",
        consequence="flowers and buds freeze at about {freezing}: lost within the hour",
        response="stop the cooling or bring heat, cover what can be covered",
        time_available="minutes near freezing, hours above it",
        priority="high, but medium in the field and the soak bucket",
        limit=_LIMIT,
        delays=_DELAYS,
    ),
    AlarmKind.TOO_DRY: Rationale(
        cause="coil too cold, no humidifier, heater drying the air",
        consequence="stems wilt, sprouting roots dry out",
        response="add water to the air, cover what stands open",
        time_available="hours",
        priority="medium: it waits out the quiet hours",
        limit=_LIMIT,
        delays=_DELAYS,
    ),
    AlarmKind.TOO_WET: Rationale(
        cause="no air movement, warm air let in, a closed tunnel at night",
        consequence="grey mould within 8 to 12 hours of wet leaves",
        response="vent and let the air move",
        time_available="hours",
        priority="medium: it waits out the quiet hours",
        limit=_LIMIT,
        delays=_DELAYS,
    ),
    AlarmKind.SENSOR_SILENT: Rationale(
        cause="battery empty, out of reach, gateway or network down, sensor broken",
        consequence="nobody would hear of harm in that place",
        response="look at the sensor, read the place by hand meanwhile",
        time_available="hours, unless something else fails too",
        priority="medium; high for the last heard of a cooler or sprouting room with batches",
        limit="the sensor's own silent-after time",
        delays="none beyond that time; returns with the first live reading",
    ),
    AlarmKind.SENSOR_DOUBTFUL: Rationale(
        cause="probe wet, broken or loose, sun on it, its clock or its unit wrong",
        consequence="nobody would hear of harm in that place, or someone is woken for nothing",
        response="read the place by hand, then clean, shade or replace the sensor",
        time_available="hours, unless something else fails too",
        priority="medium; high for the last one of a cooler or sprouting room",
        limit="what the other sensors, its own past and physics allow",
        delays="as each rule says; returns once it has been believable for an hour",
    ),
    AlarmKind.BATTERY_LOW: Rationale(
        cause="the sensor's battery is nearly empty; cold makes it seem emptier",
        consequence="the sensor falls silent, most likely on a cold night",
        response="change the battery",
        time_available="days",
        priority="low: a line in the morning message",
        limit="the sensor's own record of charge",
        delays="below it for a day",
    ),
    AlarmKind.SENSORS_DARK: Rationale(
        cause="a gateway, the network or the power that several sensors share is down",
        consequence="nobody would hear of harm in those places",
        response="look at what they share; keep doors shut until they are heard",
        time_available="as long as what is kept there follows the air, should anything fail",
        priority="high where a cooler or sprouting room with batches is dark, else medium",
        limit="sensors that fell silent together",
        delays="none beyond their own silent-after times",
    ),
    AlarmKind.MAINS_LOST: Rationale(
        cause="power cut, breaker, plug",
        consequence="coolers warm, heaters stop, batteries of the network run down",
        response="keep doors shut; find out how long it will last",
        time_available="what is kept there follows the air slowly: half an hour to some hours",
        priority="high",
        limit="the mains sensor says off",
        delays="off for two minutes",
    ),
    AlarmKind.DOOR_OPEN: Rationale(
        cause="the door was left open, or does not latch",
        consequence="the place warms, the machine ices up",
        response="shut the door",
        time_available="half an hour or so",
        priority="medium; what harms the contents has an alarm of its own",
        limit="the door sensor says open",
        delays="open for 20 minutes, or until the end of a loading hold",
    ),
    AlarmKind.WORKING_HARDER: Rationale(
        cause="coil dirty or iced, door seal worn, refrigerant low, room warmer",
        consequence="one day it does not keep up; meanwhile it costs power",
        response="clean the coil, look at the seal, have it looked at by a licensed person",
        time_available="days to weeks",
        priority="low: a line in the morning message",
        limit="8 % less heat taken away, by the rates of its own cycle, than in past weeks",
        delays="two days in a row; not told where its cycle cannot be read",
    ),
    AlarmKind.STAGE_ENDING: Rationale(
        cause="the longest time of a stage is near",
        consequence="what stays too long is harmed: soaked corms rot, long roots snap",
        response="take the batch out or move it on, and record it",
        time_available="the time told before the end, as set for the stage",
        priority="high where hours are left, medium where days are",
        limit="the stage's longest time",
        delays="none: it runs by the clock from what was recorded",
    ),
    AlarmKind.WRONG_PLACE: Rationale(
        cause="a batch was put where its kind is harmed",
        consequence="chilling or freezing harm, often seen only days later",
        response="move it, and record the move",
        time_available="hours",
        priority="high; low where it is only a kind of place that the stage is not kept in",
        limit="the place's usual range against the stage's harm limits",
        delays="none: it is told as the move is recorded",
    ),
    AlarmKind.STORE_FAILED: Rationale(
        cause="disk full, read-only or failing",
        consequence="readings are judged but not kept; the history has a gap",
        response="free space on the disk",
        time_available="a day",
        priority="high: the next failure may be silent",
        limit="commits failing for 10 seconds",
        delays=_MONITOR,
    ),
    AlarmKind.BROKER_LOST: Rationale(
        cause="broker, network or its power is down",
        consequence="no reading is heard from any place",
        response="look at the broker's computer and the network",
        time_available="as long as what is kept there follows the air, should anything fail",
        priority="high",
        limit="no connection, or connected and deaf",
        delays=_MONITOR,
    ),
    AlarmKind.CONFIGURATION_REFUSED: Rationale(
        cause="a mistake in the farm's files",
        consequence="the monitor goes on by the files as they were before",
        response="run cormwatch check and mend what it names",
        time_available="days",
        priority="medium",
        limit="any error in the files",
        delays=_MONITOR,
    ),
    AlarmKind.NOTICES_FAILED: Rationale(
        cause="internet down, address wrong, account refused",
        consequence="nobody is told of anything",
        response="try the way to the phone: cormwatch alarm drill",
        time_available="until something else fails",
        priority="high: shown on the pages, and sent by whatever address still works",
        limit="no message delivered for 15 minutes while some wait",
        delays="returns with the first message delivered",
    ),
    AlarmKind.FARM_DARK: Rationale(
        cause="power cut at the farm, its computer or its internet down",
        consequence="nobody is told of anything, and the power may be off where flowers are kept",
        response="ring somebody at the farm, or go",
        time_available="what is kept there follows the air slowly: half an hour to some hours",
        priority="high",
        limit="heartbeats missed, as set for the second watcher",
        delays="returns with the first heartbeat",
    ),
}

_FIRST_LOOK: Final[Mapping[tuple[AlarmKind, PlaceKind], str]] = {
    (AlarmKind.TOO_WARM, PlaceKind.COOLER): "door, breaker, ice on the coil",
    (AlarmKind.TOO_COLD, PlaceKind.COOLER): "cooling that does not stop: switch it off",
    (AlarmKind.TOO_WARM, PlaceKind.SPROUTING_ROOM): "heater that does not stop: switch it off",
    (AlarmKind.TOO_COLD, PlaceKind.SPROUTING_ROOM): "door, heater, breaker",
    (AlarmKind.TOO_WARM, PlaceKind.TUNNEL): "open the sides and the doors",
    (AlarmKind.TOO_COLD, PlaceKind.TUNNEL): "close it, and put the covers on",
    (AlarmKind.TOO_WARM, PlaceKind.SOAK_BUCKET): "shade it, and change the water",
    (AlarmKind.TOO_COLD, PlaceKind.SOAK_BUCKET): "bring it somewhere warmer",
    (AlarmKind.TOO_COLD, PlaceKind.FIELD): "put the covers on",
    (AlarmKind.TOO_WARM, PlaceKind.FIELD): "water, and shade what is young",
    (AlarmKind.TOO_WARM, PlaceKind.DRY_STORE): "door, sun on the wall, heater",
    (AlarmKind.TOO_COLD, PlaceKind.DRY_STORE): "door and heater; cover the crates",
}

_FIRST_LOOK_ANYWHERE: Final[Mapping[AlarmKind, str]] = {
    AlarmKind.TOO_WARM: "door, and what heats or cools it",
    AlarmKind.TOO_COLD: "door, and what heats or cools it",
    AlarmKind.TOO_DRY: "water in the trays, lids, humidifier",
    AlarmKind.TOO_WET: "vent, fan, standing water",
    AlarmKind.SENSOR_SILENT: "the sensor's battery, and whether its gateway is on",
    AlarmKind.SENSOR_DOUBTFUL: "a thermometer of your own beside it",
    AlarmKind.BATTERY_LOW: "the sensor's battery",
    AlarmKind.SENSORS_DARK: "the gateway and its power; keep the doors shut",
    AlarmKind.MAINS_LOST: "keep the doors shut, and ask how long it will last",
    AlarmKind.DOOR_OPEN: "shut the door, and see that it latches",
    AlarmKind.WORKING_HARDER: "dust or ice on the coil, and the door seal",
    AlarmKind.STAGE_ENDING: "take it out or move it on, then record it",
    AlarmKind.WRONG_PLACE: "move it, then record the move",
    AlarmKind.STORE_FAILED: "free space on the monitor's disk",
    AlarmKind.BROKER_LOST: "the broker's computer and the network",
    AlarmKind.CONFIGURATION_REFUSED: "run cormwatch check, and mend what it names",
    AlarmKind.NOTICES_FAILED: "the internet, then run cormwatch alarm drill",
    AlarmKind.FARM_DARK: "ring somebody at the farm; keep the cooler's door shut",
}


def rationale(kind: AlarmKind, unit: TemperatureUnit) -> Rationale:
    """Return a kind's record, its figures in a farm's unit."""
    found = RATIONALES[kind]
    value, mark = say_value(_FREEZES_C, Quantity.TEMPERATURE, unit).split()
    freezing = f"{float(value):.0f} {mark}"
    return replace(found, consequence=found.consequence.format(freezing=freezing))


def rationale_json(kind: AlarmKind, unit: TemperatureUnit) -> dict[str, str]:
    """Return a kind's record by the names of its fields."""
    return asdict(rationale(kind, unit))


def first_look(kind: AlarmKind, place: PlaceKind | None) -> str:
    """Return the one thing to do first, where the farm's own words do not say it."""
    if place is not None and (kind, place) in _FIRST_LOOK:
        return _FIRST_LOOK[kind, place]
    return _FIRST_LOOK_ANYWHERE[kind]
