"""One value of a message, in whatever form, as [°C], [%] or 0/1.

A unit written beside the value is honoured where it can be (``39.4 F`` on a channel
declared in °C) and refuses the value where it cannot.
"""

from typing import Any, Final

from monitor.errors import PayloadError
from monitor.intake.number import NO_VALUE, parse_number, split_label
from monitor.intake.reasons import Reason, shown
from monitor.intake.tree import NotFinite
from monitor.model import Quantity
from monitor.units import TemperatureUnit, to_celsius

TEMPERATURES: Final = frozenset({Quantity.TEMPERATURE, Quantity.SOIL_TEMPERATURE})
SWITCHES: Final = frozenset({Quantity.DOOR, Quantity.MAINS})
SATURATED_PCT: Final = 100.0

# What can be at all, the ends included: a farm's own limits lie far inside.
# Common practice for outdoor instruments; relative humidity to 110 % as wet sensors read.
POSSIBLE: Final[dict[Quantity, tuple[float, float]]] = {
    Quantity.TEMPERATURE: (-60.0, 100.0),
    Quantity.SOIL_TEMPERATURE: (-60.0, 100.0),
    Quantity.HUMIDITY: (0.0, 110.0),
    Quantity.BATTERY: (0.0, 110.0),
    Quantity.DOOR: (0.0, 1.0),
    Quantity.MAINS: (0.0, 1.0),
}

_LABELS: Final[dict[str, str]] = {
    "c": "C", "°c": "C", "cel": "C", "degc": "C", "celsius": "C",
    "f": "F", "°f": "F", "degf": "F", "fahrenheit": "F",
    "k": "K", "kelvin": "K",
    "%": "%", "%rh": "%", "% rh": "%", "percent": "%",
}  # fmt: skip

# Door 1 is open, mains 1 is present.
_SWITCH_WORDS: Final[dict[str, float]] = {
    "open": 1.0, "on": 1.0, "true": 1.0, "1": 1.0,
    "closed": 0.0, "close": 0.0, "off": 0.0, "false": 0.0, "0": 0.0,
}  # fmt: skip


def label_unit(label: str) -> str | None:
    """Return the unit a label in a message names, or None for one not known."""
    return _LABELS.get(" ".join(label.replace("° ", "°").split()).casefold())


def unit_for(quantity: Quantity, declared: str, label: str | None) -> str:
    """Return the unit to read a value in, the label's where there is one.

    Raises
    ------
    PayloadError
        If the label names no unit that the quantity can have.
    """
    if label is None:
        return declared
    unit = label_unit(label)
    fits = unit in {"C", "F", "K"} if quantity in TEMPERATURES else unit == declared
    if unit is None or not fits:
        raise PayloadError(Reason.UNIT, f"{shown(label)} is no unit of {quantity}")
    return unit


def inside(value: float, quantity: Quantity, unit: str) -> float:
    """Return a value in [°C], [%] or 0/1, refusing what cannot be.

    Raises
    ------
    PayloadError
        If the value is not finite or impossible for the quantity.
    """
    raw = to_celsius(value, TemperatureUnit(unit)) if quantity in TEMPERATURES else value
    if raw - raw != 0:
        raise PayloadError(Reason.SENSOR_FAULT, "no finite number")
    low, high = POSSIBLE[quantity]
    if not low <= raw <= high or (quantity in SWITCHES and raw not in {0.0, 1.0}):
        raise PayloadError(
            Reason.IMPOSSIBLE, f"{quantity} of {raw:g} cannot be: {low:g} to {high:g} can"
        )
    return raw


def read_value(
    value: Any,  # noqa: ANN401 - JSON is of any kind
    quantity: Quantity,
    unit: str,
    *,
    decimal_comma: bool = False,
    label: str | None = None,
) -> tuple[float, str]:
    """Return one value of a message in [°C], [%] or 0/1, and the unit it was read in.

    Raises
    ------
    PayloadError
        If it is no value, no number, in no fitting unit, or impossible.
    """
    if isinstance(value, str):
        return _read_text(value, quantity, unit, decimal_comma=decimal_comma, label=label)
    unit = unit_for(quantity, unit, label)
    return inside(_number(value, quantity), quantity, unit), unit


def _number(value: Any, quantity: Quantity) -> float:  # noqa: ANN401 - JSON is of any kind
    if value is None:
        raise PayloadError(Reason.MISSING, "null")
    if isinstance(value, NotFinite):
        raise PayloadError(Reason.SENSOR_FAULT, "NaN or Infinity")
    if isinstance(value, bool) and quantity not in SWITCHES:
        raise PayloadError(Reason.NOT_A_NUMBER, "true and false are no numbers")
    if not isinstance(value, int | float):
        raise PayloadError(Reason.NOT_A_NUMBER, f"{type(value).__name__} where a number belongs")
    try:
        return float(value)
    except OverflowError as wrong:
        raise PayloadError(Reason.SENSOR_FAULT, "no finite number") from wrong


def _read_text(
    text: str, quantity: Quantity, unit: str, *, decimal_comma: bool, label: str | None
) -> tuple[float, str]:
    text = text.strip(" \t\r\n\x00")
    if quantity in SWITCHES and text.casefold() in _SWITCH_WORDS:
        return _SWITCH_WORDS[text.casefold()], unit
    if text.casefold() in NO_VALUE:
        raise PayloadError(Reason.MISSING, f"{shown(text)} says that there is no value")
    number, written = split_label(text)
    if written is not None:
        label = written
    value = parse_number(number, decimal_comma=decimal_comma)
    unit = unit_for(quantity, unit, label)
    return inside(value, quantity, unit), unit
