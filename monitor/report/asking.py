"""What the grower may add to a question: by when, where to, tonight's low, coming heat."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final

import numpy as np

from monitor.batches.combining import SensorSeries, combine
from monitor.batches.site import Site, Tonight
from monitor.farm import Crop, Place
from monitor.model import Harm, Quantity, Stage
from monitor.report.reading import Stores
from monitor.science.frost_outlook import FORECAST_SD_K, outlook
from monitor.science.frost_prior import EARLIEST_H, LATEST_H, evening
from monitor.science.moist_air import dew_point_c, vapour_pressure_pa
from monitor.science.series import extremes
from monitor.science.sun import hours_after_sunset

_THREE_DAYS_MS: Final = 3 * 86_400_000
_FRESH_MS: Final = 3 * 3_600_000
_SOIL_FRESH_MS: Final = 24 * 3_600_000
TYPED: Final = "the forecast you gave"


@dataclass(frozen=True, slots=True)
class Asked:
    """What was given with the question; None where it was not. [ms], [°C]

    ``to`` is where it would be planted, or where stems would be carried.
    """

    for_ms: int | None = None
    to: Place | None = None
    low_c: float | None = None
    heat_c: float | None = None
    cover: str | None = None


def planted_stage(crop: Crop) -> Stage | None:
    """Return the first stage that is counted in plants: what planting out leads to."""
    return next((each for each in crop.stages.values() if crop.unit(each.id) == "plants"), None)


def site_for(stores: Stores, crop: Crop, asked: Asked, now_ms: int) -> Site | None:
    """Return the place to plant into: the one asked for, else the one best known."""
    stage = planted_stage(crop)
    if stage is None:
        return None
    if asked.to is not None:
        return _site(stores, stage, asked.to, asked, now_ms)
    kinds = stage.place_kinds
    sites = [
        _site(stores, stage, place, asked, now_ms)
        for place in stores.farm.places.values()
        if place.kind in kinds
    ]
    known = [each for each in sites if each.low_c is not None or each.soil_c is not None]
    if not known:
        return sites[0] if sites and (asked.low_c, asked.heat_c) != (None, None) else None
    return max(known, key=lambda each: (each.soil_c is not None, each.low_c is not None))


def newest(series: Sequence[SensorSeries], quantity: Quantity, since_ms: int) -> float | None:
    """Return the mean of the sensors' newest values since a time, or None."""
    told = [
        float(each.samples.value[-1])
        for each in series
        if each.quantity is quantity and len(each.samples.at_ms)
        and each.samples.at_ms[-1] >= since_ms
    ]  # fmt: skip
    return float(np.mean(told)) if told else None


def _harm(stage: Stage, place: Place) -> Harm | None:
    band = stage.bands.get(Quantity.TEMPERATURE) or place.bands.get(Quantity.TEMPERATURE)
    return band.harm if band else None


def _site(stores: Stores, stage: Stage, place: Place, asked: Asked, now_ms: int) -> Site:
    air = stores.series(place.id, now_ms - _THREE_DAYS_MS, now_ms, (Quantity.TEMPERATURE,))
    damp = stores.series(place.id, now_ms - _FRESH_MS, now_ms, (Quantity.HUMIDITY,))
    soil = stores.series(place.id, now_ms - _SOIL_FRESH_MS, now_ms, (Quantity.SOIL_TEMPERATURE,))
    ends = extremes(combine(air, now_ms - _THREE_DAYS_MS, now_ms).samples)
    return Site(
        name=place.name,
        stage=stage.name,
        harm=_harm(stage, place),
        soil_c=newest(soil, Quantity.SOIL_TEMPERATURE, now_ms - _SOIL_FRESH_MS),
        low_c=ends.low if ends else None,
        high_c=ends.high if ends else None,
        tonight=_tonight(stores, [*air, *damp], asked.low_c, now_ms),
        heat_c=asked.heat_c,
        cover=asked.cover or place.cover,
    )


def _tonight(
    stores: Stores, series: Sequence[SensorSeries], low_c: float | None, now_ms: int
) -> Tonight | None:
    """Return the outlook of the evening, with a low that was typed in; that alone by day."""
    air_c = newest(series, Quantity.TEMPERATURE, now_ms - _FRESH_MS)
    damp = newest(series, Quantity.HUMIDITY, now_ms - _FRESH_MS)
    farm = stores.farm
    hours = hours_after_sunset(now_ms, farm.latitude, farm.longitude)
    typed = None if low_c is None else Tonight(low_c, FORECAST_SD_K, TYPED)
    if air_c is None or damp is None or hours is None or not EARLIEST_H <= hours <= LATEST_H:
        return typed
    dew_c = float(dew_point_c(vapour_pressure_pa(air_c, damp)))
    day = datetime.fromtimestamp(now_ms / 1000, farm.zone).timetuple().tm_yday
    if farm.latitude < 0:
        day = (day + 182) % 365
    at = evening(min(air_c, 45.0), dew_c, after_sunset_h=hours, year_day=float(day))
    told = outlook(at, forecast_c=low_c) if np.isfinite(dew_c) else None
    if told is None:
        return typed
    by = f"outlook from {told.basis.value}" + (f" and {TYPED}" if told.forecast_used else "")
    return Tonight(told.least_c, told.sd_k, by)
