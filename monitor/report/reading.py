"""Series for histories, read from the store: calibrated, and without what is not trusted."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from monitor.batches.combining import SensorSeries
from monitor.farm import ChannelSpec, Farm, calibrated
from monitor.model import Channel, Flag, Quantity, Stay
from monitor.report.recorded import Past, Posting, postings_in
from monitor.science.series import Samples
from monitor.store import ReadingReader, Width

_UNTRUSTED: Final = int(Flag.SUSPECT | Flag.TIME_UNCERTAIN)
JUDGED: Final = (Quantity.TEMPERATURE, Quantity.HUMIDITY, Quantity.SOIL_TEMPERATURE)
_LIMITS: Final = {
    Quantity.TEMPERATURE: (-60.0, 70.0), Quantity.SOIL_TEMPERATURE: (-60.0, 70.0),
    Quantity.HUMIDITY: (0.0, 100.0),
}  # fmt: skip
_HOUR_MS: Final = 3_600_000


@dataclass(frozen=True, slots=True)
class Stores:
    """Where a report reads from: the farm, its past and the readings.

    ``hourly`` takes hourly means instead of the readings: for comparing many seasons.
    """

    farm: Farm
    past: Past
    reader: ReadingReader
    hourly: bool = False

    def series(
        self, place: str, since_ms: int, until_ms: int, quantities: Sequence[Quantity] = JUDGED
    ) -> list[SensorSeries]:
        """Return what the sensors of a place told of a time, and a little around it."""
        return [
            SensorSeries(posting.sensor.id, spec.quantity, samples)
            for posting in postings_in(self.past, self.farm.sensors, place)
            for spec in posting.sensor.channels
            if spec.quantity in quantities
            and (samples := self._samples(posting, spec, since_ms, until_ms)) is not None
        ]

    def of_stays(self, stays: Sequence[Stay], now_ms: int) -> Mapping[str, list[SensorSeries]]:
        """Return the series of every place of some stays, over all the time spent there."""
        spans: dict[str, tuple[int, int]] = {}
        for stay in stays:
            since_ms, until_ms = spans.get(stay.place, (stay.since_ms, stay.since_ms))
            end_ms = now_ms if stay.until_ms is None else min(stay.until_ms, now_ms)
            spans[stay.place] = min(since_ms, stay.since_ms), max(until_ms, end_ms)
        return {place: self.series(place, *span) for place, span in spans.items()}

    def _samples(
        self, posting: Posting, spec: ChannelSpec, since_ms: int, until_ms: int
    ) -> Samples | None:
        gap_s = posting.sensor.allowed_gap_s
        around_ms = round(gap_s * 1000)
        begin = max(since_ms - around_ms, posting.since_ms)
        end = min(until_ms + around_ms, 2**62 if posting.until_ms is None else posting.until_ms)
        if end <= begin:
            return None
        channel = Channel(posting.sensor.id, spec.quantity)
        if self.hourly:
            return self._hours(channel, spec, begin, end)
        told = self.reader.series(channel, begin, end + 1)
        return _sound(spec, told.at_ms, told.raw, (told.flags & _UNTRUSTED) == 0, gap_s)

    def _hours(self, channel: Channel, spec: ChannelSpec, begin: int, end: int) -> Samples:
        told = self.reader.summaries(channel, begin, end, Width.HOUR)
        at_ms = told.start_ms + _HOUR_MS // 2
        kept = (told.n > told.suspect) & (at_ms >= begin) & (at_ms <= end)
        return _sound(spec, at_ms, told.mean, kept, 1.5 * 3600)


def _sound(
    spec: ChannelSpec,
    at_ms: np.ndarray[tuple[int], np.dtype[np.int64]],
    raw: np.ndarray[tuple[int], np.dtype[np.float64]],
    kept: np.ndarray[tuple[int], np.dtype[np.bool_]],
    gap_s: float,
) -> Samples:
    """Return the trusted readings as samples; a value no instrument can tell is left out."""
    value = calibrated(spec, at_ms, raw)
    low, high = _LIMITS[spec.quantity]
    kept = kept & (value >= low) & (value <= high)
    if not kept.all():
        at_ms, value = at_ms[kept], value[kept]
    return Samples(at_ms, value, gap_s)
