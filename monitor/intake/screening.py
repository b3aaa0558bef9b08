"""Screening of single readings: what no place can do in that time is flagged, not hidden.

The rules, each against the last believed reading of the channel, and within ten minutes
of it where no other time is named:

- a jump (10 °C, 40 % humidity), or a value that is the double or the half, is *suspect*
  until a following reading agrees with it: a lone spike pages nobody, a held one does;
- humidity that falls from 50 % or more to under 10 % stays suspect for half an hour:
  that is a wet sensor failing, and it clears nothing;
- a jump, within an hour, that reads as the same temperature in the other unit is *unit
  suspect*, for as long as the readings stay so: it is not converted, and it raises.

Real cold and real damp come slower than this or are confirmed by the next reading.
Readings that arrive out of order are not screened.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from monitor.intake.value import TEMPERATURES
from monitor.model import Channel, Flag, Quantity, Reading
from monitor.units import TemperatureUnit, from_celsius, to_celsius

WINDOW_MS: Final = 600_000
DRY_WINDOW_MS: Final = 1_800_000
UNIT_WINDOW_MS: Final = 3_600_000
DRY_PCT: Final = 10.0
DAMP_PCT: Final = 50.0
SAME_RATIO: Final = 0.02  # how near to 2 or a half
UNIT_NEAR_C: Final = 3.0
_NONE: Final = Flag.NONE

# Jump, and least change for the double or the half; from memory, common practice.
_JUMP: Final = {
    Quantity.TEMPERATURE: (10.0, 1.5),
    Quantity.SOIL_TEMPERATURE: (10.0, 1.5),
    Quantity.HUMIDITY: (40.0, 15.0),
}


@dataclass(slots=True)
class _Past:
    """The last believed reading of a channel, and what is doubted since."""

    at_ms: int
    value: float
    doubted: float | None = None
    in_true_unit_c: float | None = None


class Screen:
    """What is remembered of each channel, to see a jump; time comes with the readings."""

    def __init__(self, newest: Iterable[Reading] = (), believed: Iterable[Reading] = ()) -> None:
        """Begin from the newest reading of each channel.

        Where that is suspect, ``believed`` has the last one before it that was not.
        """
        self._past: dict[Channel, _Past] = {
            reading.channel: _Past(reading.at_ms, reading.raw) for reading in believed
        }
        for reading in newest:
            if not reading.flags & Flag.SUSPECT:
                self._past[reading.channel] = _Past(reading.at_ms, reading.raw)
            elif reading.channel in self._past:
                self._past[reading.channel].doubted = reading.raw

    def judge(self, channel: Channel, unit: str, at_ms: int, raw: float) -> Flag:
        """Return the flags of one reading, ``raw`` in [°C] or [%], and remember it."""
        limits = _JUMP.get(channel.quantity)
        if limits is None:
            return _NONE
        past = self._past.get(channel)
        if past is None:
            self._past[channel] = _Past(at_ms, raw)
            return _NONE
        if at_ms < past.at_ms:
            return _NONE
        if abs(raw - past.value) < limits[1] and past.in_true_unit_c is None:
            return _believe(past, at_ms, raw)
        return self._look(past, channel.quantity, unit, at_ms, raw)

    def _look(self, past: _Past, quantity: Quantity, unit: str, at_ms: int, raw: float) -> Flag:
        gap_ms = at_ms - past.at_ms
        if _failing_wet(quantity, past.value, raw) and gap_ms <= DRY_WINDOW_MS:
            past.doubted = raw
            return Flag.SUSPECT
        flags = _unit_flag(past, quantity, unit, raw) if gap_ms <= UNIT_WINDOW_MS else _NONE
        agrees = past.doubted is not None and not _odd(quantity, unit, past.doubted, raw)
        if gap_ms > WINDOW_MS or agrees or not _odd(quantity, unit, past.value, raw):
            return flags | _believe(past, at_ms, raw)
        past.doubted = raw
        return flags | Flag.SUSPECT


def _believe(past: _Past, at_ms: int, raw: float) -> Flag:
    past.at_ms, past.value, past.doubted = at_ms, raw, None
    return _NONE


def _failing_wet(quantity: Quantity, before: float, raw: float) -> bool:
    return quantity is Quantity.HUMIDITY and before >= DAMP_PCT and raw < DRY_PCT


def _odd(quantity: Quantity, unit: str, before: float, raw: float) -> bool:
    jump, least = _JUMP[quantity]
    change = abs(raw - before)
    if change > jump:
        return True
    return change >= least and (
        _double(before, raw)
        or (
            quantity in TEMPERATURES
            and unit != TemperatureUnit.CELSIUS
            and _double(_as_written(before, unit), _as_written(raw, unit))
        )
    )


def _double(before: float, raw: float) -> bool:
    large, small = max(before, raw, key=abs), min(before, raw, key=abs)
    return small != 0 and abs(large / small - 2.0) <= SAME_RATIO


def _as_written(value_c: float, unit: str) -> float:
    return from_celsius(value_c, TemperatureUnit(unit))


def _unit_flag(past: _Past, quantity: Quantity, unit: str, raw: float) -> Flag:
    """Return whether a temperature reads as the earlier one in the other unit."""
    if quantity not in TEMPERATURES:
        return _NONE
    before = past.value if past.in_true_unit_c is None else past.in_true_unit_c
    if past.in_true_unit_c is None and abs(raw - before) <= _JUMP[quantity][0]:
        return _NONE
    other = _as_written(raw, unit) if unit == "F" else to_celsius(raw, TemperatureUnit.FAHRENHEIT)
    if abs(other - before) > UNIT_NEAR_C:
        past.in_true_unit_c = None
        return _NONE
    past.in_true_unit_c = other
    return Flag.UNIT_SUSPECT
