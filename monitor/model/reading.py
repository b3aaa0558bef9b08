"""A reading, its channel and its flags; and what was refused."""

from dataclasses import dataclass
from enum import IntFlag, StrEnum
from typing import NamedTuple


class Quantity(StrEnum):
    """What a channel measures; inside [°C], [%], or 0/1 for door and mains."""

    TEMPERATURE = "temperature"
    HUMIDITY = "humidity"
    SOIL_TEMPERATURE = "soil_temperature"
    DOOR = "door"
    MAINS = "mains"
    BATTERY = "battery"


class Flag(IntFlag):
    """What is known about a reading beside its value; stored as one integer."""

    NONE = 0
    DEVICE_TIME = 1  # ``at_ms`` is the sensor's own time
    TIME_UNCERTAIN = 2  # queued before the fence without a time of its own
    TIME_REFUSED = 4  # the sensor's time was not credible: receipt time stands
    SATURATED = 8  # humidity over 100 %: kept as read, used as 100
    SUSPECT = 16  # a jump or spike no place can make; judges and clears nothing alone
    UNIT_SUSPECT = 32  # looks like another unit; not converted
    IMPORTED = 64  # from a file, not from the air
    THINNED = 256  # readings between this one and the next were taken away: known all the same
    CLOCK_UNSURE = 128  # this computer's clock was wrong when it was received


class Channel(NamedTuple):
    """One quantity of one sensor."""

    sensor: str
    quantity: Quantity


@dataclass(frozen=True, slots=True)
class Reading:
    """One value of one channel at one time.

    ``raw`` is as read, in [°C], [%] or 0/1, before calibration and clamping.
    """

    channel: Channel
    at_ms: int
    raw: float
    flags: Flag
    received_ms: int


@dataclass(frozen=True, slots=True)
class Refusal:
    """A message, or one value of it, that could not be used."""

    received_ms: int
    topic: str
    sensor: str | None
    quantity: Quantity | None
    reason: str
    detail: str
    payload: bytes
