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
from monitor.phrase import Phrase
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


_LIMIT: Final = Phrase("the harm limit of the place, or of the stage of a batch in it")
_DELAYS: Final = Phrase(
    "once it has been outside for the whole time that is tolerated; it is over "
    "when the value has been back by a little more than the limit for some "
    "minutes"
)
_FREEZES_C: Final = -1.0  # cut flowers and buds: common practice
_MONITOR: Final = Phrase("none: it is told as it happens")

RATIONALES: Final[Mapping[AlarmKind, Rationale]] = {
    AlarmKind.TOO_WARM: Rationale(
        cause=Phrase("door open, cooling or vent failed, heater stuck on, sun on a closed tunnel"),
        consequence=Phrase("stems age days in hours; sprouting roots run long; plants shut down"),
        response=Phrase("look at the place and stop the cause"),
        time_available=Phrase(
            "what is kept there follows the air slowly: half an hour to some hours"
        ),
        priority="high in coolers, tunnels and soak buckets, else medium",
        limit=_LIMIT,
        delays=_DELAYS,
    ),
    AlarmKind.TOO_COLD: Rationale(
        cause=Phrase("cooling stuck on, heater failed, frost night, covers off"),
        consequence=Phrase("flowers and buds freeze at about {freezing}: lost within the hour"),
        response=Phrase("stop the cooling or bring heat, cover what can be covered"),
        time_available=Phrase("minutes near freezing, hours above it"),
        priority="high, but medium in the field and the soak bucket",
        limit=_LIMIT,
        delays=_DELAYS,
    ),
    AlarmKind.TOO_DRY: Rationale(
        cause=Phrase("coil too cold, no humidifier, heater drying the air"),
        consequence=Phrase("stems wilt, sprouting roots dry out"),
        response=Phrase("add water to the air, cover what stands open"),
        time_available=Phrase("hours"),
        priority="medium: it waits out the quiet hours",
        limit=_LIMIT,
        delays=_DELAYS,
    ),
    AlarmKind.TOO_WET: Rationale(
        cause=Phrase("no air movement, warm air let in, a closed tunnel at night"),
        consequence=Phrase("grey mould within 8 to 12 hours of wet leaves"),
        response=Phrase("vent and let the air move"),
        time_available=Phrase("hours"),
        priority="medium: it waits out the quiet hours",
        limit=_LIMIT,
        delays=_DELAYS,
    ),
    AlarmKind.SENSOR_SILENT: Rationale(
        cause=Phrase("battery empty, out of reach, gateway or network down, sensor broken"),
        consequence=Phrase("nobody would hear of harm in that place"),
        response=Phrase("look at the sensor, read the place by hand meanwhile"),
        time_available=Phrase("hours, unless something else fails too"),
        priority="medium; high for the last heard of a cooler or sprouting room with batches",
        limit=Phrase("the sensor's own silent-after time"),
        delays=Phrase("none beyond that time; returns with the first live reading"),
    ),
    AlarmKind.SENSOR_DOUBTFUL: Rationale(
        cause=Phrase("probe wet, broken or loose, sun on it, its clock or its unit wrong"),
        consequence=Phrase(
            "nobody would hear of harm in that place, or someone is woken for nothing"
        ),
        response=Phrase("read the place by hand, then clean, shade or replace the sensor"),
        time_available=Phrase("hours, unless something else fails too"),
        priority="medium; high for the last one of a cooler or sprouting room",
        limit=Phrase("what the other sensors, its own past and physics allow"),
        delays=Phrase("as each rule says; returns once it has been believable for an hour"),
    ),
    AlarmKind.BATTERY_LOW: Rationale(
        cause=Phrase("the sensor's battery is nearly empty; cold makes it seem emptier"),
        consequence=Phrase("the sensor falls silent, most likely on a cold night"),
        response=Phrase("change the battery"),
        time_available=Phrase("days"),
        priority="low: a line in the morning message",
        limit=Phrase("the sensor's own record of charge"),
        delays=Phrase("below it for a day"),
    ),
    AlarmKind.SENSORS_DARK: Rationale(
        cause=Phrase("a gateway, the network or the power that several sensors share is down"),
        consequence=Phrase("nobody would hear of harm in those places"),
        response=Phrase("look at what they share; keep doors shut until they are heard"),
        time_available=Phrase(
            "as long as what is kept there follows the air, should anything fail"
        ),
        priority="high where a cooler or sprouting room with batches is dark, else medium",
        limit=Phrase("sensors that fell silent together"),
        delays=Phrase("none beyond their own silent-after times"),
    ),
    AlarmKind.MAINS_LOST: Rationale(
        cause=Phrase("power cut, breaker, plug"),
        consequence=Phrase("coolers warm, heaters stop, batteries of the network run down"),
        response=Phrase("keep doors shut; find out how long it will last"),
        time_available=Phrase(
            "what is kept there follows the air slowly: half an hour to some hours"
        ),
        priority="high",
        limit=Phrase("the mains sensor says off"),
        delays=Phrase("off for two minutes"),
    ),
    AlarmKind.DOOR_OPEN: Rationale(
        cause=Phrase("the door was left open, or does not latch"),
        consequence=Phrase("the place warms, the machine ices up"),
        response=Phrase("shut the door"),
        time_available=Phrase("half an hour or so"),
        priority="medium; what harms the contents has an alarm of its own",
        limit=Phrase("the door sensor says open"),
        delays=Phrase("open for 20 minutes, or until the end of a loading hold"),
    ),
    AlarmKind.WORKING_HARDER: Rationale(
        cause=Phrase("coil dirty or iced, door seal worn, refrigerant low, room warmer"),
        consequence=Phrase("one day it does not keep up; meanwhile it costs power"),
        response=Phrase("clean the coil, look at the seal, have it looked at by a licensed person"),
        time_available=Phrase("days to weeks"),
        priority="low: a line in the morning message",
        limit=Phrase("8 % less heat taken away, by the rates of its own cycle, than in past weeks"),
        delays=Phrase("two days in a row; not told where its cycle cannot be read"),
    ),
    AlarmKind.STAGE_ENDING: Rationale(
        cause=Phrase("the longest time of a stage is near"),
        consequence=Phrase("what stays too long is harmed: soaked corms rot, long roots snap"),
        response=Phrase("take the batch out or move it on, and record it"),
        time_available=Phrase("the time told before the end, as set for the stage"),
        priority="high where hours are left, medium where days are",
        limit=Phrase("the stage's longest time"),
        delays=Phrase("none: it runs by the clock from what was recorded"),
    ),
    AlarmKind.WRONG_PLACE: Rationale(
        cause=Phrase("a batch was put where its kind is harmed"),
        consequence=Phrase("chilling or freezing harm, often seen only days later"),
        response=Phrase("move it, and record the move"),
        time_available=Phrase("hours"),
        priority="high; low where it is only a kind of place that the stage is not kept in",
        limit=Phrase("the place's usual range against the stage's harm limits"),
        delays=Phrase("none: it is told as the move is recorded"),
    ),
    AlarmKind.STORE_FAILED: Rationale(
        cause=Phrase("disk full, read-only or failing"),
        consequence=Phrase("readings are judged but not kept; the history has a gap"),
        response=Phrase("free space on the disk"),
        time_available=Phrase("a day"),
        priority="high: the next failure may be silent",
        limit=Phrase("commits failing for 10 seconds"),
        delays=_MONITOR,
    ),
    AlarmKind.RECORD_LOST: Rationale(
        cause=Phrase("a failing disk, or power lost while it was written"),
        consequence=Phrase(
            "no batch is watched by its own limits, and what was recorded of it is missing; "
            "places are watched as before"
        ),
        response=Phrase("put back the record of the newest copy, or record the batches anew"),
        time_available=Phrase("a day"),
        priority="high: batches go unwatched",
        limit=Phrase("no entry of it can be read"),
        delays=_MONITOR,
    ),
    AlarmKind.DISK_FILLING: Rationale(
        cause=Phrase("years of history, copies on the same disk, or another program's files"),
        consequence=Phrase("in some weeks readings are judged and no longer kept"),
        response=Phrase("free space, or fit a larger disk"),
        time_available=Phrase("weeks"),
        priority="low: a line in the morning message",
        limit=Phrase("room for less than 60 days at the rate so far, or a tenth of the disk"),
        delays=Phrase("looked at every ten minutes; over at 75 days"),
    ),
    AlarmKind.DISK_SHORT: Rationale(
        cause=Phrase("as for a disk that is filling, and nobody made room"),
        consequence=Phrase("within days readings are judged and no longer kept"),
        response=Phrase("free space today"),
        time_available=Phrase("days"),
        priority="high: after it the history has a gap",
        limit=Phrase("room for less than 7 days at the rate so far, or a fiftieth of the disk"),
        delays=Phrase("looked at every ten minutes; over at 9 days"),
    ),
    AlarmKind.BROKER_LOST: Rationale(
        cause=Phrase("broker, network or its power is down"),
        consequence=Phrase("no reading is heard from any place"),
        response=Phrase("look at the broker's computer and the network"),
        time_available=Phrase(
            "as long as what is kept there follows the air, should anything fail"
        ),
        priority="high",
        limit=Phrase("no connection, or connected and deaf"),
        delays=_MONITOR,
    ),
    AlarmKind.CONFIGURATION_REFUSED: Rationale(
        cause=Phrase("a mistake in the farm's files"),
        consequence=Phrase("the monitor goes on by the files as they were before"),
        response=Phrase("run cormwatch check and mend what it names"),
        time_available=Phrase("days"),
        priority="medium",
        limit=Phrase("any error in the files"),
        delays=_MONITOR,
    ),
    AlarmKind.NOTICES_FAILED: Rationale(
        cause=Phrase("internet down, address wrong, account refused"),
        consequence=Phrase("nobody is told of anything"),
        response=Phrase("try the way to the phone: cormwatch alarm drill"),
        time_available=Phrase("until something else fails"),
        priority="high: shown on the pages, and sent by whatever address still works",
        limit=Phrase("no message delivered for 15 minutes while some wait"),
        delays=Phrase("returns with the first message delivered"),
    ),
    AlarmKind.FARM_DARK: Rationale(
        cause=Phrase("power cut at the farm, its computer or its internet down"),
        consequence=Phrase(
            "nobody is told of anything, and the power may be off where flowers are kept"
        ),
        response=Phrase("ring somebody at the farm, or go"),
        time_available=Phrase(
            "what is kept there follows the air slowly: half an hour to some hours"
        ),
        priority="high",
        limit=Phrase("heartbeats missed, as set for the second watcher"),
        delays=Phrase("returns with the first heartbeat"),
    ),
}

