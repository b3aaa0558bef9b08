"""Changing some limits of a place or a stage: what is not touched keeps its own words."""

from collections.abc import Mapping
from typing import Final

from monitor.farm.declared import Place
from monitor.farm.editing.documents import Table, entry, inline, put, under
from monitor.farm.editing.saving import Change
from monitor.farm.editing.stages import stage_in
from monitor.farm.sheets import CROPS, FARM
from monitor.model import Band, Grade, PlaceKind, Quantity
from monitor.units import (
    TemperatureUnit,
    from_celsius,
    parse_duration_s,
    parse_percent,
    parse_temperature_c,
)

KEYS: Final = (
    "ideal.low", "ideal.high", "harm.low", "harm.high", "tolerated.low", "tolerated.high",
)  # fmt: skip
LIMITED: Final = (Quantity.TEMPERATURE, Quantity.SOIL_TEMPERATURE, Quantity.HUMIDITY)
_SPANS: Final = ((604_800, "week"), (86_400, "d"), (3600, "h"), (60, "min"), (1, "s"))

Texts = Mapping[str, str]
Touched = Mapping[str, str | None]
"""Limits by key as they are written, ``{"harm.high": "43 F"}``; None is no limit there."""

SAFE_F: Final[Mapping[PlaceKind, tuple[float, float]]] = {
    PlaceKind.COOLER: (28, 50),
    PlaceKind.SPROUTING_ROOM: (30, 77),
    PlaceKind.SOAK_BUCKET: (32, 86),
    PlaceKind.TUNNEL: (20, 95),
    PlaceKind.FIELD: (20, 104),
    PlaceKind.DRY_STORE: (28, 95),
}
"""Beyond these a harm limit is asked for twice: what is kept there would have frozen or cooked
before anybody is told (cautious settings of our own, common practice). [°F]"""
LONG_S: Final = 6 * 3600.0
"""A longer tolerated time is asked for twice (cautious setting of our own). [s]"""


def say_duration(seconds: float) -> str:
    """Return a span as it is written in the files: ``"45 min"``, ``"2 h"``."""
    size, word = next(
        (each for each in _SPANS if seconds >= each[0] and seconds % each[0] == 0), (1, "s")
    )
    if word == "week":
        size, word = 86_400, "d"
    return f"{seconds / size:g} {word}"


def say_written(value: float, quantity: Quantity, unit: TemperatureUnit) -> str:
    """Return a limit as it is written in the files: ``"36 F"``, ``"95 %"``."""
    if quantity is Quantity.HUMIDITY:
        return f"{value:g} %"
    return f"{round(from_celsius(value, unit), 3) + 0.0:g} {unit.value}"


def written(band: Band, quantity: Quantity, unit: TemperatureUnit) -> dict[str, str]:
    """Return each limit of a band as it would be written, by key; none where there is none."""
    found: dict[str, str] = {}
    for name, limits in (("ideal", band.ideal), ("harm", band.harm)):
        for side in ("low", "high"):
            value = None if limits is None else getattr(limits, side)
            if value is not None:
                found[f"{name}.{side}"] = say_written(value, quantity, unit)
    if band.harm is not None:
        spans = (("low", band.harm.tolerated_low_s), ("high", band.harm.tolerated_high_s))
        limited = [each for each in spans if f"harm.{each[0]}" in found]
        found |= {f"tolerated.{side}": say_duration(each) for side, each in limited}
    return found


def normal(key: str, text: str, quantity: Quantity, unit: TemperatureUnit) -> str:
    """Return a limit as it is written in the files, from what somebody typed.

    A bare number is in the farm's unit, or in minutes; a decimal comma is understood.

    Raises
    ------
    UnitError
        If it is no figure, or in a unit that does not fit.
    """
    plain = text.strip().replace("°", " ").replace(",", ".")
    bare = plain.replace(".", "", 1).lstrip("+-").isdecimal()
    if key.startswith("tolerated"):
        plain = f"{plain} min" if bare else plain
        return say_duration(parse_duration_s(plain))
    if quantity is Quantity.HUMIDITY:
        plain = f"{plain} %" if bare else plain
        parse_percent(plain)
        return plain
    number, mark = plain[:-1].strip(), plain[-1:].upper()
    plain = f"{plain} {unit.value}" if bare else f"{number} {mark}"
    if not bare and (mark not in "CFK" or not number):
        plain = text
    parse_temperature_c(plain)
    return plain


