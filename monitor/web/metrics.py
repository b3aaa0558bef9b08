"""Figures for whoever collects them, in the OpenMetrics text form.

Base units: [°C], ratios 0 to 1, [s]. A value that is stale or not sure is left out; when
its sensor was last heard stays.

References
----------
OpenMetrics 1.0: metric families, suffixes, escaping, and the closing ``# EOF``.
"""

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from math import isfinite
from typing import Final

from fastapi import APIRouter, Response

from monitor.model import PlaceState, Priority, Quantity
from monitor.watch import sensor_status
from monitor.web.look import Look
from monitor.web.rendering import Here

MEDIA_TYPE: Final = "application/openmetrics-text; version=1.0.0; charset=utf-8"
_SHARES: Final = (Quantity.HUMIDITY, Quantity.BATTERY)
_FAMILIES: Final[Mapping[Quantity, tuple[str, str, str]]] = {
    Quantity.TEMPERATURE: ("temperature_celsius", "celsius", "Air or water temperature."),
    Quantity.SOIL_TEMPERATURE: ("soil_temperature_celsius", "celsius", "Soil temperature."),
    Quantity.HUMIDITY: ("humidity_ratio", "ratio", "Relative humidity."),
    Quantity.BATTERY: ("battery_ratio", "ratio", "Charge left."),
    Quantity.DOOR: ("door_open", "", "1 while the door is open."),
    Quantity.MAINS: ("mains_present", "", "1 while there is mains power."),
}
Labels = Mapping[str, str]
router = APIRouter()


@dataclass(frozen=True, slots=True)
class Family:
    """One metric family with its samples; a counter's samples end in ``_total``."""

    name: str
    kind: str
    unit: str
    about: str
    samples: tuple[tuple[Labels, float], ...]

    def lines(self) -> Iterator[str]:
        """Yield the family as text."""
        name = f"cormwatch_{self.name}"
        yield f"# TYPE {name} {self.kind}"
        if self.unit:
            yield f"# UNIT {name} {self.unit}"
        yield f"# HELP {name} {_escaped(self.about)}"
        suffix = "_total" if self.kind == "counter" else ""
        for labels, value in self.samples:
            yield f"{name}{suffix}{_labelled(labels)} {value!r}"


def _escaped(text: str) -> str:
    return text.replace("\\", r"\\").replace('"', r"\"").replace("\n", r"\n")


def _labelled(labels: Labels) -> str:
    pairs = ",".join(f'{name}="{_escaped(value)}"' for name, value in labels.items())
    return f"{{{pairs}}}" if pairs else ""


def openmetrics(families: Iterable[Family]) -> str:
    """Return the whole text."""
    lines = [line for family in families for line in family.lines()]
    return "\n".join([*lines, "# EOF", ""])


def families(look: Look) -> Iterator[Family]:
    """Yield what there is to tell."""
    health = look.desk.health()
    yield Family(
        "ready", "gauge", "", "1 while store and broker serve.", (({}, float(health.ready)),)
    )
    for name, count in health.counts.items():
        plain = re.sub(r"[^a-z0-9_]+", "_", name.lower())
        yield Family(
            plain, "counter", "", f"{name.capitalize()} since the start.", (({}, float(count)),)
        )
    if health.mirror:
        about = "Age of the oldest reading that waits to be copied elsewhere."
        yield Family("mirror_behind_seconds", "gauge", "seconds", about, (({}, health.behind_s),))
    if health.disk_free is not None:
        about = "What is free on the disk of the readings."
        yield Family("disk_free_bytes", "gauge", "bytes", about, (({}, float(health.disk_free)),))
    if health.disk_days is not None:
        about = "How long it lasts at the rate so far."
        seconds = health.disk_days * 86_400
        yield Family("disk_lasts_seconds", "gauge", "seconds", about, (({}, seconds),))
    yield from _values(look)
    yield _heard(look)
    yield _states(look)
    yield _alarms(look)


def _values(look: Look) -> Iterator[Family]:
    found: dict[Quantity, list[tuple[Labels, float]]] = {}
    for place in look.farm.places:
        for each in look.status(place).channels:
            quantity = each.channel.quantity
            if each.value is None or not isfinite(each.value) or not each.trusted:
                continue
            if each.state is not PlaceState.UNKNOWN:
                value = each.value / 100 if quantity in _SHARES else each.value
                labels = {"place": place, "sensor": each.channel.sensor}
                found.setdefault(quantity, []).append((labels, value))
    for quantity, (name, unit, about) in _FAMILIES.items():
        if quantity in found:
            yield Family(name, "gauge", unit, about, tuple(found[quantity]))


def _heard(look: Look) -> Family:
    times = []
    for sensor in look.watch.plan.sensors.values():
        heard_ms = sensor_status(look.watch, sensor.id, look.now_ms).last_heard_ms
        if heard_ms is not None:
            times.append(({"place": sensor.place, "sensor": sensor.id}, heard_ms / 1000))
    about = "When a sensor was last heard, seconds since 1970."
    return Family("sensor_last_heard_timestamp_seconds", "gauge", "seconds", about, tuple(times))


def _states(look: Look) -> Family:
    samples = tuple(
        ({"place": place, "cormwatch_place_state": state.value}, float(now is state))
        for place in look.farm.places
        for now in [look.status(place).state]
        for state in PlaceState
    )
    return Family("place_state", "stateset", "", "How a place stands.", samples)


def _alarms(look: Look) -> Family:
    found = Counter(each.priority for each in look.desk.ledger.alarms(open_only=True))
    samples = tuple(({"priority": each.value}, float(found[each])) for each in Priority)
    return Family("open_alarms", "gauge", "", "Alarms that are not over and seen.", samples)


@router.get("/metrics", tags=["health"], response_class=Response)
def metrics(pages: Here) -> Response:
    """Tell the monitor's figures in the OpenMetrics text form."""
    return Response(openmetrics(families(pages.look())), media_type=MEDIA_TYPE)
