"""Changing the limits of a place: the new ones are the farm's own, with who and why."""

from collections.abc import Mapping
from dataclasses import dataclass

from monitor.farm.editing.documents import Table, entry, inline, put, under
from monitor.farm.editing.saving import Change
from monitor.farm.sheets import FARM
from monitor.model import Grade, Quantity

Written = Mapping[str, str | None]


@dataclass(frozen=True, slots=True)
class Limits:
    """Limits as they are written (``"36 F"``, ``"45 min"``); None is no limit on that side.

    ``source`` says who set them and why.
    """

    ideal: Written
    harm: Written
    source: str


def set_limits(place: str, quantity: Quantity, limits: Limits) -> Change:
    """Return the change that gives a place limits of its own for one quantity."""

    def apply(document: Table) -> None:
        change_band(entry(document, "place", place), quantity, limits)

    return Change(FARM, apply)


def change_band(owner: Table, quantity: Quantity, limits: Limits) -> None:
    """Set the limits of a place, a kind or a stage; one that stays as it was keeps its source."""
    band = under(owner, "bands", quantity.value)
    for key, wanted in (("ideal", limits.ideal), ("harm", limits.harm)):
        _side(band, key, wanted, limits.source)


def _side(band: Table, key: str, wanted: Written, source: str) -> None:
    before = dict(band.get(key, {}))
    kept = {name: value for name, value in before.items() if name not in {"grade", "source"}}
    given = {name: value for name, value in wanted.items() if value is not None}
    if given == kept:
        return
    if not given:
        band.pop(key, None)
        return
    signed = {"grade": Grade.FARM.value, "source": source}
    if key in band:
        put(band[key], {**dict.fromkeys(kept), **given, **signed})
    else:
        band[key] = inline({**given, **signed})


__all__ = ["Limits", "Written", "change_band", "set_limits"]
