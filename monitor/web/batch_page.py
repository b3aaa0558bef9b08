"""A batch's own page: where it was, how it fared there, what was written down."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import isfinite
from typing import Final

import numpy as np

from monitor.alarms.saying import say_span
from monitor.batches.combining import SensorSeries
from monitor.batches.history import History, StageHistory, history
from monitor.batches.outside import Depth, TimeOut
from monitor.batches.pieces import Version
from monitor.batches.telling import crop_name, say_entry
from monitor.farm import ChannelSpec, Sensor, calibrated
from monitor.model import Batch, Channel, Flag, LedgerEntry, Quantity, Side
from monitor.science.series import Samples
from monitor.web.look import Look
from monitor.web.words import NOT_KNOWN, say_between, say_limit

_NOT_COUNTED: Final = int(Flag.SUSPECT | Flag.TIME_UNCERTAIN)
_EDGE_MS: Final = 3_600_000
_LASTS_MS: Final = 900_000
OUTS_SHOWN: Final = 30
_COUNTED: Final = (Quantity.TEMPERATURE, Quantity.HUMIDITY, Quantity.SOIL_TEMPERATURE)


@dataclass(frozen=True, slots=True)
class Fact:
    """Something known of a batch."""

    name: str
    value: str


@dataclass(frozen=True, slots=True)
class Past:
    """A stage of a batch's life, ready to be written down."""

    stage: str
    place: str
    since: str
    until: str
    known: str
    share: str
    extremes: str


@dataclass(frozen=True, slots=True)
class Written:
    """An entry of the record."""

    text: str
    who: str
    undone: bool


def lived(look: Look, batch: Batch) -> History:
    """Return what a batch has lived through, judged by the limits of the farm as it is now."""
    crop = look.farm.crops.get(batch.crop)
    bands = {stage.id: stage.bands for stage in crop.stages.values()} if crop else {}
    until_ms = look.now_ms if batch.ended_ms is None else batch.ended_ms
    return history(batch, _series(look, batch), (Version(0, bands),), until_ms)


def _series(look: Look, batch: Batch) -> dict[str, list[SensorSeries]]:
    """Return the calibrated samples of each place over the batch's time there."""
    return {
        place: [
            _samples(look, sensor, spec, _span(look, batch, place))
            for sensor in look.farm.sensors.values()
            if sensor.place == place
            for spec in sensor.channels
            if spec.quantity in _COUNTED
        ]
        for place in {stay.place for stay in batch.stays}
    }


def _span(look: Look, batch: Batch, place: str) -> tuple[int, int]:
    stays = [stay for stay in batch.stays if stay.place == place]
    ends = [look.now_ms if stay.until_ms is None else stay.until_ms for stay in stays]
    return min(stay.since_ms for stay in stays) - _EDGE_MS, max(ends) + _EDGE_MS


def _samples(look: Look, sensor: Sensor, spec: ChannelSpec, span: tuple[int, int]) -> SensorSeries:
    read = look.desk.reader().series(Channel(sensor.id, spec.quantity), *span)
    values = calibrated(spec, read.at_ms, read.raw)
    sound = ((read.flags & _NOT_COUNTED) == 0) & np.isfinite(values)
    samples = Samples(read.at_ms[sound], values[sound], sensor.allowed_gap_s)
    return SensorSeries(sensor.id, spec.quantity, samples)


def facts(look: Look, batch: Batch) -> list[Fact]:
    """Return what is known of a batch, in words."""
    counted = look.time(batch.counted_at_ms) if batch.counted_at_ms is not None else None
    told = {
        "Crop": crop_name(look.farm, batch.crop), "Cultivar": batch.cultivar or None,
        "From": batch.supplier, "Lot": batch.lot, "Grade": batch.grade,
        "Last counted": counted, "Received": _number(batch.received, batch.unit),
        "Rotten on arrival": _number(batch.rotten, batch.unit),
        "Out of batch": ", ".join(str(each) for each in batch.parents) or None,
    }  # fmt: skip
    return [Fact(name, value) for name, value in told.items() if value is not None]


