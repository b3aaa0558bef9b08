"""A place's own page: what its sensors told, where its limits come from, what can be drawn."""

from collections.abc import Iterator
from typing import Final

from monitor.farm import Place, Sensor
from monitor.model import Channel, Quantity
from monitor.phrase import Phrase
from monitor.watch.warming import LEAST_DAYS
from monitor.web.look import Look
from monitor.web.trails import NOTHING, Trail, trail
from monitor.web.words import GRADES

SWITCHES: Final = (Quantity.DOOR, Quantity.MAINS)
_POINTS: Final = 500
HOUR_MS: Final = 3_600_000


def extremes(
    look: Look, sensor: Sensor, quantity: Quantity, span: tuple[int, int]
) -> tuple[float, float] | None:
    """Return the least and the most of a span, [°C] or [%]; None where nothing is known.

    The hours of the span are known by their summaries; the readings themselves are looked
    at in its first hour only, where that is broken by the span or by the sensor's moving in.
    """
    from_ms = max(span[0], look.watch.posted.get(sensor.id, 0))
    whole_ms = min(-(-from_ms // HOUR_MS) * HOUR_MS, span[1])
    hours = min(max((span[1] - whole_ms) // HOUR_MS, 1), _POINTS)
    parts = [
        drawn(look, sensor, quantity, (from_ms, whole_ms), _POINTS),
        drawn(look, sensor, quantity, (whole_ms, span[1]), hours),
    ]
    known = [each for each in parts if each.at_ms.size]
    if not known:
        return None
    return min(float(e.low.min()) for e in known), max(float(e.high.max()) for e in known)


def drawn(
    look: Look, sensor: Sensor, quantity: Quantity, span: tuple[int, int], points: int
) -> Trail:
    """Return a channel over a span, [°C] or [%], from whatever is fine enough.

    What it told where it hung before is not its place's; its battery is its own.
    """
    spec = sensor.spec(quantity)
    if quantity is not Quantity.BATTERY:
        span = max(span[0], look.watch.posted.get(sensor.id, 0)), span[1]
    if spec is None or span[0] >= span[1]:
        return NOTHING
    read = look.desk.reader().drawn(Channel(sensor.id, quantity), *span, points)
    return trail(spec, read, sensor.allowed_gap_s)


def sources(look: Look, place: Place) -> Iterator[str]:
    """Yield where each limit of a place comes from, with how well it is founded."""
    for quantity, band in place.bands.items():
        name = look.quantity(quantity, place.id)
        if band.ideal is not None:
            yield Phrase(
                "{name}, good: {source} ({grade})",
                name=name,
                source=band.ideal.source,
                grade=GRADES[band.ideal.grade],
            )
        if band.harm is not None:
            yield Phrase(
                "{name}, harm: {source} ({grade})",
                name=name,
                source=band.harm.source,
                grade=GRADES[band.harm.grade],
            )


def habit(look: Look, place: Place) -> str:
    """Return how well a cooler's own ways are known, or nothing where none are learned."""
    days = [each.habit_days for each in look.status(place.id).channels]
    known = min((each for each in days if each is not None), default=None)
    if known is None:
        return ""
    if known < LEAST_DAYS:
        return Phrase(
            "Still learning how this cooler warms and cools: {known} of {days} "
            "days. Until then only its limits wake someone.",
            known=known,
            days=LEAST_DAYS,
        )
    return Phrase(
        "An unusual warming is told ahead of its limits: this cooler's own ways are known."
    )


def charted(look: Look, place: Place) -> list[Quantity]:
    """Return the quantities of a place that a chart can show, switches left out."""
    found = {each.channel.quantity for each in look.status(place.id).channels}
    return [each for each in Quantity if each in found and each not in SWITCHES]


def sensors_with(look: Look, place: Place, quantity: Quantity) -> list[Sensor]:
    """Return the sensors that tell a quantity of a place."""
    return [
        sensor
        for sensor in look.farm.sensors.values()
        if sensor.place == place.id and sensor.spec(quantity) is not None
    ]
