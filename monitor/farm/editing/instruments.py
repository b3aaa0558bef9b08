"""A sensor that was found becomes one of the farm's; a check in ice water is written down."""

from collections.abc import Container, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

from monitor.errors import UnknownNameError
from monitor.farm.editing.documents import Table, append, entries, entry, put, remove
from monitor.farm.editing.saving import Change
from monitor.farm.naming import slug
from monitor.farm.sheets import FARM
from monitor.model import Quantity

_ID_AT_MOST: Final = 56  # of 64: a number may follow


@dataclass(frozen=True, slots=True)
class NewChannel:
    """One quantity, where it stands in the message (None: a bare number), and its unit."""

    quantity: Quantity
    path: str | None
    unit: str


@dataclass(frozen=True, slots=True)
class NewSensor:
    """A sensor to be added; ``interval`` is written as in the file: ``"60 s"``."""

    id: str
    place: str
    topic: str
    interval: str
    channels: Sequence[NewChannel]
    name: str = ""
    hangs: str = ""
    gateway: str = ""


def free_id(taken: Container[str], text: str, otherwise: str) -> str:
    """Return an id that nothing has yet, from a name or a topic."""
    wanted = slug(text)[:_ID_AT_MOST].strip("-") or otherwise
    free, number = wanted, 2
    while free in taken:
        free, number = f"{wanted}-{number}", number + 1
    return free


def add_sensor(new: NewSensor) -> Change:
    """Return the change that declares one more sensor."""

    def apply(document: Table) -> None:
        head = {
            "id": new.id, "name": new.name, "place": new.place, "topic": new.topic,
            "interval": new.interval, "hangs": new.hangs, "gateway": new.gateway,
        }  # fmt: skip
        sensor = append(document, "sensor", {key: value for key, value in head.items() if value})
        for each in new.channels:
            fields = {"quantity": each.quantity.value, "path": each.path, "unit": each.unit}
            append(sensor, "channel", {key: value for key, value in fields.items() if value})

    return Change(FARM, apply)


def set_sensor(id_: str, values: Mapping[str, str | None]) -> Change:
    """Return the change of a sensor's ``name``, ``place``, ``interval``, ``hangs``, ``gateway``.

    None takes one out.
    """

    def apply(document: Table) -> None:
        put(entry(document, "sensor", id_), values)

    return Change(FARM, apply)


def remove_sensor(id_: str) -> Change:
    """Return the change that takes a sensor out of the farm; what it has told is kept."""

    def apply(document: Table) -> None:
        remove(document, "sensor", id_)

    return Change(FARM, apply)


def add_calibration(
    sensor: str, quantity: Quantity, since: date, offset: str, note: str, *, slope: float = 1.0
) -> Change:
    """Return the change that corrects a channel from a day on, by an offset as written.

    A ``slope`` that was in force goes on.

    An earlier correction of the same day is replaced.

    Raises
    ------
    UnknownNameError
        As it is made, if the sensor has no such channel.
    """

    def apply(document: Table) -> None:
        for channel in entries(entry(document, "sensor", sensor), "channel"):
            if channel.get("quantity") == quantity.value:
                _correct(channel, since, {"offset": offset, "slope": slope, "note": note})
                return
        raise UnknownNameError(f"the sensor {sensor} measures no {quantity.value}")

    return Change(FARM, apply)


def _correct(channel: Table, since: date, values: Mapping[str, object]) -> None:
    plain = {key: None if key == "slope" and each == 1.0 else each for key, each in values.items()}
    for each in entries(channel, "calibration"):
        if each.get("since") == since:
            put(each, plain)
            return
    given = {key: each for key, each in plain.items() if each is not None}
    append(channel, "calibration", {"since": since, **given})