_FIRST_LOOK: Final[Mapping[tuple[AlarmKind, PlaceKind], str]] = {
    (AlarmKind.TOO_WARM, PlaceKind.COOLER): Phrase("door, breaker, ice on the coil"),
    (AlarmKind.TOO_COLD, PlaceKind.COOLER): Phrase("cooling that does not stop: switch it off"),
    (AlarmKind.TOO_WARM, PlaceKind.SPROUTING_ROOM): Phrase(
        "heater that does not stop: switch it off"
    ),
    (AlarmKind.TOO_COLD, PlaceKind.SPROUTING_ROOM): Phrase("door, heater, breaker"),
    (AlarmKind.TOO_WARM, PlaceKind.TUNNEL): Phrase("open the sides and the doors"),
    (AlarmKind.TOO_COLD, PlaceKind.TUNNEL): Phrase("close it, and put the covers on"),
    (AlarmKind.TOO_WARM, PlaceKind.SOAK_BUCKET): Phrase("shade it, and change the water"),
    (AlarmKind.TOO_COLD, PlaceKind.SOAK_BUCKET): Phrase("bring it somewhere warmer"),
    (AlarmKind.TOO_COLD, PlaceKind.FIELD): Phrase("put the covers on"),
    (AlarmKind.TOO_WARM, PlaceKind.FIELD): Phrase("water, and shade what is young"),
    (AlarmKind.TOO_WARM, PlaceKind.DRY_STORE): Phrase("door, sun on the wall, heater"),
    (AlarmKind.TOO_COLD, PlaceKind.DRY_STORE): Phrase("door and heater; cover the crates"),
}

