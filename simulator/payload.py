"""Readings as the bytes that a sensor of the farm publishes."""

import json
from collections.abc import Iterator
from typing import Any

from monitor.farm import Sensor
from monitor.model import Quantity
from simulator.instrument import Readings

_SWITCHES = (Quantity.DOOR, Quantity.MAINS)


def payloads(sensor: Sensor, readings: Readings, decimals: int = 1) -> Iterator[tuple[int, bytes]]:
    """Yield each message's time [ms] and its bytes, in the form the sensor is declared in."""
    columns = [each.tolist() for each in readings.values]
    at_ms = readings.at_ms.tolist()
    if sensor.time_path:
        columns.append([each // 1000 for each in at_ms])
    form = _form(sensor, decimals)
    commas = any(each.decimal_comma and each.path is None for each in sensor.channels)
    for moment, values in zip(at_ms, zip(*columns, strict=True), strict=True):
        text = form % values
        yield moment, (text.replace(".", ",") if commas else text).encode()


def _form(sensor: Sensor, decimals: int) -> str:
    """Return a template with a place for each value, in the channels' order."""
    marks = [
        f"%.{0 if each.quantity in _SWITCHES else decimals}f" for each in sensor.channels
    ]  # fmt: skip
    if any(each.path is None for each in sensor.channels):
        return marks[0]
    leaves = {each.path or "": mark for each, mark in zip(sensor.channels, marks, strict=True)}
    if sensor.time_path:
        leaves[sensor.time_path] = "%d"
    return _template(leaves)


def _template(leaves: dict[str, str]) -> str:
    """Return the JSON text of values by dotted paths, percent signs of names doubled."""
    tree: dict[str, Any] = {}
    for number, path in enumerate(leaves):
        *steps, last = path.split(".")
        here = tree
        for step in steps:
            here = here.setdefault(step, {})
        here[last] = f"\x00{number}\x00"
    text = json.dumps(tree, separators=(",", ":")).replace("%", "%%")
    for number, mark in enumerate(leaves.values()):
        text = text.replace(f'"\\u0000{number}\\u0000"', mark)
    return text
