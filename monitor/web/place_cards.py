"""A place as the first page shows it: one card with its scale."""

from collections.abc import Iterable
from dataclasses import dataclass
from math import isfinite
from typing import Final

from monitor.alarms.saying import say_change
from monitor.farm import Place
from monitor.model import Channel, PlaceKind, PlaceState, Quantity, Side
from monitor.phrase import Phrase
from monitor.science.heading import heading
from monitor.science.lag import follow
from monitor.science.series import Samples
from monitor.units import TemperatureUnit, from_celsius
from monitor.watch import ChannelStatus, LineStatus, PlaceStatus
from monitor.web.loading import loading
from monitor.web.look import WARMTH, Look, by_standing, channel_standing, standing_of
from monitor.web.scale import Limits, Scale, draw
from monitor.web.trails import DAY_MS, NOTHING, Trail, Trails, shown_unit
from monitor.web.words import Standing

_SLOW_S: Final = 1800.0
"""What follows the air faster than this is drawn as the air. [s]"""
_LEADING: Final = (Quantity.TEMPERATURE, Quantity.SOIL_TEMPERATURE, Quantity.HUMIDITY)
_KEPT: Final = {
    PlaceKind.COOLER: Phrase("flowers"), PlaceKind.SPROUTING_ROOM: Phrase("trays"),
    PlaceKind.DRY_STORE: Phrase("what is stored"), PlaceKind.SOAK_BUCKET: Phrase("corms"),
    PlaceKind.TUNNEL: Phrase("plants"), PlaceKind.FIELD: Phrase("plants"),
}  # fmt: skip
_WORST: Final = (PlaceState.HARM, PlaceState.DRIFTING)


@dataclass(frozen=True, slots=True)
class Card:
    """One place, ready to be written down."""

    id: str
    name: str
    standing: Standing
    since: str
    quantity: str
    value: str
    old: str  # when an old value was heard; "" while it is fresh
    trend: str
    beside: tuple[str, ...]
    holds: str
    scale: Scale
    spoken: str
    loading: str = ""


def cards(look: Look, trails: Trails) -> list[Card]:
    """Return every place: harm first, then temperature drift, then as the farm has them."""
    places = sorted(look.farm.places.values(), key=lambda each: _rank(look.status(each.id)))
    return [card(look, trails, each) for each in places]


def _rank(status: PlaceStatus) -> int:
    """Return 0 for harm, 1 for a drift of air, water or soil, 2 for all else."""
    if status.state is PlaceState.HARM:
        return 0
    drifts = any(
        each.state is PlaceState.DRIFTING and each.channel.quantity in WARMTH
        for each in status.channels
    )
    return 1 if drifts else 2


def card(look: Look, trails: Trails, place: Place) -> Card:
    """Return one place."""
    status = look.status(place.id)
    lead = leading(status.channels)
    state = _headed(status, lead)
    air = NOTHING if lead is None else _last_day(look, trails, lead.channel)
    contents_c = _contents_c(place, lead, air)
    beside = [] if lead is None else _beside(look, status.channels, lead)
    if contents_c is not None:
        beside.insert(
            0,
            Phrase(
                "{kept} about {figure}",
                kept=_KEPT[place.kind],
                figure=look.figure(contents_c, Quantity.TEMPERATURE),
            ),
        )
    scale = _scale(look, place, lead, air, contents_c)
    since = _since(look, status, lead)
    value = "—" if lead is None else look.figure(lead.value, lead.channel.quantity)
    return Card(
        id=place.id,
        name=place.name,
        standing=state,
        since=since,
        quantity="" if lead is None else look.quantity(_about(status, lead), place.id),
        value=value,
        old=_old(look, lead),
        trend=_trend(look, lead),
        beside=tuple(beside),
        holds=look.wording.contents(place.id, look.now_ms),
        scale=scale,
        spoken=Phrase(
            "{name}: {word} {since}, {value}",
            name=place.name,
            word=state.word,
            since=since,
            value=value,
        ),
        loading=_loading(look, place),
    )


def _loading(look: Look, place: Place) -> str:
    """Return until when a cooler is being loaded, or nothing."""
    now = loading(look, place)
    return Phrase("Being loaded until {until}", until=now.until) if now and now.until else ""


def _headed(status: PlaceStatus, lead: ChannelStatus | None) -> Standing:
    """Return how a place stands: by its air, where nothing else there stands worse."""
    if lead is not None and lead.state is status.state and lead.state in _WORST:
        return channel_standing(lead)
    return standing_of(status)


def _since(look: Look, status: PlaceStatus, lead: ChannelStatus | None) -> str:
    if not status.channels:
        return Phrase("no sensor hangs here")
    if all(each.at_ms is None for each in status.channels):
        return Phrase("nothing heard yet")
    return look.lasting(_since_ms(status, lead))


def _since_ms(status: PlaceStatus, lead: ChannelStatus | None) -> int | None:
    """Return since when a place stands as its heading says, not as something beside it does."""
    if lead is None or lead.state is not status.state or lead.state not in _WORST:
        return status.since_ms
    alike = [
        each.since_ms
        for each in status.channels
        if each.state is status.state and each.channel.quantity is lead.channel.quantity
    ]
    return min((each for each in alike if each is not None), default=status.since_ms)


def leading(statuses: Iterable[ChannelStatus]) -> ChannelStatus | None:
    """Return the channel a place is shown by: its air or water, else its soil, its humidity."""
    ranked = by_standing(statuses)
    for quantity in _LEADING:
        for each in ranked:
            if each.channel.quantity is quantity:
                return each
    return None


