"""A declared farm for the simulator's tests, made without any file."""

from pathlib import Path
from zoneinfo import ZoneInfo

from monitor.farm import Broker, ChannelSpec, Farm, NoticeRules, Place, Sensor, Web
from monitor.model import PlaceKind, Quantity
from monitor.units import TemperatureUnit

START_MS = 1_775_001_600_000  # 2026-04-01T00:00:00Z
DAY_MS = 86_400_000
HOUR_MS = 3_600_000

AIR = ChannelSpec(Quantity.TEMPERATURE, "temperature", "F")
DAMP = ChannelSpec(Quantity.HUMIDITY, "humidity", "%")
BARE = ChannelSpec(Quantity.TEMPERATURE, None, "C")
COMMA = ChannelSpec(Quantity.TEMPERATURE, None, "C", decimal_comma=True)
SOIL = ChannelSpec(Quantity.SOIL_TEMPERATURE, "soil.t", "C")
DOOR = ChannelSpec(Quantity.DOOR, "door", "")
MAINS = ChannelSpec(Quantity.MAINS, "mains", "")

PLACES = (
    Place("cooler", "Walk-in cooler", PlaceKind.COOLER),
    Place("sprouting", "Sprouting room", PlaceKind.SPROUTING_ROOM),
    Place("tunnel", "Tunnel 1", PlaceKind.TUNNEL),
    Place("bucket", "Soak bucket", PlaceKind.SOAK_BUCKET),
    Place("store", "Dry store", PlaceKind.DRY_STORE),
    Place("field", "Field", PlaceKind.FIELD),
)


def sensor(
    name: str, place: str, *channels: ChannelSpec, time_path: str | None = None, hangs: str = ""
) -> Sensor:
    """Return a sensor that reports every minute."""
    return Sensor(
        name, name, place, f"farm/{name}", 60.0, 180.0, 180.0, channels, time_path, hangs
    )  # fmt: skip


SENSORS = (
    sensor("cooler-air", "cooler", AIR, DAMP),
    sensor("cooler-flowers", "cooler", BARE, hangs="in a flower head"),
    sensor("cooler-door", "cooler", DOOR, MAINS),
    sensor("sprouting-air", "sprouting", AIR, DAMP),
    sensor("tunnel-air", "tunnel", AIR, DAMP, SOIL, time_path="ts"),
    sensor("bucket-water", "bucket", COMMA, hangs="in the water"),
)


def farm(sensors: tuple[Sensor, ...] = SENSORS, broker: Broker | None = None) -> Farm:
    """Return a farm of an invented name, with one place of each kind."""
    return Farm(
        name="Larkspur Bend",
        zone=ZoneInfo("America/New_York"),
        latitude=41.0,
        longitude=-75.0,
        units=TemperatureUnit.FAHRENHEIT,
        broker=broker or Broker(),
        web=Web(),
        places={each.id: each for each in PLACES},
        sensors={each.id: each for each in sensors},
        crops={},
        people={},
        notices=NoticeRules(),
        directory=Path(),
    )
