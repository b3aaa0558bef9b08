"""What a channel did over a span, as it is drawn: calibrated, in the unit shown."""

import threading
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from monitor.farm import ChannelSpec, Sensor, calibrated
from monitor.model import Channel, Quantity
from monitor.store import Drawn, ReadingReader
from monitor.units import TemperatureUnit, difference_from_celsius, from_celsius

DAY_MS: Final = 86_400_000
_POINTS: Final = 160
_FRESH_MS: Final = 180_000
"""A day's trace moves by less than a pixel in this time. [ms]"""
_KEPT: Final = 512
_TEMPERATURES: Final = (Quantity.TEMPERATURE, Quantity.SOIL_TEMPERATURE)

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Trail:
    """A drawn line with breaks over ``gap_ms``; ``bucketed`` where each point is several."""

    at_ms: npt.NDArray[np.int64]
    low: Floats
    high: Floats
    mean: Floats
    gap_ms: float
    bucketed: bool
    dropped: int = 0


NOTHING: Final = Trail(
    np.empty(0, np.int64), np.empty(0), np.empty(0), np.empty(0), gap_ms=1.0, bucketed=False
)


def shown_unit(values: Floats, quantity: Quantity, unit: TemperatureUnit) -> Floats:
    """Return values [°C] or [%] in the unit shown."""
    if quantity not in _TEMPERATURES:
        return values
    return values * difference_from_celsius(1.0, unit) + from_celsius(0.0, unit)


def trail(spec: ChannelSpec, drawn: Drawn, gap_s: float) -> Trail:
    """Return a drawn channel calibrated, [°C] or [%]; what is no finite figure is left out."""
    low, high, mean = (
        calibrated(spec, drawn.at_ms, each) for each in (drawn.low, drawn.high, drawn.mean)
    )
    sound = np.isfinite(low) & np.isfinite(high) & np.isfinite(mean)
    return Trail(
        drawn.at_ms[sound],
        np.minimum(low, high)[sound],
        np.maximum(low, high)[sound],
        mean[sound],
        gap_ms=max(gap_s * 1000, 2.0 * drawn.width_ms),
        bucketed=drawn.width_ms > 0,
        dropped=int((~sound).sum()),
    )


def with_breaks(line: Trail, *columns: Floats) -> tuple[list[float], list[list[float | None]]]:
    """Return a line's times [s] and columns with a null where it breaks, and for what is none."""
    breaks = np.flatnonzero(np.diff(line.at_ms) > line.gap_ms) + 1
    at_s = np.insert(line.at_ms, breaks, line.at_ms[breaks - 1] + 1) / 1000
    broken = [
        [None if np.isnan(each) else each for each in np.insert(values, breaks, np.nan).tolist()]
        for values in columns
    ]
    return at_s.tolist(), broken


@dataclass(frozen=True, slots=True)
class _Kept:
    key: tuple[int, int, ChannelSpec]
    trail: Trail


class Trails:
    """The last day of each channel, made anew only when it would look different."""

    def __init__(self) -> None:
        self._kept: dict[Channel, _Kept] = {}
        self._lock = threading.Lock()

    def last_day(
        self, reader: ReadingReader, sensor: Sensor, spec: ChannelSpec, now_ms: int,
        hung_ms: int = 0,
    ) -> Trail:  # fmt: skip
        """Return the last day of a channel, [°C] or [%], since its sensor hangs there. [ms]"""
        channel = Channel(sensor.id, spec.quantity)
        key = (now_ms // _FRESH_MS, hung_ms, spec)
        with self._lock:
            kept = self._kept.get(channel)
        if kept is not None and kept.key == key:
            return kept.trail
        drawn = reader.drawn(channel, max(now_ms - DAY_MS, hung_ms), now_ms + 1, _POINTS)
        made = trail(spec, drawn, sensor.allowed_gap_s)
        with self._lock:
            while len(self._kept) >= _KEPT:
                self._kept.pop(next(iter(self._kept)))
            self._kept[channel] = _Kept(key, made)
        return made
