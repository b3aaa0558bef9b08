"""What an earlier configuration said of limits and sensors, from the texts that were kept."""

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache

from monitor.farm import building
from monitor.farm.checks import site
from monitor.farm.crop import Crop
from monitor.farm.declared import Place
from monitor.farm.forms import KindForm
from monitor.farm.instruments import Sensor
from monitor.farm.sheets import CROPS, FARM, from_texts


@dataclass(frozen=True)
class Recalled:
    """The places, sensors and crops of an earlier configuration, as far as they can be read."""

    places: Mapping[str, Place]
    sensors: Mapping[str, Sensor]
    crops: Mapping[str, Crop]


def recall(texts: Mapping[str, str]) -> Recalled | None:
    """Return what kept texts declare, or None where they can no longer be read.

    An entry that today's program refuses is left out. Calibrations are not meant to be
    taken from here: history uses today's.
    """
    return _recall(texts.get(FARM, ""), texts.get(CROPS, ""))


def declared_ids(texts: Iterable[str], table: str) -> set[str]:
    """Return every id that texts of one file declare in a list of tables: ``"sensor"``."""
    return {id_ for text in set(texts) for id_ in _declared(text, table)}


def places_of_sensors(texts: Mapping[str, str]) -> dict[str, str] | None:
    """Return where each sensor of kept texts hangs, or None where they can no longer be read."""
    found = _declared(texts.get(FARM, ""), "sensor")
    return {id_: str(each.get("place", "")) for id_, each in found.items()} or None


def _declared(text: str, table: str) -> dict[str, Mapping[str, object]]:
    """Return the entries of a list of tables by id, without checking the rest of them."""
    try:
        entries = tomllib.loads(text).get(table)
    except (ValueError, RecursionError):
        return {}
    found = entries if isinstance(entries, list) else []
    return {
        each["id"]: each
        for each in found
        if isinstance(each, dict) and isinstance(each.get("id"), str)
    }


@lru_cache(maxsize=16)
def _recall(farm_text: str, crops_text: str) -> Recalled | None:
    sheets = from_texts({FARM: farm_text, CROPS: crops_text})
    zone = site.zone_of(sheets.farm)
    if sheets.farm is None or zone is None:
        return None
    kinds, plain = sheets.kinds, KindForm()
    return Recalled(
        places={
            each.form.id: building.place(each.form, kinds.get(each.form.kind, plain))
            for each in sheets.places
        },
        sensors={each.form.id: building.sensor(each.form, zone) for each in sheets.sensors},
        crops={each.form.id: building.crop(each.form) for each in sheets.crops},
    )
