"""What an alarm says: plain words, the place first, complete in itself."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final, NamedTuple

from monitor.alarms.contents import say_contents
from monitor.alarms.rationale import first_look
from monitor.alarms.saying import say_time, say_value
from monitor.batches.book import Hold
from monitor.farm import Farm, Place
from monitor.model import AlarmKind, Batch, PlaceKind, Quantity
from monitor.phrase import Lower, Phrase, together

FIRST_LOOK: Final = Phrase("First look:")
"""What stands before the one thing to do first, in every text that has one."""


class Words(NamedTuple):
    """A title of a few words, and a text that is complete without it."""

    title: str
    text: str


@dataclass(frozen=True, slots=True)
class Wording:
    """The farm's names, units and records, as sentences need them.

    ``batches`` are the open ones by number; ``holds`` what of each is kept for an order.
    """

    farm: Farm
    batches: Mapping[int, Batch] = field(default_factory=dict)
    holds: Mapping[int, tuple[Hold, ...]] = field(default_factory=dict)

    def place(self, place: str | None) -> str:
        """Return a place's name; its id where the farm no longer has it."""
        found = self.farm.places.get(place or "")
        return found.name if found else (place or Phrase("The farm"))

    def sensor(self, sensor: str | None) -> str:
        """Return a sensor's name; its id where the farm no longer has it."""
        found = self.farm.sensors.get(sensor or "")
        return found.name if found else (sensor or "")

    def batch(self, number: int) -> str:
        """Return ``"batch 14, Dawn Apricot"``."""
        batch = self.batches.get(number)
        if batch is None:
            return Phrase("batch {number}", number=number)
        crop = self.farm.crops.get(batch.crop)
        return Phrase(
            "batch {number}, {cultivar}",
            number=number,
            cultivar=batch.cultivar or (crop.name if crop else batch.crop),
        )

    def stage(self, number: int, stage: str) -> str:
        """Return a stage's name by the crop of a batch."""
        batch = self.batches.get(number)
        crop = self.farm.crops.get(batch.crop) if batch else None
        found = crop.stages.get(stage) if crop else None
        return Lower(Phrase(found.name if found else stage.replace("_", " ")))

    def value(self, value: float, quantity: Quantity | None) -> str:
        """Return a value in the farm's unit."""
        return say_value(value, quantity, self.farm.units)

    def time(self, at_ms: int, now_ms: int) -> str:
        """Return a time of the farm's clock."""
        return say_time(at_ms, self.farm.zone, now_ms)

    def contents(self, place: str | None, now_ms: int) -> str:
        """Return what is in a place by the records."""
        here = [
            batch
            for batch in self.batches.values()
            if batch.stay is not None and batch.stay.place == place
        ]
        return say_contents(here, self.holds, self.farm.zone, now_ms)

    def phones(self, place: str | None) -> str:
        """Return whom to ring about a place by its card, to stand at the end of a text."""
        found = self.farm.places.get(place or "")
        if found is None or found.card is None or not found.card.phones:
            return ""
        return Phrase(
            " Ring: {names}.",
            names=together(
                (
                    Phrase("{name} {number}", name=each.name, number=each.number)
                    for each in found.card.phones
                ),
                ", ",
            ),
        )

    def first_look(self, kind: AlarmKind, place: str | None) -> str:
        """Return the one thing to do first: the farm's own words where it gave them."""
        found: Place | None = self.farm.places.get(place or "")
        own = found.first_look if found and _fits(found, kind) else ""
        look = Phrase(own.rstrip(". ")) if own else first_look(kind, found.kind if found else None)
        return _careful(look)


_FITS: Final = {
    PlaceKind.COOLER: (AlarmKind.TOO_WARM,),
    PlaceKind.SOAK_BUCKET: (AlarmKind.STAGE_ENDING,),
}
_FITS_ELSEWHERE: Final = (AlarmKind.TOO_WARM, AlarmKind.TOO_COLD)


def _fits(place: Place, kind: AlarmKind) -> bool:
    """Return whether the farm's words for a place fit a kind: no breaker mends freezing."""
    return kind in _FITS.get(place.kind, _FITS_ELSEWHERE)


def _careful(look: str) -> str:
    """Add the caution where a breaker is named."""
    if "breaker" not in look.lower() or "wet hands" in look.lower():
        return Phrase("{mark} {look}.", mark=FIRST_LOOK, look=look)
    careful = Phrase("Reset a breaker once at most, never with wet hands.")
    return Phrase("{mark} {look}. {careful}", mark=FIRST_LOOK, look=look, careful=careful)


def wording(
    farm: Farm,
    batches: Sequence[Batch] = (),
    holds: Mapping[int, tuple[Hold, ...]] | None = None,
) -> Wording:
    """Return the wording of a farm with what its records say is where."""
    return Wording(farm, {each.id: each for each in batches if each.stay is not None}, holds or {})
