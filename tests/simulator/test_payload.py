"""Messages have the form that the sensor is declared in."""

import json

import numpy as np

from monitor.farm import ChannelSpec, Sensor
from monitor.model import Quantity
from simulator.instrument import Readings
from simulator.payload import payloads
from tests.simulator.farms import AIR, BARE, COMMA, DAMP, DOOR, MAINS, SOIL, sensor


def _said(what: Sensor, *values: float) -> bytes:
    readings = Readings(
        np.array([1_775_001_600_500], dtype=np.int64), tuple(np.array([each]) for each in values)
    )
    ((at_ms, payload),) = payloads(what, readings)
    assert at_ms == 1_775_001_600_500
    return payload


def test_a_channel_without_path_is_a_bare_number() -> None:
    """The payload is the number alone, with its comma where that is declared."""
    assert _said(sensor("a", "cooler", BARE), -3.25) in (b"-3.2", b"-3.3")
    assert _said(sensor("a", "cooler", COMMA), 4.1) == b"4,1"


def test_paths_nest_and_the_time_stands_where_declared() -> None:
    """Dotted paths become objects; the device's time is in whole seconds."""
    said = _said(sensor("a", "tunnel", AIR, DAMP, SOIL, time_path="meta.ts"), 40.1, 88.0, 9.5)
    assert json.loads(said) == {
        "temperature": 40.1, "humidity": 88.0, "soil": {"t": 9.5}, "meta": {"ts": 1_775_001_600},
    }  # fmt: skip


def test_doors_and_mains_are_zero_or_one() -> None:
    """Switches are whole numbers."""
    assert _said(sensor("a", "cooler", DOOR, MAINS), 1.0, 0.0) == b'{"door":1,"mains":0}'


def test_a_percent_sign_in_a_path_survives() -> None:
    """Names are not mistaken for places of values."""
    odd = ChannelSpec(Quantity.HUMIDITY, "rh %s", "%")
    assert json.loads(_said(sensor("a", "cooler", odd), 91.0)) == {"rh %s": 91.0}
