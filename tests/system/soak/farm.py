"""A farm of many sensors whose limits are told within seconds."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from itertools import count
from typing import Final

from monitor.model import Channel, Quantity

COLD_C: Final = Decimal("2.0")
WARM_C: Final = Decimal("8.0")
TOLERATED_S: Final = 4

_HEAD: Final = """
[farm]
name = "Otter Bend Flowers"
time_zone = "America/New_York"
latitude = 42.4
longitude = -76.5
units = "C"

[broker]
host = "127.0.0.1"
port = {port}

[notices]
remind_after = "12 h"
digest = "off"
"""

_PLACE: Final = """
[[place]]
id = "cooler-{number}"
name = "Cooler {number}"
kind = "cooler"
off_delay = "1 s"
[place.bands.temperature.harm]
high = "6 C"
tolerated = "{tolerated} s"
grade = "farm"
source = "a test"

[[sensor]]
id = "sensor-{number}"
place = "cooler-{number}"
topic = "farm/{number}"
interval = "1 s"
silent_after = "10 min"
[[sensor.channel]]
quantity = "temperature"
unit = "C"
"""

_PATH: Final = 'path = "temperature"\n'
_DAMP: Final = '[[sensor.channel]]\nquantity = "humidity"\npath = "humidity"\nunit = "%"\n'

PEOPLE: Final = """
[[person]]
id = "robin"
name = "Robin"
addresses = ["{address}"]
role = "change"
"""
CROPS: Final = ""


@dataclass
class Voice:
    """One sensor: bare, or JSON with two channels, with a time of its own or without.

    Each value is said once only, so that what is stored can be told apart.
    """

    number: int
    warm: bool = False
    _steps: Iterator[int] = field(default_factory=count)

    @property
    def place(self) -> str:
        """Return the id of the place it hangs in."""
        return f"cooler-{self.number}"

    @property
    def bare(self) -> bool:
        """Return whether it says a number and no more."""
        return self.number % 3 == 0

    @property
    def timed(self) -> bool:
        """Return whether it says when it measured."""
        return self.number % 3 == 1

    def say(self, at_s: float) -> tuple[str, bytes, Mapping[Channel, float]]:
        """Return the next topic and payload, and which readings they are."""
        step = next(self._steps)
        base = WARM_C if self.warm else COLD_C
        air, damp = base + step * Decimal("0.0001"), Decimal(90) + step * Decimal("0.001")
        name, topic = f"sensor-{self.number}", f"farm/{self.number}"
        said = {Channel(name, Quantity.TEMPERATURE): float(air)}
        if self.bare:
            return topic, str(air).encode(), said
        said[Channel(name, Quantity.HUMIDITY)] = float(damp)
        when = f', "ts": {at_s:.3f}' if self.timed else ""
        return topic, f'{{"temperature": {air}, "humidity": {damp}{when}}}'.encode(), said


def farm_text(voices: list[Voice], port: int) -> str:
    """Return the farm's file."""
    parts = [_HEAD.format(port=port)]
    for each in voices:
        parts.append(_PLACE.format(number=each.number, tolerated=TOLERATED_S))
        parts.append("" if each.bare else _PATH + _DAMP)
    return "".join(parts)
