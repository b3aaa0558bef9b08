"""Other limits, delays or deadbands than the farm's files hold, to try them: nothing is written."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from typing import Any, Final

from monitor.errors import FarmError, UnitError
from monitor.farm.declared import Farm, Place
from monitor.model import Band, Grade, Harm, Ideal, Quantity
from monitor.units import parse_duration_s, parse_percent, parse_temperature_c

HOW: Final = (
    "write it as walk-in-cooler.temperature.harm.high=42 F, or .harm.low, .ideal.high, .ideal.low, "
    ".tolerated=20 min, .tolerated.high, .tolerated.low"
)
_TRIED: Final = "tried in a replay"
_NO_HARM: Final = Harm(None, None, 0.0, 0.0, Grade.FARM, _TRIED)
_NO_IDEAL: Final = Ideal(None, None, Grade.FARM, _TRIED)


def _limit(quantity: Quantity, text: str) -> float:
    return parse_percent(text) if quantity is Quantity.HUMIDITY else parse_temperature_c(text)


def _harm(band: Band, **fields: Any) -> Band:  # noqa: ANN401 - the record's own fields
    return replace(band, harm=replace(band.harm or _NO_HARM, **fields))


def _ideal(band: Band, **fields: Any) -> Band:  # noqa: ANN401 - the record's own fields
    return replace(band, ideal=replace(band.ideal or _NO_IDEAL, **fields))


_Change = Callable[[Band, Quantity, str], Band]
_CHANGES: Final[Mapping[str, _Change]] = {
    "harm.high": lambda band, q, text: _harm(band, high=_limit(q, text)),
    "harm.low": lambda band, q, text: _harm(band, low=_limit(q, text)),
    "ideal.high": lambda band, q, text: _ideal(band, high=_limit(q, text)),
    "ideal.low": lambda band, q, text: _ideal(band, low=_limit(q, text)),
    "tolerated": lambda band, _, text: _harm(
        band, tolerated_low_s=parse_duration_s(text), tolerated_high_s=parse_duration_s(text)
    ),
    "tolerated.high": lambda band, _, text: _harm(band, tolerated_high_s=parse_duration_s(text)),
    "tolerated.low": lambda band, _, text: _harm(band, tolerated_low_s=parse_duration_s(text)),
}


def changed(farm: Farm, changes: Iterable[str]) -> Farm:
    """Return the farm with some limits or delays of its places changed.

    Parameters
    ----------
    farm : Farm
        As its files declare it.
    changes : iterable of str
        Each as ``walk-in-cooler.temperature.harm.high=42 F``.

    Raises
    ------
    FarmError
        If a change names nothing that can be changed, or has no value with a unit.
    """
    for text in changes:
        where, equals, value = text.partition("=")
        parts = where.strip().split(".", 2)
        if not equals or len(parts) < 3:  # noqa: PLR2004  # place, quantity, what
            raise FarmError(f"{text!r} changes nothing: {HOW}")
        place = _with(farm, parts[0], parts[1], parts[2], value.strip(), text)
        farm = replace(farm, places={**farm.places, place.id: place})
    return farm


def _with(farm: Farm, place_id: str, quantity_id: str, what: str, value: str, text: str) -> Place:  # noqa: PLR0917  # the parts of one change
    place, change = farm.places.get(place_id), _CHANGES.get(what)
    if place is None:
        raise FarmError(f"{text!r}: there is no place {place_id}; see: cormwatch place list")
    if change is None or quantity_id not in set(Quantity):
        raise FarmError(f"{text!r} changes nothing: {HOW}")
    quantity = Quantity(quantity_id)
    try:
        band = change(place.bands.get(quantity, Band()), quantity, value)
    except UnitError as failure:
        raise FarmError(f"{text!r}: {failure}") from failure
    return replace(place, bands={**place.bands, quantity: band})
