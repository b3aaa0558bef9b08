"""Units at the edges: what a farm writes and reads, and what is kept inside.

Inside, temperature is [°C], humidity [%], time UTC [ms] and durations [s].
"""

import re
from datetime import UTC, datetime
from enum import StrEnum
from typing import Final, overload

from monitor.errors import UnitError

KELVIN_OFFSET_C: Final = 273.15


class TemperatureUnit(StrEnum):
    """A unit a temperature may be given in."""

    CELSIUS = "C"
    FAHRENHEIT = "F"
    KELVIN = "K"


def to_celsius(value: float, unit: TemperatureUnit) -> float:
    """Return a temperature in [°C]; exact definitions (NIST SP 811, B.8 and B.9)."""
    if unit is TemperatureUnit.FAHRENHEIT:
        return (value - 32.0) / 1.8
    if unit is TemperatureUnit.KELVIN:
        return value - KELVIN_OFFSET_C
    return value


def from_celsius(value_c: float, unit: TemperatureUnit) -> float:
    """Return a temperature [°C] in another unit (NIST SP 811, B.8 and B.9)."""
    if unit is TemperatureUnit.FAHRENHEIT:
        return value_c * 1.8 + 32.0
    if unit is TemperatureUnit.KELVIN:
        return value_c + KELVIN_OFFSET_C
    return value_c


def difference_from_celsius(difference_k: float, unit: TemperatureUnit) -> float:
    """Return a temperature difference [K] in another unit: no offset applies."""
    return difference_k * 1.8 if unit is TemperatureUnit.FAHRENHEIT else difference_k


_TEMPERATURE = re.compile(r"\s*([+-]?\d+(?:\.\d+)?)\s*(?:°\s*)?([CFK])\s*", re.ASCII)
_PERCENT = re.compile(r"\s*(\d+(?:\.\d+)?)\s*%\s*", re.ASCII)
_DURATION = re.compile(
    r"\s*(\d+(?:\.\d+)?)\s*(s|sec|min|h|hour|hours|d|day|days|week|weeks)\s*", re.ASCII
)
_LENGTH = re.compile(r"\s*(\d+(?:\.\d+)?)\s*(mm|cm|in)\s*", re.ASCII)
_MILLIMETRES: Final = {"mm": 1.0, "cm": 10.0, "in": 25.4}
_SECONDS: Final = {
    "s": 1, "sec": 1, "min": 60, "h": 3600, "hour": 3600, "hours": 3600,
    "d": 86400, "day": 86400, "days": 86400, "week": 604800, "weeks": 604800,
}  # fmt: skip


def parse_temperature_c(text: str) -> float:
    """Read ``"38 F"``, ``"2.5 C"`` or ``"275.15 K"`` as [°C].

    Raises
    ------
    UnitError
        If the text carries no unit or no number.
    """
    found = _TEMPERATURE.fullmatch(text)
    if found is None:
        raise UnitError(f"{text!r} is no temperature: write it with its unit, as 38 F or 3.3 C")
    return to_celsius(float(found[1]), TemperatureUnit(found[2]))


def parse_percent(text: str) -> float:
    """Read ``"95 %"`` as [%].

    Raises
    ------
    UnitError
        If the text is not a number with a percent sign.
    """
    found = _PERCENT.fullmatch(text)
    if found is None:
        raise UnitError(f"{text!r} is no percentage: write it as 95 %")
    return float(found[1])


def parse_duration_s(text: str) -> float:
    """Read ``"45 min"``, ``"3 h"``, ``"14 d"`` as [s].

    Raises
    ------
    UnitError
        If the text is not a number with a unit of time.
    """
    found = _DURATION.fullmatch(text)
    if found is None:
        raise UnitError(f"{text!r} is no length of time: write it as 45 min, 3 h or 14 d")
    return float(found[1]) * _SECONDS[found[2]]


@overload
def iso_utc(at_ms: int) -> str: ...
@overload
def iso_utc(at_ms: int | None) -> str | None: ...
def iso_utc(at_ms: int | None) -> str | None:
    """Return a time [ms] as UTC ISO 8601 with Z, milliseconds only where there are some."""
    if at_ms is None:
        return None
    moment = datetime.fromtimestamp(at_ms / 1000, UTC)
    text = moment.isoformat(timespec="milliseconds" if at_ms % 1000 else "seconds")
    return text.replace("+00:00", "Z")


def parse_length_mm(text: str) -> float:
    """Read ``"1 in"`` or ``"25 mm"`` as [mm].

    Raises
    ------
    UnitError
        If the text is not a number with a unit of length.
    """
    found = _LENGTH.fullmatch(text)
    if found is None:
        raise UnitError(f"{text!r} is no length: write it with its unit, as 1 in or 25 mm")
    return float(found[1]) * _MILLIMETRES[found[2]]
