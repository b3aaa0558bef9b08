"""What happened in a place meanwhile: alarms, doors, defrosts, loadings."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from monitor.alarms import happened
from monitor.farm import Place
from monitor.model import AlarmState, Channel, Quantity
from monitor.phrase import Phrase
from monitor.speaking import said
from monitor.web.look import Look

_ALARMS: Final = 1000
_WEEK_MS: Final = 7 * 86_400_000
_OPEN: Final = 0.5


@dataclass(frozen=True, slots=True)
class Mark:
    """One thing that lasted from a time until another; None while it lasts. [ms]

    ``kind`` is alarm, expected, door, defrost or loading; ``alarm`` is the alarm's number.
    """

    kind: str
    from_ms: int
    until_ms: int | None
    text: str
    alarm: int | None = None

    def json(self) -> dict[str, Any]:
        """Return it as the programming interface tells it."""
        return {
            "kind": self.kind, "from_ms": self.from_ms, "until_ms": self.until_ms,
            "text": said(self.text), "alarm": self.alarm,
        }  # fmt: skip

    def touches(self, span: tuple[int, int]) -> bool:
        """Return whether some of it lies in a span. [ms]"""
        return self.from_ms < span[1] and (self.until_ms is None or self.until_ms >= span[0])


def marks(look: Look, place: Place, quantity: Quantity, span: tuple[int, int]) -> list[Mark]:
    """Return what happened in a place in a span of time, the oldest first.

    Doors and defrosts are told for a week at most: further out they are a blur.
    """
    found = [*_alarms(look, place, quantity), *_loadings(look, place)]
    if span[1] - span[0] <= _WEEK_MS:
        found += [*_doors(look, place, span), *_defrosts(look, place)]
    return sorted((each for each in found if each.touches(span)), key=lambda each: each.from_ms)


def _alarms(look: Look, place: Place, quantity: Quantity) -> Iterator[Mark]:
    for each in look.desk.ledger.alarms(place=place.id, limit=_ALARMS):
        if each.quantity in (None, quantity):
            kind = "expected" if each.state is AlarmState.SUPPRESSED else "alarm"
            said = happened(each, look.wording)
            yield Mark(kind, each.began_ms, each.returned_ms, said, each.id)


def _loadings(look: Look, place: Place) -> Iterator[Mark]:
    for each in look.book.loadings:
        if each.place == place.id:
            yield Mark("loading", each.from_ms, each.until_ms, Phrase("loading"))


def _doors(look: Look, place: Place, span: tuple[int, int]) -> Iterator[Mark]:
    """Yield each time a door switch told of an open door."""
    reader = look.desk.reader()
    for sensor in look.farm.sensors.values():
        channel = Channel(sensor.id, Quantity.DOOR)
        if sensor.place != place.id or sensor.spec(Quantity.DOOR) is None:
            continue
        hung_ms = look.watch.posted.get(sensor.id, 0)
        series = reader.series(channel, max(span[0], hung_ms), span[1])
        open_now = (series.raw > _OPEN).astype(np.int64)
        edges = np.diff(np.concatenate(([0], open_now, [0])))
        begins, ends = np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)
        for begin, end in zip(begins.tolist(), ends.tolist(), strict=True):
            until_ms = int(series.at_ms[end]) if end < series.at_ms.size else None
            yield Mark("door", int(series.at_ms[begin]), until_ms, Phrase("door open"))


def _defrosts(look: Look, place: Place) -> Iterator[Mark]:
    """Yield the rises that come back at their hour, of the first sensor that knows some."""
    for channel, track in look.watch.tracks.items():
        sensor = look.farm.sensors.get(channel.sensor)
        habits = track.warming.habits
        if sensor is None or sensor.place != place.id or not any(habits.on_timer):
            continue
        for rise, timed in zip(habits.rises, habits.on_timer, strict=True):
            if timed:
                until_ms = rise.began_ms + rise.lasted_ms
                yield Mark("defrost", rise.began_ms, until_ms, Phrase("like a defrost"))
        return


__all__ = ["Mark", "marks"]
