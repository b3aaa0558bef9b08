"""Readings as CSV rows, out and in.

Columns: ``at, sensor, quantity, value, raw, unit, flags``. ``raw`` is as read, before
calibration and clamping; ``unit`` is C or %; times are UTC ISO 8601 with Z; ``flags`` are
names joined by a space. On the way in ``raw`` and ``flags`` may be missing, a time may have
another zone, and a temperature may be in F or K.
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from typing import Any, Final

from monitor.errors import PayloadError
from monitor.farm import ChannelSpec, Farm, Sensor, calibrated
from monitor.intake.value import inside
from monitor.model import Channel, Flag, Quantity, Reading
from monitor.store import Series
from monitor.units import TemperatureUnit, iso_utc

COLUMNS: Final = ("at", "sensor", "quantity", "value", "raw", "unit", "flags")
_UNITS: Final = {
    Quantity.TEMPERATURE: "C", Quantity.SOIL_TEMPERATURE: "C", Quantity.HUMIDITY: "%",
    Quantity.BATTERY: "%", Quantity.DOOR: "", Quantity.MAINS: "",
}  # fmt: skip
_TEMPERATURES: Final = tuple(each.value for each in TemperatureUnit)
_FLAGS: Final = {flag.name.lower(): flag for flag in Flag if flag.name}


def spec_of(sensor: Sensor, quantity: Quantity) -> ChannelSpec | None:
    """Return how a sensor's channel is declared, or None where it is not."""
    return next((each for each in sensor.channels if each.quantity is quantity), None)


def _names(flags: int) -> str:
    return " ".join(name for name, flag in _FLAGS.items() if flags & flag)


def rows(farm: Farm, channel: Channel, series: Series) -> Iterator[dict[str, Any]]:
    """Yield one channel's readings as rows, in order of time; what is no number is missing."""
    sensor = farm.sensors.get(channel.sensor)
    spec = spec_of(sensor, channel.quantity) if sensor else None
    values = calibrated(spec, series.at_ms, series.raw) if spec else series.raw
    unit = _UNITS[channel.quantity]
    for at_ms, value, raw, flags in zip(
        series.at_ms.tolist(), values.tolist(), series.raw.tolist(), series.flags.tolist(),
        strict=True,
    ):  # fmt: skip
        yield {
            "at": iso_utc(at_ms), "sensor": channel.sensor, "quantity": channel.quantity.value,
            "value": value if math.isfinite(value) else None,
            "raw": raw if math.isfinite(raw) else None, "unit": unit, "flags": _names(flags),
        }  # fmt: skip


def time_ms(text: str) -> int:
    """Return an ISO 8601 time with its zone. [ms]

    Raises
    ------
    ValueError
        If it is none.
    """
    moment = datetime.fromisoformat(text)
    if moment.tzinfo is None:
        raise ValueError("it has no zone: end it with Z")
    return round(moment.timestamp() * 1000)


def flags_of(text: str) -> Flag:
    """Return the flags that stand in a cell, joined by spaces.

    Raises
    ------
    KeyError
        If there is no flag of that name.
    """
    flags = Flag.NONE
    for name in text.split():
        flags |= _FLAGS[name]
    return flags


def _time_ms(text: str, line: int) -> int:
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        raise PayloadError("bad time", f"line {line}: {text!r} is no ISO 8601 time") from None
    if moment.tzinfo is None:
        raise PayloadError("bad time", f"line {line}: {text!r} has no zone: end it with Z")
    return round(moment.timestamp() * 1000)


def _number(text: str, line: int) -> float:
    try:
        value = float(text)
    except ValueError:
        raise PayloadError("no number", f"line {line}: {text!r} is no number") from None
    if not math.isfinite(value):
        raise PayloadError("no number", f"line {line}: {text!r} is not finite")
    return value


def _channel(row: Mapping[str, str], known: Mapping[str, Sensor], line: int) -> Channel:
    try:
        quantity = Quantity(row["quantity"])
    except ValueError:
        what = f"line {line}: {row['quantity']!r}; one of {', '.join(Quantity)}"
        raise PayloadError("unknown quantity", what) from None
    sensor = known.get(row["sensor"])
    if sensor is None or spec_of(sensor, quantity) is None:
        raise PayloadError(
            "unknown channel",
            f"line {line}: farm.toml has no sensor {row['sensor']!r} with {quantity.value}; add it",
        )
    return Channel(row["sensor"], quantity)


def _possible(value: float, quantity: Quantity, unit: str, line: int) -> float:
    try:
        return inside(value, quantity, unit)
    except PayloadError as failure:
        raise PayloadError(failure.reason, f"line {line}: {failure.detail}") from None


def _raw(row: Mapping[str, str], quantity: Quantity, line: int) -> float:
    """Return a row's value in the unit that is kept."""
    value = _number(row.get("raw") or row["value"] or "", line)
    unit, wanted = (row["unit"] or "").strip(), _UNITS[quantity]
    if unit == wanted or (wanted == "C" and unit in _TEMPERATURES):
        return _possible(value, quantity, unit, line)
    units = ", ".join(_TEMPERATURES) if wanted == "C" else wanted or "no unit"
    raise PayloadError("wrong unit", f"line {line}: {unit!r}; {quantity.value} takes {units}")


def reading(row: Mapping[str, str], farm: Farm, line: int, now_ms: int) -> Reading:
    """Return the reading one row tells of, flagged as imported.

    Raises
    ------
    PayloadError
        If a column cannot be read; the message names the line.
    """
    channel = _channel(row, farm.sensors, line)
    at_ms = _time_ms(row["at"] or "", line)
    if at_ms > now_ms:
        raise PayloadError("bad time", f"line {line}: {row['at']} has not come yet")
    if at_ms < 0:
        raise PayloadError("bad time", f"line {line}: {row['at']} is before 1970")
    names = (row.get("flags") or "").split()
    unknown = [name for name in names if name not in _FLAGS]
    if unknown:
        raise PayloadError("unknown flag", f"line {line}: {unknown[0]!r}")
    flags = Flag.IMPORTED | Flag.DEVICE_TIME
    for name in names:
        flags |= _FLAGS[name]
    return Reading(channel, at_ms, _raw(row, channel.quantity, line), flags, at_ms)


def missing_columns(header: Sequence[str] | None) -> list[str]:
    """Return the columns an import cannot do without and does not find."""
    return [
        name for name in ("at", "sensor", "quantity", "value", "unit") if name not in (header or ())
    ]
