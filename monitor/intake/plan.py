"""Declared sensors, made ready so that each message costs little."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final, TypeGuard

from monitor.intake.declared import ChannelLike, SensorLike
from monitor.intake.device_time import USUAL_KEYS
from monitor.intake.tree import steps_of
from monitor.intake.value import POSSIBLE
from monitor.model import Channel, Quantity

SENML_UNITS: Final = {
    "Cel": ((Quantity.TEMPERATURE, Quantity.SOIL_TEMPERATURE), "C"),
    "K": ((Quantity.TEMPERATURE, Quantity.SOIL_TEMPERATURE), "K"),
    "%RH": ((Quantity.HUMIDITY,), "%"),
    "%EL": ((Quantity.BATTERY,), "%"),
}


@dataclass(frozen=True, slots=True)
class ChannelPlan:
    """One channel, its path split and its limits at hand."""

    channel: Channel
    quantity: Quantity
    unit: str
    decimal_comma: bool
    path: str | None
    key: str  # the whole path as one key, which wins over its steps
    steps: tuple[str, ...]
    direct: bool  # a plain number needs no conversion and lies within low and high
    low: float
    high: float

    def fits(self, value: object) -> TypeGuard[float]:
        """Return whether a value needs no second look: a plain number, possible as it is."""
        return self.direct and type(value) is float and self.low <= value <= self.high


@dataclass(frozen=True, slots=True)
class SensorPlan:
    """One sensor: its channels, and where its own time may stand."""

    sensor: str
    channels: tuple[ChannelPlan, ...]
    by_path: tuple[ChannelPlan, ...]
    bare: tuple[ChannelPlan, ...]
    time_steps: tuple[str, ...] | None
    time_keys: tuple[str, ...]
    expected: frozenset[str]  # keys of a message that say no more than values and a time
    takes_list: bool  # a path begins with an index: an array is plain JSON here

    @property
    def only(self) -> ChannelPlan | None:
        """Return the channel of a sensor that has one."""
        return self.channels[0] if len(self.channels) == 1 else None


def _channel(sensor: str, spec: ChannelLike) -> ChannelPlan:
    low, high = POSSIBLE[spec.quantity]
    path = spec.path or None
    return ChannelPlan(
        channel=Channel(sensor, spec.quantity),
        quantity=spec.quantity,
        unit=str(spec.unit),
        decimal_comma=spec.decimal_comma,
        path=path,
        key=path or "",
        steps=steps_of(path) if path else (),
        direct=spec.unit in {"C", "%"},
        low=low,
        high=high,
    )


def _sensor(sensor: SensorLike) -> SensorPlan:
    channels = tuple(_channel(sensor.id, spec) for spec in sensor.channels)
    by_path = tuple(channel for channel in channels if channel.path is not None)
    return SensorPlan(
        sensor=sensor.id,
        channels=channels,
        by_path=by_path,
        bare=tuple(channel for channel in channels if channel.path is None),
        time_steps=steps_of(sensor.time_path) if sensor.time_path else None,
        time_keys=() if sensor.time_path else USUAL_KEYS,
        expected=frozenset({*(channel.key for channel in by_path), *USUAL_KEYS}),
        takes_list=any(channel.steps[0].isdecimal() for channel in by_path),
    )


def by_topic(sensors: Iterable[SensorLike]) -> dict[str, tuple[SensorPlan, ...]]:
    """Return the plans of each topic; several sensors may share a gateway's topic."""
    found: dict[str, list[SensorPlan]] = {}
    for sensor in sensors:
        found.setdefault(sensor.topic, []).append(_sensor(sensor))
    return {topic: tuple(plans) for topic, plans in found.items()}


def channels_for(
    names: Sequence[str], unit: str | None, plan: SensorPlan
) -> tuple[ChannelPlan | None, bool]:
    """Return the channel a SenML record belongs to, and whether by its name.

    By path first; a channel without a path is found by the record's unit.
    """
    for name in names:
        for channel in plan.by_path:
            if name and channel.path == name:
                return channel, True
    quantities = SENML_UNITS[unit][0] if unit in SENML_UNITS else ()
    for quantity in quantities:
        for channel in plan.bare:
            if channel.quantity is quantity:
                return channel, False
    return None, False
