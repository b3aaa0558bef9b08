"""Which channels of a place are not believed, and what each doubt keeps from judging.

The thresholds are common practice; the courses are made up.
"""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.model import Channel, Flag, PlaceKind, Quantity, Side
from monitor.watch.events import Values
from monitor.watch.trust import Doubt, Reason, Trust, after, assess, low_battery

_MINUTES = 10
_PER_HOUR = 60 // _MINUTES
_HOURS = 47
_START_MS = 20_454 * 86_400_000
_AT_MS = _START_MS + np.arange(_HOURS * _PER_HOUR, dtype=np.int64) * _MINUTES * 60_000
_HOUR = np.arange(_AT_MS.size) / _PER_HOUR


def _calm(seed: int) -> Values:
    """Return air that swings with the day and never says the same twice. [°C]"""
    noise = np.random.default_rng(seed).normal(0.0, 0.05, _HOUR.size)
    swings: Values = 4.0 + 3.0 * np.sin(_HOUR / 24.0 * 2.0 * np.pi) + noise
    return swings


def _last(hours: float) -> "np.ndarray[tuple[int], np.dtype[np.bool_]]":
    return _HOURS - hours <= _HOUR


def _trust(value: Values, flags: int = 0) -> Trust:
    return after(Trust(), _AT_MS, value, np.full(value.size, flags, dtype=np.int64))


def _found(
    *courses: Values,
    kind: PlaceKind = PlaceKind.COOLER,
    quantity: Quantity = Quantity.TEMPERATURE,
    flags: int = 0,
) -> dict[str, Doubt]:
    pairs = [
        (Channel(f"s{number}", quantity), _trust(each, flags if number == 0 else 0))
        for number, each in enumerate(courses)
    ]
    return {channel.sensor: doubt for channel, doubt in assess(kind, pairs).items()}


def test_calm_sensors_are_believed() -> None:
    """One, two or three sensors that move as air does are not doubted."""
    for count in (1, 2, 3):
        assert _found(*(_calm(seed) for seed in range(count))) == {}


@pytest.mark.parametrize(("value", "reason"), [(85.0, Reason.IMPOSSIBLE), (58.0, None)])
def test_what_no_place_can_be_is_not_believed(value: float, reason: Reason | None) -> None:
    """85 °C for hours judges neither side; 58 °C, hot as it is, is no such value."""
    air = np.where(_last(3), value + np.random.default_rng(1).normal(0, 0.05, _HOUR.size), _calm(1))
    found = _found(air).get("s0")
    assert (found.reason if found else None) is reason
    if found:
        assert found.sides == set(Side)


def test_a_genuine_extreme_that_a_second_sensor_confirms_is_kept() -> None:
    """Two sensors at about 70 °C are a fire or a boiler, not a fault of both."""
    hot = [np.where(_last(3), 70.0 + seed, _calm(seed)) for seed in (1, 2)]
    assert all(each.reason is not Reason.IMPOSSIBLE for each in _found(*hot).values())


@pytest.mark.parametrize("code_c", [-9999.0, -127.0, 85.0])
def test_a_code_confirms_no_other_code(code_c: float) -> None:
    """Two sensors that both say what no fire or winter makes are both not believed."""
    codes = [np.where(_last(3), code_c, _calm(seed)) for seed in (1, 2)]
    assert {each.reason for each in _found(*codes).values()} == {Reason.IMPOSSIBLE}
    assert len(_found(*codes)) == 2


def test_a_value_that_stands_still_while_its_neighbour_moves_is_not_believed() -> None:
    """Four hours of one value beside air that moved three kelvin; an hour is no sign."""
    moving = _calm(1) + np.where(_last(5), 4.0 * (_HOUR - (_HOURS - 5)), 0.0)
    assert _found(np.where(_last(5), 4.03, _calm(2)), moving)["s0"].reason is Reason.FLAT
    brief = np.where(_last(1.5), 4.03, _calm(2))
    assert "s0" not in _found(brief, _calm(1))


def test_saturated_air_is_flat_by_nature() -> None:
    """A humidity of 99 % for a day is a wet room, not a dead probe."""
    damp = np.where(_last(20), 99.0, 90.0 + _calm(2))
    beside = 85.0 + _calm(1) * 2.0
    found = _found(damp, beside, quantity=Quantity.HUMIDITY)
    assert all(each.reason is not Reason.FLAT for each in found.values())


def test_one_far_from_two_that_agree_is_not_believed() -> None:
    """Fourteen kelvin off for six hours among three: the one judges no limit."""
    odd = _calm(3) + np.where(_last(6), 14.0, 0.0)
    found = _found(odd, _calm(1), _calm(2))
    assert list(found) == ["s0"]
    assert found["s0"].reason is Reason.ODD_ONE
    assert found["s0"].sides == set(Side)