def _about(status: PlaceStatus, lead: ChannelStatus) -> Quantity:
    """Return the quantity by which a place stands as it does."""
    worst = [each for each in status.channels if each.state is status.state]
    if lead.state is status.state or not worst:
        return lead.channel.quantity
    return worst[0].channel.quantity


def limits_of(
    place: Place, quantity: Quantity, lines: Iterable[LineStatus], unit: TemperatureUnit
) -> Limits:
    """Return a place's limits as drawn; the nearest harm of it and of what is in there."""
    band = place.bands.get(quantity)
    ideal = band.ideal if band else None
    harm = [line for line in lines if not line.ideal]
    return Limits(
        low=_shown(ideal.low if ideal else None, quantity, unit),
        high=_shown(ideal.high if ideal else None, quantity, unit),
        harm_low=_shown(_nearest(harm, Side.LOW), quantity, unit),
        harm_high=_shown(_nearest(harm, Side.HIGH), quantity, unit),
    )


def _nearest(lines: Iterable[LineStatus], side: Side) -> float | None:
    found = [line.limit for line in lines if line.side is side]
    if side is Side.LOW:
        return max(found, default=None)
    return min(found, default=None)


def _shown(value: float | None, quantity: Quantity, unit: TemperatureUnit) -> float | None:
    if value is None or not isfinite(value):
        return None
    return value if quantity is Quantity.HUMIDITY else from_celsius(value, unit)


def _scale(
    look: Look, place: Place, lead: ChannelStatus | None, line: Trail, contents_c: float | None
) -> Scale:
    span = (look.now_ms - DAY_MS, look.now_ms)
    if lead is None:
        return draw(Limits(), NOTHING, span)
    quantity, unit = lead.channel.quantity, look.farm.units
    limits = limits_of(place, quantity, lead.lines, unit)
    known = lead.state is not PlaceState.UNKNOWN
    mark = _shown(lead.value, quantity, unit) if known else None
    contents = _shown(contents_c, quantity, unit)
    shown = in_unit(line, quantity, unit)
    return draw(limits, shown, span, mark, contents, ahead=_ahead(shown, mark, look.now_ms))


def _ahead(line: Trail, mark: float | None, now_ms: int) -> tuple[float, float] | None:
    """Return between which values it is likely to be in an hour, in the unit shown."""
    if mark is None or not line.at_ms.size or now_ms - int(line.at_ms[-1]) > line.gap_ms:
        return None
    found = heading(Samples(line.at_ms, line.mean, line.gap_ms / 1000))
    if found is None:
        return None
    off = mark - float(line.mean[-1])
    return found.low + off, found.high + off


def _contents_c(place: Place, lead: ChannelStatus | None, air: Trail) -> float | None:
    """Return what is kept in a place, as it lags behind its air; None until that is settled."""
    if lead is None or lead.channel.quantity is not Quantity.TEMPERATURE or air.at_ms.size == 0:
        return None
    if lead.state is PlaceState.UNKNOWN or place.lag_s < _SLOW_S:
        return None
    contents = follow(Samples(air.at_ms, air.mean, air.gap_ms / 1000), place.lag_s)
    return float(contents.value_c[-1]) if contents.settled[-1] else None


def _last_day(look: Look, trails: Trails, channel: Channel) -> Trail:
    sensor = look.farm.sensors.get(channel.sensor)
    spec = None if sensor is None else sensor.spec(channel.quantity)
    if sensor is None or spec is None:
        return NOTHING
    hung_ms = look.watch.posted.get(sensor.id, 0)
    return trails.last_day(look.desk.reader(), sensor, spec, look.now_ms, hung_ms)


def in_unit(line: Trail, quantity: Quantity, unit: TemperatureUnit) -> Trail:
    """Return a trail [°C] or [%] in the unit shown."""
    low, high, mean = (
        shown_unit(each, quantity, unit) for each in (line.low, line.high, line.mean)
    )
    return Trail(line.at_ms, low, high, mean, line.gap_ms, line.bucketed, line.dropped)


def _beside(look: Look, statuses: Iterable[ChannelStatus], lead: ChannelStatus) -> list[str]:
    """Return the other quantities of a place, one figure each."""
    told: dict[Quantity, str] = {}
    for each in by_standing(statuses):
        quantity = each.channel.quantity
        if quantity in (lead.channel.quantity, Quantity.BATTERY) or each.value is None:
            continue
        name = look.quantity(quantity, None).lower()
        word = channel_standing(each).word if each.state in _WORST else ""
        figure = Phrase("{name} {figure}", name=name, figure=look.figure(each.value, quantity))
        told.setdefault(
            quantity, Phrase("{figure}, {word}", figure=figure, word=word) if word else figure
        )
    return list(told.values())


def _old(look: Look, lead: ChannelStatus | None) -> str:
    if lead is None or lead.at_ms is None:
        return ""
    if lead.state is PlaceState.UNKNOWN:
        return Phrase("last heard {ago}", ago=look.ago(lead.at_ms))
    return "" if lead.trusted else Phrase("not sure")


def _trend(look: Look, lead: ChannelStatus | None) -> str:
    if lead is None or lead.state is PlaceState.UNKNOWN:
        return ""
    return say_change(lead.trend_per_h, lead.channel.quantity, look.farm.units)
