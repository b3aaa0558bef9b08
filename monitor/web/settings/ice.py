"""Checking a sensor in ice water: the steps, the last readings, and the correction they propose."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Final

import numpy as np
from fastapi import APIRouter, Response
from fastapi.responses import HTMLResponse
from numpy.typing import NDArray

from monitor.alarms.saying import say_span
from monitor.days import MONTH_NAMES
from monitor.farm import ChannelSpec, Farm, Sensor
from monitor.farm.editing import add_calibration
from monitor.farm.forms.kinds import parse_difference
from monitor.model import Channel, Quantity
from monitor.phrase import Phrase
from monitor.science.ice_point import IcePoint, ice_point
from monitor.units import TemperatureUnit, difference_from_celsius
from monitor.web.look import Look
from monitor.web.rendering import Here, Pages
from monitor.web.settings.changing import change, made, shown
from monitor.web.settings.instrument import checks, known_sensor
from monitor.web.settings.sensor_form import WARM
from monitor.web.settings.typed import Sent, Typed
from monitor.web.words import QUANTITIES, say_figure

MUCH_K: Final = 2.0
"""A correction beyond this is asked for twice (cautious setting of our own). [K]"""
NOT_ICE_K: Final = 5.0
"""So far from freezing the probe is in no ice water (cautious setting of our own). [K]"""
YEAR_DAYS: Final = 365
"""A check is due again: every one to three years by the CDC's toolkit for vaccine storage."""
_READINGS: Final = 200
_SHOWN: Final = 6

router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)


@dataclass(frozen=True, slots=True)
class Bath:
    """One quantity in the ice water, ready to be written down."""

    form: str
    name: str
    readings: tuple[tuple[str, str], ...]
    standing: str
    steady: bool
    proposed: str


def due(farm: Farm, sensor: Sensor, now_ms: int) -> str:
    """Return that a sensor was never checked, or long ago; ``""`` where nothing is to be said."""
    warm = [each for each in sensor.channels if each.quantity in WARM]
    if not warm:
        return ""
    dated = [each.calibrations[-1].since_ms for each in warm if each.calibrations]
    if not dated:
        return Phrase("Not checked in ice water yet")
    last = datetime.fromtimestamp(max(dated) / 1000, farm.zone).date()
    days = (_today(farm, now_ms) - last).days
    if days <= YEAR_DAYS:
        return ""
    month = MONTH_NAMES[last.month - 1]
    return Phrase("Last checked {month} {year}: check it again", month=month, year=last.year)


def _today(farm: Farm, now_ms: int) -> date:
    return datetime.fromtimestamp(now_ms / 1000, farm.zone).date()


@router.get("/sensors/{sensor_id}/ice")
def one(pages: Here, sensor_id: str) -> Response:
    """Show the steps, and how the sensor stands now."""
    return _page(pages, Typed(), sensor_id)


@router.post("/sensors/{sensor_id}/ice")
def correct(pages: Here, sensor_id: str, typed: Sent) -> Response:
    """Write down a check, with the correction that follows from it."""
    look = pages.look()
    sensor = known_sensor(look, sensor_id)
    spec = next((each for each in sensor.channels if each.quantity.value == typed.form), None)
    if spec is None or spec.quantity not in WARM:
        typed.refuse("", Phrase("that sensor measures no temperature"))
        return _page(pages, typed, sensor_id)
    unit = look.farm.units
    offset_k = typed.read("offset", lambda text: parse_difference(_written(text, unit)))
    if offset_k is None:
        typed.refuse(
            "offset", Phrase("say by how much its figures are to be corrected, as -0.4 °F")
        )
    else:
        _consider(typed, offset_k, _now(look, sensor, spec), unit)
    slope = spec.calibrations[-1].slope if spec.calibrations else 1.0
    written = add_calibration(
        sensor.id,
        spec.quantity,
        _today(look.farm, look.now_ms),
        _written(typed.text("offset"), unit),
        Phrase("ice water, by {by}", by=typed.by),
        slope=slope,
    )
    if change(pages, typed, [written], Phrase("{name} checked in ice water", name=sensor.name)):
        return made(f"/sensors/{sensor.id}")
    return _page(pages, typed, sensor_id)