def test_nearer_than_that_it_is_one_of_three() -> None:
    """Ten kelvin off, or among two alone: believed, which of two is wrong is not known."""
    assert "s0" not in _found(_calm(3) + np.where(_last(2), 10.0, 0.0), _calm(1), _calm(2))
    lone = _found(_calm(3) + np.where(_last(2), 14.0, 0.0), _calm(1))
    assert lone == {}


def test_two_that_part_a_little_or_briefly_are_believed() -> None:
    """Four kelvin for seven hours, or eight for two: no more than two ends of a room."""
    assert _found(_calm(2) + np.where(_last(7), 4.0, 0.0), _calm(1)) == {}
    assert _found(_calm(2) + np.where(_last(2), 8.0, 0.0), _calm(1)) == {}


def test_one_sunny_morning_is_not_told() -> None:
    """It is kept from heat while it lasts, and is worth no alarm until it comes again."""
    found = _found(_calm(1) + np.where(_last(1), 10.0, 0.0), _calm(2), kind=PlaceKind.TUNNEL)
    assert not found["s0"].told
    assert found["s0"].sides == {Side.HIGH}


@pytest.mark.parametrize("flag", [Flag.UNIT_SUSPECT, Flag.TIME_REFUSED])
def test_a_mark_on_every_other_reading_is_not_told(flag: Flag) -> None:
    """A clock or a unit is wrong on every reading, or it is not wrong."""
    flags = np.where(np.arange(_AT_MS.size) % 2, int(flag), 0)
    trust = after(Trust(), _AT_MS, _calm(1), flags)
    assert assess(PlaceKind.COOLER, [(Channel("s0", Quantity.TEMPERATURE), trust)]) == {}


def test_two_that_part_are_told_and_both_go_on_judging() -> None:
    """Which of two is wrong is not known: neither is kept from its limits."""
    parted = _calm(2) + np.where(_last(7), 8.0, 0.0)
    found = _found(parted, _calm(1))
    assert found["s0"].reason is Reason.APART
    assert found["s0"].sides == set()


def test_sun_on_a_probe_is_kept_from_heat_and_not_from_frost() -> None:
    """Two mornings ten kelvin over its neighbour: told, and still good for the cold side."""
    morning = ((_HOUR % 24 >= 7) & (_HOUR % 24 < 10)) | _last(1)
    sunny = _calm(1) + np.where(morning, 10.0, 0.0)
    found = _found(sunny, _calm(2), kind=PlaceKind.TUNNEL)
    assert found["s0"].reason is Reason.SUNRISE
    assert found["s0"].sides == {Side.HIGH}
    assert found["s0"].told
    cooler = _found(sunny, _calm(2))
    assert all(each.reason is not Reason.SUNRISE for each in cooler.values())


@pytest.mark.parametrize(
    ("flag", "reason"), [(Flag.UNIT_SUSPECT, Reason.UNIT), (Flag.TIME_REFUSED, Reason.CLOCK)]
)
def test_marks_on_every_reading_are_told_and_keep_it_from_nothing(
    flag: Flag, reason: Reason
) -> None:
    """Another unit, or a clock that is off: told, and its limits are judged all the same."""
    found = _found(_calm(1), flags=int(flag))
    assert found["s0"].reason is reason
    assert found["s0"].sides == set()


def test_a_battery_is_low_by_a_days_best_and_good_again_only_well_above() -> None:
    """A cold night's dip is none; 18 % all day is; 25 % after that is not a new battery."""
    full = np.full(_HOUR.size, 80.0)
    assert not low_battery(_trust(np.where(_last(6), 15.0, full)), told=False)
    assert low_battery(_trust(np.full(_HOUR.size, 18.0)), told=False)
    assert low_battery(_trust(np.full(_HOUR.size, 25.0)), told=True)
    assert not low_battery(_trust(full), told=True)


@settings(max_examples=40)
@given(st.lists(st.integers(1, _AT_MS.size - 1), max_size=12), st.integers(0, 5))
def test_half_hours_do_not_depend_on_how_readings_were_packed(cuts: list[int], seed: int) -> None:
    """Any cutting of the same readings leaves the same half hours."""
    air, flags = _calm(seed), np.zeros(_AT_MS.size, dtype=np.int64)
    edges = sorted({0, _AT_MS.size, *cuts})
    packed = Trust()
    for first, last in pairwise(edges):
        packed = after(packed, _AT_MS[first:last], air[first:last], flags[first:last])
    assert packed == _trust(air)
