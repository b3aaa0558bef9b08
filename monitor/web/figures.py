"""The figures of a place: a row for each, or one for many, with what is in danger first."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, time
from typing import Final, NamedTuple

from monitor.alarms.saying import say_span
from monitor.farm import Place, Sensor
from monitor.model import Band, Harm, PlaceState, Quantity
from monitor.phrase import Phrase, together
from monitor.watch import ChannelStatus
from monitor.web.look import Look, by_danger, by_standing, channel_standing
from monitor.web.place_page import SWITCHES, extremes
from monitor.web.words import Standing, say_between, say_limit

_ROWS_AT_MOST: Final = 8
"""Rows that one reads without looking for the bad one."""
_ALIKE: Final = 3
"""Rows of one quantity that stand by themselves where there are many."""


@dataclass(frozen=True, slots=True)
class Row:
    """One quantity as one sensor tells it, or several together."""

    name: str
    sensor: str
    standing: Standing
    now: str
    old: str
    least: str
    most: str
    ideal: str
    harm: str


class Figures(NamedTuple):
    """The rows that stand open, and all of them where some do not."""

    shown: list[Row]
    folded: list[Row]


class _Told(NamedTuple):
    """What one channel told: how it stands, and today's least and most. [°C] or [%]"""

    status: ChannelStatus
    today: tuple[float, float] | None
    row: Row


def figures(look: Look, place: Place) -> Figures:
    """Return the figures of a place, a row for each quantity of each sensor.

    Of many rows each quantity has one for all its sensors, and the worst of those that are
    not in their band; the rest is folded.
    """
    told = [_told(look, place, each) for each in look.status(place.id).channels]
    if len(told) <= _ROWS_AT_MOST:
        return Figures([each.row for each in told], [])
    of = {each.status.channel: each for each in told}
    groups: dict[Quantity, list[_Told]] = {each.quantity: [] for each in of}
    for status in by_danger(each.status for each in told):
        groups[status.channel.quantity].append(of[status.channel])
    shown = [row for group in groups.values() for row in _few(look, place, group)]
    return Figures(shown, [each.row for group in groups.values() for each in group])


def _few(look: Look, place: Place, group: Sequence[_Told]) -> Iterator[Row]:
    """Yield the rows that stand for those of one quantity, given with the worst first."""
    quantity = group[0].status.channel.quantity
    if len(group) <= _ALIKE or quantity in SWITCHES:
        yield from (each.row for each in group)
        return
    yield _joint(look, place, group)
    out = [each for each in group if each.status.state is not PlaceState.IN_BAND]
    yield from (each.row for each in out[:_ALIKE])


def _joint(look: Look, place: Place, group: Sequence[_Told]) -> Row:
    """Return what many sensors tell of one quantity: between which figures they are."""
    quantity = group[0].status.channel.quantity
    heard = [each.status for each in group if each.status.state is not PlaceState.UNKNOWN]
    known = [each.value for each in heard if each.value is not None]
    days = [each.today for each in group if each.today is not None]
    standing = channel_standing(by_standing(each.status for each in group)[0])
    return _row(
        look, place, quantity, Phrase("{number} sensors", number=len(group)), standing,
        now=_between(look, known, quantity),
        today=(min(low for low, _ in days), max(high for _, high in days)) if days else None,
    )  # fmt: skip


def _between(look: Look, values: Sequence[float], quantity: Quantity) -> str:
    """Return ``"37.2 to 38.5 °F"``, one figure where they are all alike, or a dash."""
    low, high = (look.figure(of(values, default=None), quantity) for of in (min, max))
    return low if low == high else Phrase("{low} to {high}", low=low.split(" ")[0], high=high)


def _told(look: Look, place: Place, status: ChannelStatus) -> _Told:
    quantity, sensor = status.channel.quantity, look.farm.sensors.get(status.channel.sensor)
    today = _today(look, sensor, quantity)
    unknown = status.state is PlaceState.UNKNOWN
    row = _row(
        look, place, quantity, sensor.name if sensor else "", channel_standing(status),
        now=look.figure(status.value, quantity), today=today,
        old=look.ago(status.at_ms) if unknown and status.at_ms is not None else "",
    )  # fmt: skip
    return _Told(status, today, row)


def _row(
    look: Look, place: Place, quantity: Quantity, sensor: str, standing: Standing, *,
    now: str, today: tuple[float, float] | None, old: str = "",
) -> Row:  # fmt: skip
    band = place.bands.get(quantity, Band())
    least, most = today or (None, None)
    return Row(
        name=look.quantity(quantity, place.id), sensor=sensor, standing=standing, now=now, old=old,
        least=look.figure(least, quantity), most=look.figure(most, quantity),
        ideal=_ideal(look, band, quantity), harm=_harm(look, band.harm, quantity),
    )  # fmt: skip


def _today(look: Look, sensor: Sensor | None, quantity: Quantity) -> tuple[float, float] | None:
    """Return the least and the most of the farm's day so far, [°C] or [%]."""
    if sensor is None or quantity in SWITCHES:
        return None
    now = datetime.fromtimestamp(look.now_ms / 1000, look.farm.zone)
    midnight_ms = int(datetime.combine(now.date(), time(), look.farm.zone).timestamp() * 1000)
    return extremes(look, sensor, quantity, (midnight_ms, look.now_ms + 1))


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
