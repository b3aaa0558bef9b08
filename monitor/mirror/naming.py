"""What readings are called on the other side: tags, fields, and what no tag can hold."""

from collections.abc import Mapping
from typing import Final

from monitor.model import Quantity

FIELDS: Final[Mapping[Quantity, str]] = {
    Quantity.TEMPERATURE: "temperature_c",
    Quantity.HUMIDITY: "humidity_pct",
    Quantity.SOIL_TEMPERATURE: "soil_temperature_c",
    Quantity.DOOR: "door",
    Quantity.MAINS: "mains",
    Quantity.BATTERY: "battery_pct",
}
"""The field of each quantity: as read, in °C, %, or 0 and 1."""
FLAGS: Final[Mapping[Quantity, str]] = {each: f"{each.value}_flags" for each in Quantity}
"""The whole number of flags beside it, left out where there are none."""
NOWHERE: Final = "unknown"
"""The place of a sensor that no configuration names."""


def unwritable(text: str) -> str:
    """Return why a text cannot be a tag's value as it is, or ``""``.

    References
    ----------
    InfluxDB line protocol reference: a tag's value is never empty and holds no newline; a
    backslash escapes what follows, so that one at the end would escape the comma or space.
    """
    if not text:
        return "a tag cannot be empty"
    if not text.isprintable():
        return "a tag cannot hold a newline or another control character"
    if text.endswith("\\"):
        return "a tag cannot end with a backslash"
    return ""
