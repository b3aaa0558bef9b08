"""Screening of single readings."""

import pytest

from monitor.intake import Decoder, Screen
from monitor.model import Flag, Quantity
from tests.intake.made import BARE_RH, MINUTE_MS, NOW_MS, Instrument, Spec, T, message

NONE, SUSPECT = Flag.NONE, Flag.SUSPECT
UNIT = Flag.UNIT_SUSPECT


def _flags(sensor: Instrument, values: list[float], every_ms: int = MINUTE_MS) -> list[Flag]:
    """Return the flags of values one after the other."""
    decoder = Decoder([sensor])
    flags = []
    for index, value in enumerate(values):
        found = decoder.decode(message(str(value), NOW_MS + index * every_ms))
        flags += [reading.flags for reading in found.readings]
    return flags


@pytest.mark.parametrize("odd", [8.2, 2.05, 19.0, -14.0])
def test_a_lone_double_half_or_jump_is_suspect(odd: float) -> None:
    """One reading that is twice, half or far from its neighbours is stored with a flag."""
    assert _flags(T, [4.1, 4.1, odd, 4.1, 4.1]) == [NONE, NONE, SUSPECT, NONE, NONE]


@pytest.mark.parametrize("odd", [8.2, 2.05, 19.0, -14.0])
def test_a_held_value_is_believed_from_its_second_reading(odd: float) -> None:
    """A value that stays is no spike: all but its first reading count."""
    assert _flags(T, [4.1, odd, odd, odd]) == [NONE, SUSPECT, NONE, NONE]


def test_a_doubling_in_the_sensors_own_unit_is_seen() -> None:
    """A sensor in °F doubles in °F: 39 after 78 is suspect though 3.9 °C is not half of 25.6."""
    sensor = Instrument((Spec(Quantity.TEMPERATURE, None, "F"),))
    assert _flags(sensor, [39.0, 52.0, 104.0, 52.0]) == [NONE, NONE, SUSPECT, NONE]


def test_fahrenheit_under_a_celsius_label_is_hinted_and_raises() -> None:
    """39.4 after 4.1 is the same warmth in °F: a hint on each, doubt on the first alone."""
    assert _flags(T, [4.1, 39.4, 39.6, 39.2]) == [NONE, SUSPECT | UNIT, UNIT, UNIT]


def test_the_hint_ends_with_the_mistake() -> None:
    """Back in the declared unit, no hint stays."""
    assert _flags(T, [4.1, 39.4, 39.4, 4.1, 4.1])[-1] == NONE


def test_celsius_under_a_fahrenheit_label_is_hinted() -> None:
    """4.1 after 39.4 °F on a channel in °F is the same temperature in °C."""
    sensor = Instrument((Spec(Quantity.TEMPERATURE, None, "F"),))
    assert _flags(sensor, [39.4, 4.1, 4.1]) == [NONE, SUSPECT | UNIT, UNIT]


def test_a_failing_wet_sensor_is_suspect_for_half_an_hour() -> None:
    """From 98 to 3 in a minute is a failing sensor, held or not; half an hour is an answer."""
    flags = _flags(BARE_RH, [98.0, 3.0] + [3.1] * 30)
    assert flags[:31] == [NONE] + [SUSPECT] * 30
    assert flags[-1] == NONE


def test_damp_and_dry_as_places_make_them_pass() -> None:
    """A room that turns wet, or is aired, is never screened (from memory of such rooms)."""
    assert _flags(BARE_RH, [60.0, 75.0, 92.0, 99.0, 99.5, 70.0, 55.0]) == [NONE] * 7


def test_a_hard_frost_passes() -> None:
    """Air that falls 3 °C in ten minutes to -20 °C is real cold (radiation frost, from memory)."""
    assert _flags(T, [2.0 - 3.0 * step for step in range(8)], 10 * MINUTE_MS) == [NONE] * 8


def test_a_change_over_a_long_time_is_no_jump() -> None:
    """Past ten minutes a place may have changed: only what comes quickly is doubted."""
    assert _flags(T, [4.1, 19.0], 11 * MINUTE_MS) == [NONE, NONE]


def test_readings_out_of_order_are_not_screened() -> None:
    """An older reading is neither doubted nor believed as the newest."""
    decoder = Decoder([T])
    for at_ms, value in ((NOW_MS, 4.1), (NOW_MS - MINUTE_MS, 25.0)):
        assert decoder.decode(message(str(value), at_ms)).readings[0].flags == NONE
    late = decoder.decode(message("25", NOW_MS + MINUTE_MS))
    assert late.readings[0].flags == SUSPECT


def test_a_restart_remembers_the_newest_reading() -> None:
    """A screen begun from stored readings sees the jump that follows."""
    newest = Decoder([T]).decode(message("4.1")).readings
    decoder = Decoder([T], Screen(newest))
    assert decoder.decode(message("25", NOW_MS + MINUTE_MS)).readings[0].flags == SUSPECT


def test_a_restart_remembers_what_was_doubted() -> None:
    """A wet sensor that fails stays suspect for its half hour, restart or not."""
    decoder = Decoder([BARE_RH])
    wet = decoder.decode(message("98.0")).readings
    failed = decoder.decode(message("3.0", NOW_MS + MINUTE_MS)).readings
    assert failed[0].flags == SUSPECT
    again = Decoder([BARE_RH], Screen(failed, wet))
    later = again.decode(message("3.1", NOW_MS + 2 * MINUTE_MS)).readings
    assert later[0].flags == SUSPECT
    forgetful = Decoder([BARE_RH], Screen(failed))
    assert forgetful.decode(message("3.1", NOW_MS + 2 * MINUTE_MS)).readings[0].flags == NONE
