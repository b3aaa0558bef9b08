"""What a chart draws: the lines of one quantity in one place, and its limits."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from monitor.farm import Place, Sensor
from monitor.model import Channel, PlaceState, Quantity
from monitor.phrase import Phrase
from monitor.speaking import said
from monitor.units import TemperatureUnit, difference_from_celsius, from_celsius
from monitor.watch.listing import band_json
from monitor.web.chart_beside import beside
from monitor.web.chart_marks import Mark, marks
from monitor.web.chart_together import LINES_AT_MOST, name_of, parted, shared
from monitor.web.look import Look
from monitor.web.place_cards import in_unit, limits_of
from monitor.web.place_page import HOUR_MS, charted, drawn, extremes
from monitor.web.scale import Scale, draw
from monitor.web.trails import NOTHING, Trail, with_breaks
from monitor.web.words import NOT_KNOWN

SPANS: Final[Mapping[str, tuple[str, int]]] = {
    "6h": (Phrase("6 hours"), 6 * HOUR_MS),
    "1d": (Phrase("1 day"), 24 * HOUR_MS),
    "1w": (Phrase("1 week"), 7 * 24 * HOUR_MS),
    "1m": (Phrase("1 month"), 30 * 24 * HOUR_MS),
    "1y": (Phrase("1 year"), 365 * 24 * HOUR_MS),
    "3y": (Phrase("3 years"), 3 * 8766 * HOUR_MS),
    "10y": (Phrase("10 years"), 10 * 8766 * HOUR_MS),
}
POINTS: Final = 500
POINTS_AT_MOST: Final = 5000
_STILL_POINTS: Final = 200
_TOLD: Final = 30


@dataclass(frozen=True, slots=True)
class Choice:
    """Something that can be chosen, and whether it is."""

    id: str
    word: str
    chosen: bool


@dataclass(frozen=True, slots=True)
class Happened:
    """One thing that happened meanwhile; ``alarm`` is the number of its page, if it has one."""

    text: str
    when: str
    alarm: int | None


@dataclass(frozen=True, slots=True)
class Chart:
    """A chart as the page sets it out; ``still`` is drawn where no script runs.

    ``spread`` are the lowest, highest and present figure of the span of each sensor with a line,
    ``others`` those of the sensors that share one.
    A value [°C] or [%] is shown as ``factor`` times it plus ``offset``, in ``unit``.
    """

    name: str
    ago: str
    quantity: str
    span: str
    span_ms: int
    spans: tuple[Choice, ...]
    quantities: tuple[Choice, ...]
    unit: str
    factor: float
    offset: float
    still: Scale
    spread: tuple[Phrase, ...]
    others: tuple[Phrase, ...]
    others_name: str
    happened: tuple[Happened, ...]
    most: int = LINES_AT_MOST


def chart(look: Look, place: Place, quantity: Quantity, span: str) -> Chart:
    """Return one place's chart."""
    word, span_ms = SPANS[span]
    here, unit = charted(look, place), look.farm.units
    names = {each: look.quantity(each, place.id) for each in here}
    share = quantity in (Quantity.HUMIDITY, Quantity.BATTERY)
    alone, others = parted(look, place, quantity, LINES_AT_MOST)
    return Chart(
        name=Phrase("{quantity}, {word}", quantity=look.quantity(quantity, place.id), word=word),
        ago=Phrase("{word} ago", word=word),
        quantity=quantity.value,
        span=span,
        span_ms=span_ms,
        spans=tuple(Choice(key, name, key == span) for key, (name, _) in SPANS.items()),
        quantities=tuple(Choice(e.value, name, e is quantity) for e, name in names.items()),
        unit="%" if share else f"°{unit.value}" if unit is not TemperatureUnit.KELVIN else "K",
        factor=1.0 if share else difference_from_celsius(1.0, unit),
        offset=0.0 if share else from_celsius(0.0, unit),
        still=_still(look, place, quantity, span_ms),
        spread=tuple(_spread(look, alone, quantity, span_ms)),
        others=tuple(_spread(look, others, quantity, span_ms)),
        others_name=name_of(others),
        happened=_happened(look, place, quantity, span_ms),
    )


