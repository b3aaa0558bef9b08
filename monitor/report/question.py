"""The question a batch's stage asks, put to the right verdict with all that is known."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from monitor.batches import stay_at
from monitor.batches.ageing import Spell
from monitor.batches.combining import SensorSeries, combine
from monitor.batches.growing import Growing, growing_verdict
from monitor.batches.planting import Planting, planting_verdict
from monitor.batches.rates import kept_at_c, q10_for
from monitor.batches.readiness import (
    ROOTING_STAGE,
    Forecast,
    Looks,
    forecast,
    looks,
    sightings,
)
from monitor.batches.rooting import Sighting
from monitor.batches.stems import Carrying, Stems, stems_verdict
from monitor.batches.sweating import DEFAULT_LAG_S, sweat
from monitor.batches.thermal_clock import Part, ThermalClock, thermal_clock
from monitor.batches.verdict import Verdict
from monitor.batches.voice import Voice
from monitor.farm import Crop
from monitor.model import Band, Batch, Quantity
from monitor.report.asking import Asked, newest, site_for
from monitor.report.reading import Stores
from monitor.report.subject import Record, Subject
from monitor.science.series import mean
from monitor.science.storage_life import Limit

AIR: Final = Quantity.TEMPERATURE
EARLIER: Final = 8  # of the crop's newest earlier batches are learned from
_DAY_MS: Final = 86_400_000
_DAY_S: Final = 86_400.0
_FRESH_MS: Final = 3 * 3_600_000
_WARM_C: Final = 20.0  # the worst taken for a place without a harm limit (from memory)


@dataclass(frozen=True, slots=True)
class Judged:
    """The verdict with what it rests on; forecast and looks of a rooting batch only."""

    verdict: Verdict
    forecast: Forecast | None = None
    looks: Looks | None = None


def judge(told: Subject, record: Record, asked: Asked, voice: Voice) -> Judged:
    """Return the verdict that a batch's stage asks for."""
    batch, crop = told.batch, told.stores.farm.crops.get(told.batch.crop)
    last = batch.stays[-1]
    if batch.ended_ms is None and crop is not None:
        if batch.unit == "stems":
            return Judged(stems_verdict(_stems(told, crop, asked), voice))
        if last.stage == ROOTING_STAGE and last.stage in crop.stages:
            return _planting(told, record, crop, asked, voice)
    stage = crop.stages.get(last.stage) if crop else None
    case = Growing(
        last.stage, stage, told.stage_since_ms, told.book.observations[batch.id],
        told.history.stages, told.unknown, batch.ended_ms,
    )  # fmt: skip
    return Judged(growing_verdict(case, voice))


def _planting(told: Subject, record: Record, crop: Crop, asked: Asked, voice: Voice) -> Judged:
    batch, rule = told.batch, crop.roots
    seen = told.book.observations[batch.id]
    clock = thermal_clock(
        [
            Part(part.since_ms, part.until_ms, courses[AIR].samples)
            for part, courses in told.met
            if part.stage == ROOTING_STAGE
        ],
        rule.base_c,
    )
    past = earlier_sightings(told.stores, record, batch, crop, told.now_ms)
    expected = None if clock is None else forecast(clock, sightings(seen, clock), past, rule)
    due = looks(seen, told.stage_since_ms)
    case = Planting(
        stage=crop.stages[ROOTING_STAGE], since_ms=told.stage_since_ms, rule=rule,
        observations=seen, forecast=expected, looks=due, stages=told.history.stages,
        unknown=told.unknown, site=site_for(told.stores, crop, asked, told.now_ms),
    )  # fmt: skip
    return Judged(planting_verdict(case, voice), expected, due)


def earlier_sightings(
    stores: Stores, record: Record, batch: Batch, crop: Crop, now_ms: int
) -> list[list[Sighting]]:
    """Return the samples of roots of the crop's newest earlier batches, by thermal time."""
    began_ms = batch.stays[0].since_ms
    before = [
        each
        for each in record.book.batches.values()
        if each.crop == batch.crop and each.id != batch.id and each.stays[0].since_ms <= began_ms
        and any(seen.roots is not None for seen in record.book.observations[each.id])
    ]  # fmt: skip
    before.sort(key=lambda each: each.stays[0].since_ms)
    coarse = Stores(stores.farm, stores.past, stores.reader, hourly=True)
    found = []
    for each in before[-EARLIER:]:
        clock = rooting_clock(coarse, each, crop.roots.base_c, now_ms)
        if clock is not None:
            found.append(sightings(record.book.observations[each.id], clock))
    return found


