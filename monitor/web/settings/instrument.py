"""A sensor's own page: how it is, how it was checked, and the form that moves or ends it."""

from dataclasses import dataclass
from datetime import datetime
from typing import Final

from fastapi import APIRouter, Response
from fastapi.responses import HTMLResponse

from monitor.alarms.saying import say_span
from monitor.batches import open_batches
from monitor.errors import UnknownNameError
from monitor.farm import Sensor
from monitor.farm.editing import remove_sensor, set_sensor
from monitor.model import Quantity, Role
from monitor.phrase import Phrase, together
from monitor.units import TemperatureUnit, difference_from_celsius
from monitor.web.look import Look
from monitor.web.place_page import drawn
from monitor.web.rendering import Here, Pages
from monitor.web.sensor_lines import sense
from monitor.web.settings.changing import change, made, shown
from monitor.web.settings.sensor_form import FACTS, WARM, field_of, read_fact
from monitor.web.settings.typed import Sent, Typed
from monitor.web.words import QUANTITIES

_DAY_MS: Final = 86_400_000
_BATTERY_DAYS: Final = (0, 7, 30, 90, 180, 365)

router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)


@dataclass(frozen=True, slots=True)
class Check:
    """A correction in force from a day on."""

    what: str
    since: str
    offset: str
    note: str


def known_sensor(look: Look, sensor_id: str) -> Sensor:
    """Return a sensor of the farm.

    Raises
    ------
    UnknownNameError
        If there is none of this id.
    """
    if sensor_id not in look.farm.sensors:
        raise UnknownNameError(Phrase("There is no such sensor on this farm now."))
    return look.farm.sensors[sensor_id]


def say_offset(offset: float, quantity: Quantity, unit: TemperatureUnit) -> str:
    """Return ``"+0.4 °F"`` or ``"-2 %"`` from [K] or [%]."""
    sign = "-" if offset < 0 else "+"
    if quantity not in WARM:
        return Phrase("{sign}{number:g} %", sign=sign, number=abs(offset))
    return Phrase(
        "{sign}{number:.1f} °{value}",
        sign=sign,
        number=abs(difference_from_celsius(offset, unit)),
        value=unit.value,
    )


def checks(look: Look, sensor: Sensor) -> list[Check]:
    """Return when a sensor was checked and what was found, the newest first."""
    dated = [(each, spec.quantity) for spec in sensor.channels for each in spec.calibrations]
    return [
        Check(
            QUANTITIES[quantity],
            f"{datetime.fromtimestamp(each.since_ms / 1000, look.farm.zone):%-d %B %Y}",
            say_offset(each.offset, quantity, look.farm.units)
            + (Phrase(", times {slope:g}", slope=each.slope) if each.slope != 1.0 else ""),
            each.note,
        )
        for each, quantity in sorted(dated, key=lambda one: -one[0].since_ms)
    ]


def battery(look: Look, sensor: Sensor) -> list[str]:
    """Return how its battery stood at some days, as far as it is known."""
    if all(each.quantity is not Quantity.BATTERY for each in sensor.channels):
        return []
    span = (look.now_ms - (_BATTERY_DAYS[-1] + 2) * _DAY_MS, look.now_ms + 1)
    line = drawn(look, sensor, Quantity.BATTERY, span, 400)
    told: list[str] = []
    for days in _BATTERY_DAYS:
        at_ms = look.now_ms - days * _DAY_MS
        near = (line.at_ms <= at_ms) & (line.at_ms > at_ms - 2 * _DAY_MS)
        if near.any():
            value = look.figure(float(line.low[near][-1]), Quantity.BATTERY)
            told.append(
                Phrase(
                    "{value} {it}",
                    value=value,
                    it=Phrase("{days} days ago", days=days) if days else "now",
                )
            )
    return told


@router.get("/sensors/{sensor_id}")
def one(pages: Here, sensor_id: str, *, done: bool = False) -> Response:
    """Show one sensor."""
    return _page(pages, Typed(), sensor_id, done=done)


@router.post("/sensors/{sensor_id}")
def edit(pages: Here, sensor_id: str, typed: Sent) -> Response:
    """Move, rename or end a sensor."""
    look = pages.look()
    sensor = known_sensor(look, sensor_id)
    if typed.form == "out":
        if _ended(pages, look, sensor, typed):
            return made("/sensors")
    elif _edited(pages, look, sensor, typed):
        return made(f"/sensors/{sensor.id}")
    return _page(pages, typed, sensor_id)


def _edited(pages: Pages, look: Look, sensor: Sensor, typed: Typed) -> bool:
    values = {
        key: read_fact(typed, look.farm, key) or None
        for key in FACTS if typed.touched(field_of(key))
    }  # fmt: skip
    if not values:
        typed.refuse("", Phrase("nothing is different from what it was"))
    what = together(
        (Phrase("how often it speaks") if key == "interval" else key for key in values), ", "
    )
    return change(
        pages,
        typed,
        [set_sensor(sensor.id, values)],
        Phrase("{name}: {what} changed", name=sensor.name, what=what),
    )


def _ended(pages: Pages, look: Look, sensor: Sensor, typed: Typed) -> bool:
    others = [
        each
        for each in look.farm.sensors.values()
        if each.place == sensor.place and each.id != sensor.id
    ]
    if not others:
        inside = sum(each.stays[-1].place == sensor.place for each in open_batches(look.book))
        kept = (
            Phrase(", and by your records {inside} of your batches stand there", inside=inside)
            if inside
            else ""
        )
        typed.ask(
            Phrase(
                "{name} is the only sensor of {place}{kept}: without it nobody is told "
                "when it is too warm or too cold there.",
                name=sensor.name,
                place=look.place(sensor.place),
                kept=kept,
            )
        )
    why = Phrase("{name} taken out: {why}", name=sensor.name, why=typed.why)
    return change(pages, typed, [remove_sensor(sensor.id)], why)


def _page(pages: Pages, typed: Typed, sensor_id: str, *, done: bool = False) -> Response:
    look = pages.look()
    sensor = known_sensor(look, sensor_id)
    return shown(
        pages, look, "sensor.html", "/sensors", typed, done=done, sensor=sensor,
        sense=sense(look, sensor, pages.reader().refusal_counts()), checks=checks(look, sensor),
        battery=battery(look, sensor), every=say_span(sensor.interval_s),
        gateways=sorted({e.gateway for e in look.farm.sensors.values() if e.gateway}),
        warm=any(each.quantity in WARM for each in sensor.channels),
        places=[(each.id, each.name) for each in look.farm.places.values()],
        may_change=may_change(pages),
    )  # fmt: skip


def may_change(pages: Pages) -> bool:
    """Return whether whoever looks may change the farm's files."""
    return pages.visitor.may(Role.CHANGE)