def _written(text: str, unit: TemperatureUnit) -> str:
    """Return a difference as the file has it; a bare figure is in the farm's unit."""
    plain = text.replace("°", " ").replace(",", ".").replace("\u2212", "-").strip()
    return (
        plain if plain[-1:].isalpha() else Phrase("{plain} {value}", plain=plain, value=unit.value)
    )


def _consider(typed: Typed, offset_k: float, now: IcePoint | None, unit: TemperatureUnit) -> None:
    """Refuse what no ice water says, and ask for a second word where it is much or not steady."""
    far = Phrase(
        "{difference_from_celsius:.1f} °{value}",
        difference_from_celsius=difference_from_celsius(abs(offset_k), unit),
        value=unit.value,
    )
    if abs(offset_k) > NOT_ICE_K:
        typed.refuse(
            "offset",
            Phrase(
                "{far} is too far: either the probe is in no ice water, or it is broken "
                "and to be replaced",
                far=far,
            ),
        )
    elif abs(offset_k) > MUCH_K:
        typed.ask(
            Phrase(
                "{far} is much for a sound sensor: it may want a new battery, or be "
                "replaced. Was it in the middle of crushed ice and water, and for long "
                "enough?",
                far=far,
            )
        )
    if now is None or not now.steady:
        typed.ask(Phrase("Its readings are not steady yet: wait, stir, and look again."))


def _now(look: Look, sensor: Sensor, spec: ChannelSpec) -> IcePoint | None:
    at_ms, read_c = _read(look, sensor, spec)
    return ice_point(at_ms, read_c, look.now_ms, sensor.interval_s)


def _read(
    look: Look, sensor: Sensor, spec: ChannelSpec
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Return the last readings, corrected by the slope in force alone. [ms], [°C]"""
    channel = Channel(sensor.id, spec.quantity)
    series = look.desk.reader().series_before(channel, look.now_ms + 1, _READINGS)
    slope = spec.calibrations[-1].slope if spec.calibrations else 1.0
    return series.at_ms, series.raw * slope


def _bath(look: Look, sensor: Sensor, spec: ChannelSpec) -> Bath:
    at_ms, read_c = _read(look, sensor, spec)
    now, unit = ice_point(at_ms, read_c, look.now_ms, sensor.interval_s), look.farm.units
    readings = tuple(
        (look.ago(int(at)), say_figure(float(value), spec.quantity, unit))
        for at, value in zip(at_ms[: -_SHOWN - 1 : -1], read_c[: -_SHOWN - 1 : -1], strict=True)
    )
    proposed = ""
    if now is not None and now.steady and abs(now.median_c) <= NOT_ICE_K:
        proposed = Phrase(
            "{difference_from_celsius:+.1f} °{value}",
            difference_from_celsius=difference_from_celsius(-now.median_c, unit) + 0.0,
            value=unit.value,
        )
    return Bath(
        spec.quantity.value, QUANTITIES[spec.quantity], readings, _standing(now, unit),
        now is not None and now.steady, proposed,
    )  # fmt: skip


def _standing(now: IcePoint | None, unit: TemperatureUnit) -> str:
    if now is None or not now.fresh:
        return Phrase("Nothing was heard in the last minutes.")
    middle = say_figure(now.median_c, Quantity.TEMPERATURE, unit)
    apart = Phrase(
        "{difference_from_celsius:.1f} °{value}",
        difference_from_celsius=difference_from_celsius(now.spread_k, unit),
        value=unit.value,
    )
    told = Phrase(
        "{n} readings in {span}, {apart} apart, in the middle {middle}.",
        n=now.n,
        span=say_span(now.over_s),
        apart=apart,
        middle=middle,
    )
    if abs(now.median_c) > NOT_ICE_K:
        return Phrase("{told} That is no ice water.", told=told)
    return (
        Phrase("Steady: {told}", told=told)
        if now.steady
        else Phrase("Not steady yet: {told}", told=told)
    )


def _page(pages: Pages, typed: Typed, sensor_id: str) -> Response:
    look = pages.look()
    sensor = known_sensor(look, sensor_id)
    return shown(
        pages, look, "ice.html", "/sensors", typed, sensor=sensor, checks=checks(look, sensor),
        place=look.place(sensor.place),
        freezing=say_figure(0.0, Quantity.TEMPERATURE, look.farm.units),
        baths=[_bath(look, sensor, each) for each in sensor.channels if each.quantity in WARM],
    )  # fmt: skip
