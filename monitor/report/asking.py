"""What the grower may add to a question: by when, where to, tonight's low, coming heat."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from monitor.batches import fold
from monitor.batches.combining import SensorSeries, combine
from monitor.batches.site import Site, Tonight
from monitor.batches.voice import listed
from monitor.farm import Crop, Place
from monitor.model import Harm, Quantity, Stage
from monitor.phrase import Phrase
from monitor.report.evenings import Grounds, place_tonight
from monitor.report.reading import Stores
from monitor.science.frost_outlook import Basis
from monitor.science.series import extremes
from monitor.watch.tonight import Typed

_THREE_DAYS_MS: Final = 3 * 86_400_000
_SOIL_FRESH_MS: Final = 24 * 3_600_000
TYPED: Final = Phrase("the forecast you gave")
_BASIS: Final = {
    Basis.PRIOR: Phrase("outlook from pooled nights of other places"),
    Basis.PRIOR_WITH_OFFSET: Phrase("outlook from pooled nights, moved by this place's own nights"),
    Basis.OWN_NIGHTS: Phrase("outlook from this place's own nights"),
}


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
    kinds = stage.place_kinds
    places = [each for each in stores.farm.places.values() if each.kind in kinds]
    sites = [
        (place, _site(stores, stage, place, asked, now_ms))
        for place in (places if asked.to is None else [asked.to])
    ]
    place, site = _chosen(sites, asked) or (None, None)
    if place is None or site is None:
        return None
    return replace(site, tonight=_tonight(stores, place, asked.low_c, now_ms))


def _chosen(sites: Sequence[tuple[Place, Site]], asked: Asked) -> tuple[Place, Site] | None:
    """Return the place asked for, else the best known; one unknown only where figures are given."""
    if asked.to is not None:
        return sites[0]
    known = [each for each in sites if each[1].low_c is not None or each[1].soil_c is not None]
    if not known:
        return sites[0] if sites and (asked.low_c, asked.heat_c) != (None, None) else None
    return max(known, key=lambda each: (each[1].soil_c is not None, each[1].low_c is not None))


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
    soil = stores.series(place.id, now_ms - _SOIL_FRESH_MS, now_ms, (Quantity.SOIL_TEMPERATURE,))
    ends = extremes(combine(air, now_ms - _THREE_DAYS_MS, now_ms).samples)
    return Site(
        name=place.name,
        stage=Phrase(stage.name),
        harm=_harm(stage, place),
        soil_c=newest(soil, Quantity.SOIL_TEMPERATURE, now_ms - _SOIL_FRESH_MS),
        low_c=ends.low if ends else None,
        high_c=ends.high if ends else None,
        heat_c=asked.heat_c,
        cover=asked.cover or place.cover,
    )


def _tonight(stores: Stores, place: Place, low_c: float | None, now_ms: int) -> Tonight | None:
    """Return the outlook by this place's own nights, with a low that was typed in."""
    typed = None if low_c is None else Typed(low_c, "you", now_ms)
    told = place_tonight(Grounds(stores, fold(()), now_ms), place, typed)
    if told.least_c is None or told.sd_k is None:
        return None
    if told.basis is None:
        return Tonight(told.least_c, told.sd_k, TYPED)
    basis = _BASIS[told.basis]
    return Tonight(told.least_c, told.sd_k, listed([basis, TYPED]) if typed else basis)
