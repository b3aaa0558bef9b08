"""A place's own page: its figures, its limits and where they come from, its sensors."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, time
from typing import Final

from monitor.alarms.saying import say_span
from monitor.farm import Place, Sensor
from monitor.model import Band, Channel, Harm, PlaceState, Quantity
from monitor.phrase import Phrase, together
from monitor.watch import ChannelStatus
from monitor.watch.warming import LEAST_DAYS
from monitor.web.look import Look, channel_standing
from monitor.web.trails import NOTHING, Trail, trail
from monitor.web.words import GRADES, Standing, say_between, say_limit

_SWITCHES: Final = (Quantity.DOOR, Quantity.MAINS)
_POINTS: Final = 500
HOUR_MS: Final = 3_600_000


@dataclass(frozen=True, slots=True)
class Row:
    """One quantity as one sensor tells it."""

    name: str
    sensor: str
    standing: Standing
    now: str
    old: str
    least: str
    most: str
    ideal: str
    harm: str


def rows(look: Look, place: Place) -> list[Row]:
    """Return the figures of a place, a row for each quantity of each sensor."""
    return [_row(look, place, each) for each in look.status(place.id).channels]


def _row(look: Look, place: Place, status: ChannelStatus) -> Row:
    quantity = status.channel.quantity
    sensor = look.farm.sensors.get(status.channel.sensor)
    band = place.bands.get(quantity, Band())
    least, most = _today(look, sensor, quantity)
    unknown = status.state is PlaceState.UNKNOWN
    old = look.ago(status.at_ms) if unknown and status.at_ms is not None else ""
    return Row(
        name=look.quantity(quantity, place.id), sensor=sensor.name if sensor else "",
        standing=channel_standing(status), now=look.figure(status.value, quantity), old=old,
        least=look.figure(least, quantity), most=look.figure(most, quantity),
        ideal=_ideal(look, band, quantity), harm=_harm(look, band.harm, quantity),
    )  # fmt: skip


def _today(
    look: Look, sensor: Sensor | None, quantity: Quantity
) -> tuple[float | None, float | None]:
    """Return the least and the most of the farm's day so far, [°C] or [%]."""
    if sensor is None or quantity in _SWITCHES:
        return None, None
    now = datetime.fromtimestamp(look.now_ms / 1000, look.farm.zone)
    midnight_ms = int(datetime.combine(now.date(), time(), look.farm.zone).timestamp() * 1000)
    return extremes(look, sensor, quantity, (midnight_ms, look.now_ms + 1)) or (None, None)


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


def _ideal(look: Look, band: Band, quantity: Quantity) -> str:
    if band.ideal is None:
        return "—"
    return say_between(band.ideal.low, band.ideal.high, quantity, look.farm.units)


def _harm(look: Look, harm: Harm | None, quantity: Quantity) -> str:
    """Return ``"33 °F for 20 min, or 42 °F for 45 min"``."""
    if harm is None:
        return "—"
    sides = ((harm.low, harm.tolerated_low_s), (harm.high, harm.tolerated_high_s))
    told = [
        Phrase(
            "{limit} for {span}",
            limit=say_limit(limit, quantity, look.farm.units),
            span=say_span(tolerated_s),
        )
        for limit, tolerated_s in sides
        if limit is not None
    ]
    return (
        Phrase("{one}, or {other}", one=told[0], other=told[1])
        if told[1:]
        else together(told) or "—"
    )


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
    return [each for each in Quantity if each in found and each not in _SWITCHES]


def sensors_with(look: Look, place: Place, quantity: Quantity) -> list[Sensor]:
    """Return the sensors that tell a quantity of a place."""
    return [
        sensor
        for sensor in look.farm.sensors.values()
        if sensor.place == place.id and sensor.spec(quantity) is not None
    ]