_FIRST_LOOK_ANYWHERE: Final[Mapping[AlarmKind, str]] = {
    AlarmKind.TOO_WARM: Phrase("door, and what heats or cools it"),
    AlarmKind.TOO_COLD: Phrase("door, and what heats or cools it"),
    AlarmKind.TOO_DRY: Phrase("water in the trays, lids, humidifier"),
    AlarmKind.TOO_WET: Phrase("vent, fan, standing water"),
    AlarmKind.SENSOR_SILENT: Phrase("the sensor's battery, and whether its gateway is on"),
    AlarmKind.SENSOR_DOUBTFUL: Phrase("a thermometer of your own beside it"),
    AlarmKind.BATTERY_LOW: Phrase("the sensor's battery"),
    AlarmKind.SENSORS_DARK: Phrase("the gateway and its power; keep the doors shut"),
    AlarmKind.MAINS_LOST: Phrase("keep the doors shut, and ask how long it will last"),
    AlarmKind.DOOR_OPEN: Phrase("shut the door, and see that it latches"),
    AlarmKind.WORKING_HARDER: Phrase("dust or ice on the coil, and the door seal"),
    AlarmKind.STAGE_ENDING: Phrase("take it out or move it on, then record it"),
    AlarmKind.WRONG_PLACE: Phrase("move it, then record the move"),
    AlarmKind.STORE_FAILED: Phrase("free space on the monitor's disk"),
    AlarmKind.RECORD_LOST: Phrase(
        "the disk, then put back the record of the newest copy or record the batches anew"
    ),
    AlarmKind.DISK_FILLING: Phrase("what takes the room on the monitor's disk"),
    AlarmKind.DISK_SHORT: Phrase("free space on the monitor's disk"),
    AlarmKind.BROKER_LOST: Phrase("the broker's computer and the network"),
    AlarmKind.CONFIGURATION_REFUSED: Phrase("run cormwatch check, and mend what it names"),
    AlarmKind.NOTICES_FAILED: Phrase("the internet, then run cormwatch alarm drill"),
    AlarmKind.FARM_DARK: Phrase("ring somebody at the farm; keep the cooler's door shut"),
}


def rationale(kind: AlarmKind, unit: TemperatureUnit) -> Rationale:
    """Return a kind's record, its figures in a farm's unit."""
    found = RATIONALES[kind]
    value, mark = say_value(_FREEZES_C, Quantity.TEMPERATURE, unit).split()
    freezing = f"{float(value):.0f} {mark}"
    return replace(found, consequence=Phrase(found.consequence, freezing=freezing))


def rationale_json(kind: AlarmKind, unit: TemperatureUnit) -> dict[str, str]:
    """Return a kind's record by the names of its fields."""
    return asdict(rationale(kind, unit))


def first_look(kind: AlarmKind, place: PlaceKind | None) -> str:
    """Return the one thing to do first, where the farm's own words do not say it."""
    if place is not None and (kind, place) in _FIRST_LOOK:
        return _FIRST_LOOK[kind, place]
    return _FIRST_LOOK_ANYWHERE[kind]
