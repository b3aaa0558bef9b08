"""Gathers the picture of a message: six hours of the alarm's own sensor, in the farm's unit."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from monitor.alarms.saying import say_time
from monitor.clock import Clock
from monitor.courier.picture import Chart, Edge, png
from monitor.farm import Farm, Sensor
from monitor.model import Alarm, AlarmKind, Band, Channel, Notice, Quantity
from monitor.store import Ledger, ReadingReader
from monitor.units import TemperatureUnit
from monitor.web.trails import Trail, shown_unit, trail
from monitor.web.words import quantity_name, say_figure, say_limit

SPAN_MS: Final = 6 * 3_600_000
_POINTS: Final = 300
_SHOWN: Final = (Quantity.TEMPERATURE, Quantity.SOIL_TEMPERATURE, Quantity.HUMIDITY)
_HIGH: Final = (AlarmKind.TOO_WARM, AlarmKind.TOO_WET)


@dataclass(frozen=True)
class Picturing:
    """Makes a message's picture; called in the thread that sends it, never by the intake."""

    farm: Callable[[], Farm]
    ledger: Ledger
    open_reader: Callable[[], ReadingReader]
    clock: Clock
    posted: Callable[[], Mapping[str, int]] = dict  # since when each sensor hangs there [ms]

    def __call__(self, notice: Notice) -> bytes | None:
        """Return a notice's picture as PNG, or None where there is nothing to draw."""
        if notice.alarm is None:
            return None
        chart = self.chart(self.ledger.alarm(notice.alarm))
        return None if chart is None else png(chart)

    def chart(self, alarm: Alarm) -> Chart | None:
        """Return what is drawn of an alarm; None where it is of no figure, or none is known."""
        farm, quantity, now_ms = self.farm(), alarm.quantity, self.clock.now_ms()
        place = farm.places.get(alarm.place or "")
        sensor = farm.sensors.get(alarm.sensor or "")
        if place is None or sensor is None or quantity not in _SHOWN:
            return None
        line = self._line(sensor, quantity, now_ms)
        if line is None or not line.at_ms.size:
            return None
        name = quantity_name(quantity, place.kind).lower()
        newest = say_figure(float(line.mean[-1]), quantity, farm.units)
        low, high = _harm(alarm, place.bands.get(quantity, Band()))
        ideal = place.bands.get(quantity, Band()).ideal
        shelf = (ideal.low, ideal.high) if ideal is not None else (None, None)
        edge = _Edges(quantity, farm.units)
        return Chart(
            title=f"{place.name}: {name} {newest}",
            begin=say_time(now_ms - SPAN_MS, farm.zone, now_ms),
            end=say_time(now_ms, farm.zone, now_ms),
            runs=list(_runs(line, quantity, farm.units, now_ms - SPAN_MS)),
            shelf=(edge(shelf[0]), edge(shelf[1])), low=edge(low), high=edge(high),
        )  # fmt: skip

    def _line(self, sensor: Sensor, quantity: Quantity, now_ms: int) -> Trail | None:
        spec = next((each for each in sensor.channels if each.quantity is quantity), None)
        if spec is None:
            return None
        reader = self.open_reader()
        try:
            channel = Channel(sensor.id, quantity)
            since_ms = max(now_ms - SPAN_MS, self.posted().get(sensor.id, 0))
            read = reader.drawn(channel, since_ms, now_ms + 1, _POINTS)
        finally:
            reader.close()
        return trail(spec, read, sensor.allowed_gap_s)


@dataclass(frozen=True)
class _Edges:
    """Makes limits of [°C] or [%] as they are shown."""

    quantity: Quantity
    units: TemperatureUnit

    def __call__(self, value: float | None) -> Edge | None:
        if value is None:
            return None
        shown = shown_unit(np.array([value]), self.quantity, self.units)
        return Edge(float(shown[0]), say_limit(value, self.quantity, self.units))


def _harm(alarm: Alarm, band: Band) -> tuple[float | None, float | None]:
    """Return the harm limits of a place, the alarm's own limit on its own side."""
    low = None if band.harm is None else band.harm.low
    high = None if band.harm is None else band.harm.high
    if alarm.limit is None:
        return low, high
    return (low, alarm.limit) if alarm.key.kind in _HIGH else (alarm.limit, high)


def _runs(
    line: Trail, quantity: Quantity, units: TemperatureUnit, begin_ms: int
) -> Iterator[list[tuple[float, float]]]:
    """Yield the stretches between gaps: each reading, or highest and lowest of several."""
    low, high = (shown_unit(each, quantity, units) for each in (line.low, line.high))
    share = (line.at_ms - begin_ms) / SPAN_MS
    breaks = np.flatnonzero(np.diff(line.at_ms) > line.gap_ms) + 1
    for part in np.split(np.arange(line.at_ms.size), breaks):
        ends = ([low[each], high[each]] if line.bucketed else [high[each]] for each in part)
        yield [
            (float(share[each]), float(value))
            for each, values in zip(part, ends, strict=True)
            for value in values
        ]
