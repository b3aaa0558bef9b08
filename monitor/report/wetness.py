"""Wet hours of a batch in tunnel or field: what grey mould needs, by a named surrogate.

Not for rooms and coolers: their air is meant to be humid, and a surrogate of humid air
would call every hour wet there.
"""

from collections.abc import Mapping
from typing import Final, NamedTuple

from monitor.model import PlaceKind, Quantity, Side
from monitor.phrase import Phrase
from monitor.report.subject import Subject
from monitor.science.exposure import time_outside_s
from monitor.science.mould import WET_PCT, Surrogate

SURROGATE: Final = Surrogate.HUMID_AIR
_SURROGATES: Final = {
    Surrogate.HUMID_AIR: Phrase("air at 90 % or more"),
    Surrogate.UNDER_DEW_POINT: Phrase("surface at or under the dew point"),
}
_OPEN: Final = (PlaceKind.TUNNEL, PlaceKind.FIELD)


class Wet(NamedTuple):
    """Wet hours of a stage, of the hours whose humidity is known. [h]"""

    wet_h: float
    known_h: float


def wet_by_stage(told: Subject) -> Mapping[str, Wet]:
    """Return the wet hours of each stage spent in tunnel or field, where any are known."""
    found: dict[str, Wet] = {}
    places = told.stores.farm.places
    for part, courses in told.met:
        place = places.get(part.place)
        humid = courses[Quantity.HUMIDITY].samples
        if place is None or place.kind not in _OPEN or humid.known_s <= 0:
            continue
        before = found.get(part.stage, Wet(0.0, 0.0))
        wet_s = time_outside_s(humid, Side.HIGH, WET_PCT)
        found[part.stage] = Wet(before.wet_h + wet_s / 3600, before.known_h + humid.known_s / 3600)
    return found


def say_wet(wet: Wet) -> str:
    """Return the wet hours in a line that names their surrogate."""
    return Phrase(
        "Wet {wet:.0f} of {known:.0f} h known ({surrogate})",
        wet=wet.wet_h, known=wet.known_h, surrogate=_SURROGATES[SURROGATE],
    )  # fmt: skip
