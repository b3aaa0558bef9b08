"""A leap to a value and then exactly that: a fault code, told by the jump and not the value.

Codes: a common digital probe's power-on value 85 °C (data sheet); 25, 0 and -127 °C from
memory of drivers. The courses are made up; a probe's lag in air is common practice.
"""

import numpy as np
import pytest

from monitor.model import PlaceKind, Quantity
from monitor.watch.events import Values
from monitor.watch.trust import came_along, held

_MINUTE = np.arange(300)
_AT_MS = _MINUTE.astype(np.int64) * 60_000
_LEAPT = 240
_AIR = Quantity.TEMPERATURE


def _air(step_c: float = 0.1) -> Values:
    cycle = 3.0 + 0.8 * np.sin(_MINUTE / 6.0)
    rounded: Values = np.round(cycle / step_c) * step_c
    return rounded


def _then(value: Values | float, step_c: float = 0.1) -> Values:
    return np.where(_MINUTE >= _LEAPT, value, _air(step_c))


@pytest.mark.parametrize("code_c", [29.4, 25.0, 85.0, -127.0])
@pytest.mark.parametrize("step_c", [0.0625, 0.1, 0.5])
def test_a_code_is_told_by_its_leap(code_c: float, step_c: float) -> None:
    """Whatever a broken probe says, it is there at once and never moves."""
    found = held(PlaceKind.COOLER, _AIR, _AT_MS, _then(code_c, step_c))
    assert found is not None
    assert (found.since_ms, found.value) == (int(_AT_MS[_LEAPT]), code_c)


def test_a_door_left_open_is_no_code() -> None:
    """Air that rises by a probe's lag of four minutes and then stands is believed."""
    rise = 3.0 + 12.0 * (1.0 - np.exp(-(_MINUTE - _LEAPT) / 4.0))
    assert held(PlaceKind.COOLER, _AIR, _AT_MS, _then(np.round(rise, 1))) is None
    assert held(PlaceKind.COOLER, _AIR, _AT_MS, _then(np.round(rise, 0), 1.0)) is None


def test_a_step_that_goes_on_varying_is_no_code() -> None:
    """Ten kelvin at once with air's own unrest after it is a load of warm stems."""
    stems = 13.0 + np.round(0.3 * np.sin(_MINUTE / 3.0), 1)
    assert held(PlaceKind.COOLER, _AIR, _AT_MS, _then(stems)) is None


def test_a_slow_climb_is_no_code() -> None:
    """A heater that brings a room to 24 °C in two hours, held there, is believed."""
    climb = np.minimum(np.round(10.0 + _MINUTE * 14.0 / 120.0, 1), 24.0)
    assert held(PlaceKind.SPROUTING_ROOM, _AIR, _AT_MS, climb) is None


def test_fresh_water_in_a_bucket_is_no_code() -> None:
    """Water that is poured leaps and stands still: nothing is said of it."""
    assert held(PlaceKind.SOAK_BUCKET, _AIR, _AT_MS, _then(18.0)) is None


def test_two_readings_are_no_proof() -> None:
    """A leap is looked at for ten minutes before it is called one."""
    soon = slice(0, _LEAPT + 8)
    assert held(PlaceKind.COOLER, _AIR, _AT_MS[soon], _then(29.4)[soon]) is None


def test_back_from_a_code_it_is_believed() -> None:
    """The value of before the fault is no leap of its own, though it stands still."""
    back = np.where(_MINUTE >= _LEAPT, 3.0, np.where(_MINUTE >= 100, 29.4, _air()))
    assert held(PlaceKind.COOLER, _AIR, _AT_MS, back) is None


def test_a_second_sensor_that_came_along_confirms() -> None:
    """One that stayed where it was confirms nothing, however small the leap was."""
    found = held(PlaceKind.COOLER, _AIR, _AT_MS, _then(29.4))
    assert found is not None
    assert came_along(found, 27.0)
    assert not came_along(found, 3.5)
    small = held(PlaceKind.COOLER, _AIR, _AT_MS, _then(0.0))
    assert small is None or not came_along(small, 2.5)