def value_of(key: str, text: str, quantity: Quantity) -> float:
    """Return what a written limit stands for. [°C], [%] or [s]"""
    if key.startswith("tolerated"):
        return parse_duration_s(text)
    return parse_percent(text) if quantity is Quantity.HUMIDITY else parse_temperature_c(text)


def order(after: Texts, quantity: Quantity) -> dict[str, str]:
    """Return by key what stands the wrong way round; empty where all is in order."""
    wrong: dict[str, str] = {}
    for name in ("ideal", "harm"):
        low, high = (after.get(f"{name}.{side}") for side in ("low", "high"))
        if low and high and value_of(name, low, quantity) >= value_of(name, high, quantity):
            wrong[f"{name}.high"] = f"{high} is not above {low}"
    return wrong


def dangers(place: Place, quantity: Quantity, touched: Touched) -> list[str]:
    """Return what would follow from changes that may cost what is kept in a place."""
    told: list[str] = []
    for key, text in touched.items():
        if key.startswith("harm") and text is None:
            way = _way(key, quantity)
            told.append(f"{place.name} would have no limit there: nobody is told if it is {way}.")
        elif key.startswith("harm") and quantity is Quantity.TEMPERATURE and text:
            told += _beyond(place, key, text)
        elif key.startswith("tolerated") and text and parse_duration_s(text) > LONG_S:
            told.append(
                f"{place.name} could be {_way(key, quantity)} for {text} before anybody is told."
            )
    return told


def _beyond(place: Place, key: str, text: str) -> list[str]:
    low, high = SAFE_F[place.kind]
    value = round(from_celsius(parse_temperature_c(text), TemperatureUnit.FAHRENHEIT), 3)
    what = ""
    if key == "harm.low" and value < low:
        what = "frozen"
    if key == "harm.high" and value > high:
        what = "spoiled by the warmth"
    if not what:
        return []
    said = f"what is kept there may be {what} before it is {text}, and nobody is told until then."
    return [f"{place.name}: {said}"]


def _way(key: str, quantity: Quantity) -> str:
    cold, warm = ("dry", "damp") if quantity is Quantity.HUMIDITY else ("cold", "warm")
    return f"too {cold if key.endswith('low') else warm}"


def change_limits(
    place: str, quantity: Quantity, touched: Touched, before: Texts, source: str
) -> Change:
    """Return the change of some limits of a place.

    Parameters
    ----------
    place : str
        Its id.
    quantity : Quantity
        What is limited.
    touched : mapping
        What becomes of the limits that change.
    before : mapping
        All limits as they are judged by now: a place that had those of its kind gets them
        whole as its own, with what was touched.
    source : str
        Who set them and why.
    """

    def apply(document: Table) -> None:
        _alter(entry(document, "place", place), quantity, touched, before, source)

    return Change(FARM, apply)


def change_stage_limits(  # noqa: PLR0917 - whose, of what, how
    crop: str, stage: str, quantity: Quantity, touched: Touched, before: Texts, source: str
) -> Change:  # fmt: skip
    """Return the change of some limits of a stage; see ``change_limits``."""

    def apply(document: Table) -> None:
        _alter(stage_in(document, crop, stage), quantity, touched, before, source)

    return Change(CROPS, apply)


def _alter(owner: Table, quantity: Quantity, touched: Touched, before: Texts, source: str) -> None:
    for side in ("ideal", "harm"):
        own = {key: each for key, each in touched.items() if _side_of(key) == side}
        if not own:
            continue
        band = under(owner, "bands", quantity.value)
        signed = {"grade": Grade.FARM.value, "source": source}
        if side in band:
            put(band[side], {**{_field(key): each for key, each in own.items()}, **signed})
        else:
            whole = {**{k: each for k, each in before.items() if _side_of(k) == side}, **own}
            fields = {_field(key): each for key, each in whole.items() if each is not None}
            band[side] = inline({**fields, **signed})
        if not _stands(owner, side, band[side]):
            band.pop(side)


def _stands(owner: Table, side: str, limits: Table) -> bool:
    """Return whether limits mean anything: only a place's empty harm limits do, by ending them."""
    return "low" in limits or "high" in limits or (side == "harm" and "kind" in owner)


def _side_of(key: str) -> str:
    return "ideal" if key.startswith("ideal") else "harm"


def _field(key: str) -> str:
    return key.replace("tolerated.", "tolerated_") if key.startswith("tol") else key.split(".")[1]


__all__ = [
    "KEYS", "LIMITED", "change_limits", "change_stage_limits", "dangers", "normal", "order",
    "say_duration", "value_of", "written",
]  # fmt: skip
