"""A made-up farm of any size in a folder, and years of history for it."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

from monitor.farm import Farm, load
from monitor.farm.starting import Start, starter
from monitor.model import Channel, Flag, Quantity, Reading
from monitor.store import Commit, ReadingStore

MINUTE_MS: Final = 60_000
DAY_MS: Final = 86_400_000
KINDS: Final = ("cooler", "tunnel", "tunnel", "dry_store", "field", "sprouting_room")
LONELY: Final = "place-5"
"""The sprouting room: it has one sensor, and the batch that is asked about."""
BOTH: Final = (Quantity.TEMPERATURE, Quantity.HUMIDITY)
_STEPS: Final = 1_440  # minutes a commit
_A_PLACE: Final = 20
"""Sensors a place has about, where there are more than the kinds of places hold."""

_HEAD = """
[farm]
name = "Thistle Row Flowers"
time_zone = "America/New_York"
latitude = 42.1
longitude = -74.0
units = "F"

[broker]
host = "127.0.0.1"
port = {port}

[web]
port = {web}

[notices]
remind_after = "30 min"
morning_at = "07:00"
"""

_PLACE = """
[[place]]
id = "{id}"
name = "{id}"
kind = "{kind}"
"""

_BAND = """
[place.bands.temperature]
ideal = { low = "2 C", high = "8 C", grade = "farm", source = "made up" }
harm = { low = "0 C", high = "10 C", tolerated = "1 s", grade = "farm", source = "made up" }
"""

_SENSOR = """
[[sensor]]
id = "{id}"
place = "{place}"
topic = "farm/{id}"
interval = "{interval}"
time_path = "at"
[[sensor.channel]]
quantity = "temperature"
path = "t"
unit = "C"
[[sensor.channel]]
quantity = "humidity"
path = "h"
unit = "%"
"""

_PERSON = """
[[person]]
id = "rue"
name = "Rue"
addresses = ["{address}"]
"""


@dataclass(frozen=True, slots=True)
class Plan:
    """How large, and reached how: ``touchy`` places tolerate a second, one sensor each."""

    sensors: int
    port: int = 1883
    touchy: bool = False
    address: str = ""
    interval: str = "30 s"


def write(folder: Path, plan: Plan) -> Farm:
    """Write the farm's files and read them as the daemon does."""
    folder.mkdir(parents=True, exist_ok=True)
    texts = starter(Start()) | {"farm.toml": "".join(_farm(plan)), "people.toml": ""}
    if plan.address:
        texts["people.toml"] = _PERSON.format(address=plan.address)
    for name, text in texts.items():
        (folder / name).write_text(text, encoding="utf-8")
    return load(folder)


def _farm(plan: Plan) -> Iterator[str]:
    yield _HEAD.format(port=plan.port, web=8484)
    places = plan.sensors if plan.touchy else max(len(KINDS), plan.sensors // _A_PLACE)
    for n in range(places):
        kind = "dry_store" if plan.touchy else KINDS[n % len(KINDS)]
        yield _PLACE.format(id=f"place-{n}", kind=kind)
        yield _BAND if plan.touchy else ""
    shared = [f"place-{n}" for n in range(places) if plan.touchy or f"place-{n}" != LONELY]
    for n in range(plan.sensors):
        lonely = n == len(KINDS) - 1 and not plan.touchy
        place = LONELY if lonely else shared[n % len(shared)]
        yield _SENSOR.format(id=f"s{n}", place=place, interval=plan.interval)


def fill(farm: Farm, days: int, until_ms: int) -> int:
    """Store one-minute history of every channel up to a time; return how many readings.

    Temperatures saw up and down as under a thermostat, inside the place's harm limits;
    everything has two decimals and some noise.
    """
    dice = np.random.default_rng(11)
    channels = [Channel(sensor, quantity) for sensor in farm.sensors for quantity in BOTH]
    store, count = ReadingStore.open(farm.data_dir / "readings.db"), 0
    minutes = days * DAY_MS // MINUTE_MS
    for start in range(0, minutes, _STEPS):
        steps = np.arange(start, min(start + _STEPS, minutes))
        at_ms = (until_ms - (minutes - steps) * MINUTE_MS).tolist()
        readings: list[Reading] = []
        for number, channel in enumerate(channels):
            values = _values(channel.quantity, steps + 7 * number, dice)
            readings += [
                Reading(channel, at, value, Flag.NONE, at)
                for at, value in zip(at_ms, values, strict=True)
            ]
        store.commit(Commit(readings, heard=dict.fromkeys(farm.sensors, int(at_ms[-1]))))
        count += len(readings)
    store.close()
    return count


def _values(
    quantity: Quantity, minutes: "np.ndarray[tuple[int], np.dtype[np.int64]]",
    dice: np.random.Generator,
) -> list[float]:  # fmt: skip
    saw = np.abs((minutes / 45.0) % 1.0 - 0.5)
    noise = dice.normal(0.0, 0.1, minutes.size)
    values = 3.0 + saw + noise if quantity is Quantity.TEMPERATURE else 62.0 + 8.0 * saw + noise
    rounded: list[float] = np.round(values, 2).tolist()
    return rounded
