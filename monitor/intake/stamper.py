"""Receipt times that strictly increase per channel, or a burst would overwrite itself."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Final

from monitor.model import Channel, Flag, Reading

STEPPED_BACK_MS: Final = 5_000
_DEVICE: Final = Flag.DEVICE_TIME
_NONE: Final = Flag.NONE


def _own_time(flags: Flag) -> bool:
    # Identity first: combining members of an enumeration costs more than all the rest.
    return flags is _DEVICE or (flags is not _NONE and bool(flags & _DEVICE))


class Stamper:
    """Gives each reading without a time of its own a later one than the last.

    Parameters
    ----------
    newest_ms : Mapping[Channel, int]
        The newest time already stored, per channel. [ms]
    clock_ms : int, optional
        The newest time of receipt already stored; the newest of ``newest_ms`` if not
        given. [ms]

    Notes
    -----
    A burst may run ahead of the clock; that is kept. A clock that stepped back by more
    than five seconds is another thing: readings are not dragged forward but keep the
    time they were received at, marked unsure, until the clock has passed its highest
    again or ``trust_clock`` is called.
    """

    def __init__(
        self, newest_ms: Mapping[Channel, int] | None = None, clock_ms: int | None = None
    ) -> None:
        self._last_ms: dict[Channel, int] = dict(newest_ms or {})
        self._unsure_ms: dict[Channel, int] = {}
        newest = max(self._last_ms.values(), default=0)
        self._clock_ms = newest if clock_ms is None else clock_ms

    def stamp(self, readings: Sequence[Reading]) -> list[Reading]:
        """Return the readings, in order, each with the time it is to be stored at."""
        return [
            reading if _own_time(reading.flags) else self._stamped(reading) for reading in readings
        ]

    def trust_clock(self) -> None:
        """Begin afresh from the clock as it is, after it was set right."""
        self._clock_ms = 0
        self._last_ms.clear()
        self._unsure_ms.clear()

    def _stamped(self, reading: Reading) -> Reading:
        if reading.received_ms < self._clock_ms - STEPPED_BACK_MS:
            reading = replace(reading, flags=reading.flags | Flag.CLOCK_UNSURE)
            return _later(reading, self._unsure_ms)
        self._clock_ms = max(self._clock_ms, reading.received_ms)
        if self._unsure_ms:
            self._unsure_ms.clear()
        return _later(reading, self._last_ms)


def _later(reading: Reading, last_ms: dict[Channel, int]) -> Reading:
    at_ms = max(reading.at_ms, last_ms.get(reading.channel, 0) + 1)
    last_ms[reading.channel] = at_ms
    return reading if at_ms == reading.at_ms else replace(reading, at_ms=at_ms)