def rooting_clock(stores: Stores, batch: Batch, base_c: float, now_ms: int) -> ThermalClock | None:
    """Return the thermal time of a batch's rooting stage, as its places' air tells it."""
    parts = []
    for stay in batch.stays:
        if stay.stage != ROOTING_STAGE:
            continue
        until_ms = now_ms if stay.until_ms is None else min(stay.until_ms, now_ms)
        if until_ms <= stay.since_ms:
            continue
        series = stores.series(stay.place, stay.since_ms, until_ms, (AIR,))
        air = combine(series, stay.since_ms, until_ms).samples
        parts.append(Part(stay.since_ms, until_ms, air))
    return thermal_clock(parts, base_c)


def _stems(told: Subject, crop: Crop, asked: Asked) -> Stems:
    batch, last = told.batch, told.batch.stays[-1]
    stage = crop.stages.get(last.stage)
    longest_s = stage.longest_s if stage else None
    cut_ms = min(
        (each.cut_ms for each in told.book.cuttings if each.into == batch.id),
        default=batch.stays[0].since_ms,
    )
    now_c = _stays_at(told)
    return Stems(
        stage=last.stage,
        cut_ms=cut_ms,
        spells=[*_field(told, cut_ms), *_spells(told)],
        q10=q10_for(crop),
        limit=None if longest_s is None else Limit(longest_s / _DAY_S, _kept_at(told)),
        stays_at_c=now_c,
        observations=told.book.observations[batch.id],
        stages=told.history.stages,
        unknown=told.unknown,
        holds=told.book.holds[batch.id],
        for_ms=asked.for_ms,
        carrying=_carrying(told, asked, now_c),
    )


def _kept_at(told: Subject) -> float:
    """Return the temperature the farm's limit is meant at, where the batch is now. [°C]"""
    return kept_at_c(told.met[-1][0].bands.get(AIR) if told.met else None)


def _stays_at(told: Subject) -> float:
    """Return the air that stems are taken to stay in: the mean of the last known day."""
    if told.met:
        part, _ = told.met[-1]
        since_ms = max(part.since_ms, part.until_ms - _DAY_MS)
        day = mean(combine(_air(told, part.place), since_ms, part.until_ms).samples)
        if day is not None:
            return min(max(day, -2.0), 40.0)
    return _kept_at(told)


def _air(told: Subject, place: str) -> list[SensorSeries]:
    return [each for each in told.series.get(place, ()) if each.quantity is AIR]


def _spells(told: Subject) -> list[Spell]:
    return [
        Spell(
            place=part.place,
            part=Part(part.since_ms, part.until_ms, courses[AIR].samples),
            lag_s=_lag_s(told, part.place),
            worst_c=_worst_c(part.bands),
        )
        for part, courses in told.met
    ]


def _lag_s(told: Subject, place: str) -> float:
    here = told.stores.farm.places.get(place)
    return here.lag_s if here else 0.0


def _worst_c(bands: Mapping[Quantity, Band]) -> float:
    band = bands.get(AIR)
    high = band.harm.high if band and band.harm else None
    return _WARM_C if high is None else high


def _field(told: Subject, cut_ms: int) -> list[Spell]:
    """Return the time between cutting and the first place, in the air where it was cut."""
    arrived_ms = told.batch.stays[0].since_ms
    if cut_ms >= arrived_ms:
        return []
    first = min(
        (each for each in told.book.cuttings if each.into == told.batch.id),
        key=lambda each: each.cut_ms,
    )
    source = told.book.batches.get(first.source)
    stay = stay_at(source, cut_ms) if source else None
    series = told.stores.series(stay.place, cut_ms, arrived_ms, (AIR,)) if stay else []
    air = combine(series, cut_ms, arrived_ms).samples
    place = stay.place if stay else "field"
    return [Spell(place, Part(cut_ms, arrived_ms, air), 0.0, 30.0, field=True)]


def _carrying(told: Subject, asked: Asked, stems_c: float) -> Carrying | None:
    """Return how stems would sweat in the place they are asked to be carried to."""
    if asked.to is None or not told.met:
        return None
    series = told.stores.series(asked.to.id, told.now_ms - _FRESH_MS, told.now_ms)
    air_c = newest(series, AIR, told.now_ms - _FRESH_MS)
    damp = newest(series, Quantity.HUMIDITY, told.now_ms - _FRESH_MS)
    if air_c is None or damp is None:
        return None
    lag_s = _lag_s(told, told.batch.stays[-1].place) or DEFAULT_LAG_S
    return Carrying(asked.to.name, sweat(stems_c, air_c, damp, lag_s))