def _number(count: int | None, unit: str) -> str | None:
    return None if count is None else f"{count:,} {unit}"


def pasts(look: Look, batch: Batch, lived_through: History) -> list[Past]:
    """Return the stages of a batch's life, the latest first."""
    return [_past(look, batch, each) for each in reversed(lived_through.stages)]


def _past(look: Look, batch: Batch, stage: StageHistory) -> Past:
    air = stage.quantities.get(Quantity.TEMPERATURE)
    known_s = air.known_s if air else 0.0
    share = stage.in_band_share
    current = batch.stay is not None and batch.stay.stage == stage.stage
    return Past(
        stage=look.stage(batch, stage.stage),
        place=", then ".join(look.place(each) for each in stage.places),
        since=look.time(stage.since_ms), until="now" if current else look.time(stage.until_ms),
        known=f"{_hours(known_s)} of {_hours(stage.length_s)} h",
        share=_share(share) if share is not None else "—",
        extremes=_extremes(look, air.low, air.high) if air else "—",
    )  # fmt: skip


def _share(share: float) -> str:
    """Return a share in percent, never rounding up to the whole."""
    return f"{min(99.0, share * 100) if share < 1 else 100:.0f} %"


def _hours(seconds: float) -> str:
    return f"{seconds / 3600:,.0f}"


def _extremes(look: Look, low: float | None, high: float | None) -> str:
    if low is None or high is None or not (isfinite(low) and isfinite(high)):
        return "—"
    return say_between(low, high, Quantity.TEMPERATURE, look.farm.units)


def outs(look: Look, lived_through: History) -> list[str]:
    """Return the times out of band, harm first, then the latest; short drift comes last."""
    found = [out for stage in lived_through.stages for out in stage.excursions]
    found.sort(key=lambda out: (not out.too_long, out.depth is Depth.DRIFT, -out.from_ms))
    return [_out(look, each) for each in found]


def _out(look: Look, out: TimeOut) -> str:
    unit, high = look.farm.units, out.side is Side.HIGH
    side, most = ("above", "at most") if high else ("below", "at least")
    name = look.quantity(out.quantity, out.place)
    span = say_span(out.duration_s)
    harm = f"; harm after {say_span(out.tolerated_s or 0)}" if out.too_long else ""
    return (
        f"{name} {side} {say_limit(out.limit, out.quantity, unit)} for {span}{_unseen(look, out)}, "
        f"{look.time(out.from_ms)} to {look.time(out.until_ms)}, {look.place(out.place)}: "
        f"{most} {look.figure(out.peak, out.quantity)}{harm}"
    )


def _unseen(look: Look, out: TimeOut) -> str:
    """Say what of a time out was not seen; one that lasts now is not over."""
    if not out.ended and look.now_ms - out.until_ms < _LASTS_MS:
        return " and not over"
    if out.began and out.ended:
        return ""
    return f" or longer (its {'end' if out.began else 'beginning'} was not seen)"


def unknown(look: Look, batch: Batch, lived_through: History) -> Iterator[str]:
    """Yield what is not known of a batch's life."""
    for stage in lived_through.stages:
        for place in stage.unmeasured:
            name = look.stage(batch, stage.stage)
            yield f"{look.place(place)}, {name}: {NOT_KNOWN}, no sensor told of it"


def written(look: Look, batch: Batch, entries: Sequence[LedgerEntry]) -> list[Written]:
    """Return the entries of a batch, the latest first."""
    return [
        Written(
            say_entry(look.farm, batch, each),
            f"{look.time(each.at_ms)} · {each.by} · entry {each.id}",
            each.id in look.book.undone,
        )
        for each in reversed(entries)
        if each.batch == batch.id
    ]