def _happened(look: Look, place: Place, quantity: Quantity, span_ms: int) -> tuple[Happened, ...]:
    """Return what happened in the span, the latest first, as many as one reads."""
    found = marks(look, place, quantity, (look.now_ms - span_ms, look.now_ms + 1))
    return tuple(_told(look, each) for each in found[::-1][:_TOLD])


def _told(look: Look, mark: Mark) -> Happened:
    until = (
        Phrase("still")
        if mark.until_ms is None
        else Phrase("until {time}", time=look.time(mark.until_ms))
    )
    return Happened(
        mark.text, Phrase("{time}, {until}", time=look.time(mark.from_ms), until=until), mark.alarm
    )


def _still(look: Look, place: Place, quantity: Quantity, span_ms: int) -> Scale:
    span, unit = (look.now_ms - span_ms, look.now_ms), look.farm.units
    here = [each for each in look.status(place.id).channels if each.channel.quantity is quantity]
    limits = limits_of(place, quantity, here[0].lines if here else (), unit)
    sensors, _ = parted(look, place, quantity, LINES_AT_MOST)
    line = NOTHING
    if sensors:
        found = drawn(look, sensors[0], quantity, (span[0], span[1] + 1), _STILL_POINTS)
        line = in_unit(found, quantity, unit)
    return draw(limits, line, span)


def _spread(
    look: Look, sensors: Sequence[Sensor], quantity: Quantity, span_ms: int
) -> Iterator[Phrase]:
    """Yield what a span was at its lowest and highest, and is now, a sentence a sensor."""
    span = look.now_ms - span_ms, look.now_ms + 1
    places = dict.fromkeys(each.place for each in sensors)
    states = {each.channel: each for place in places for each in look.status(place).channels}
    for sensor in sensors:
        found = extremes(look, sensor, quantity, span)
        if found is None:
            continue
        told = states.get(Channel(sensor.id, quantity))
        now: str = NOT_KNOWN
        if told is not None and told.state is not PlaceState.UNKNOWN:
            now = look.figure(told.value, quantity)
        low, high = (look.figure(each, quantity) for each in found)
        text = Phrase("lowest {low}, highest {high}, now {now}", low=low, high=high, now=now)
        of = Phrase("{sensor}: {said}", sensor=sensor.name, said=text)
        yield of if len(sensors) > 1 else text


def series_json(  # noqa: PLR0917  # what is drawn of which place, and how finely
    look: Look, place: Place, quantity: Quantity, span: tuple[int, int], points: int,
    most: int | None = None,
) -> dict[str, Any]:  # fmt: skip
    """Return the lines of a quantity in a place: times in whole seconds UTC, [°C] or [%].

    Where nothing is known a null breaks the line; ``dropped`` counts the figures that were
    no finite number. Beside air stand what is kept there and the dew point; ``marks`` are
    what happened meanwhile. Of more sensors than ``most`` those in danger have a line each,
    and the others the last one, which names no sensor.
    """
    band = place.bands.get(quantity)
    limits = {"ideal": None, "harm": None} if band is None else band_json(band)
    lines: list[dict[str, Any]] = []
    alone, others = parted(look, place, quantity, most or len(look.farm.sensors))
    for sensor in alone:
        line = drawn(look, sensor, quantity, span, points)
        told = {"sensor": sensor.id, "name": sensor.name, **_line_json(line)}
        if quantity is Quantity.TEMPERATURE:
            told |= beside(place, line, _damp(look, sensor, span, points))
        lines.append(told)
    if others:
        line = shared(look, others, quantity, span, points)
        lines.append({"sensor": None, "name": said(name_of(others)), **_line_json(line)})
    return {
        "place": place.id, "quantity": quantity.value,
        "unit": "%" if quantity in (Quantity.HUMIDITY, Quantity.BATTERY) else "C",
        "since_ms": span[0], "until_ms": span[1], **limits, "lines": lines,
        "marks": [each.json() for each in marks(look, place, quantity, span)],
    }  # fmt: skip


def _damp(look: Look, sensor: Sensor, span: tuple[int, int], points: int) -> Trail:
    return drawn(look, sensor, Quantity.HUMIDITY, span, points)


def _line_json(line: Trail) -> dict[str, Any]:
    """Return a line whose unknown stretches are nulls, one a break."""
    at_s, (low, high, mean) = with_breaks(line, line.low, line.high, line.mean)
    return {"at": at_s, "low": low, "high": high, "mean": mean, "dropped": line.dropped}
