"""The sensors page: what each tells, when it was last heard, and what nobody claims."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final, NamedTuple

from monitor.alarms.saying import say_span
from monitor.farm import Sensor
from monitor.model import Channel, PlaceState, Refusal
from monitor.phrase import Phrase
from monitor.store import RefusalCount
from monitor.watch import channel_status, sensor_status
from monitor.web.doubt_lines import doubt_lines
from monitor.web.look import Look
from monitor.web.words import say_refusal

_SAMPLE: Final = 120
_FEW: Final = 8
"""Sensors that one reads in a list without looking for the bad one."""
_MANY: Final = 20
"""Sensors that one still finds on one page by their names."""


@dataclass(frozen=True, slots=True)
class Sense:
    """One sensor, ready to be written down; ``state`` is heard, waiting or silent."""

    id: str
    name: str
    place: str
    place_id: str
    state: str
    heard: str
    values: tuple[str, ...]
    hangs: str
    topic: str
    refused: tuple[str, ...]
    doubts: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Line:
    """A line with what it is about, when, and a sample of what came."""

    name: str
    line: str
    sample: str


def senses(look: Look, counts: list[RefusalCount]) -> list[Sense]:
    """Return every sensor, silent ones first."""
    order = ("silent", "waiting", "heard")
    found = [sense(look, each, counts) for each in look.farm.sensors.values()]
    return sorted(found, key=lambda each: order.index(each.state))


class Hung(NamedTuple):
    """The sensors of a place: those that one should see to, and the well ones where many."""

    shown: list[Sense]
    well: list[Sense]


def hung(look: Look, place: str) -> Hung:
    """Return the sensors of a place; of many, those that are well by themselves."""
    found = [sense(look, each) for each in look.farm.sensors.values() if each.place == place]
    if len(found) <= _FEW:
        return Hung(found, [])
    sorted_out, unknown = Hung([], []), _unknown(look, [place])
    for each in found:
        (sorted_out.well if _is_well(each, unknown) else sorted_out.shown).append(each)
    return sorted_out


class Listed(NamedTuple):
    """The sensors of the farm: those that stand open, and of many the well ones by place."""

    shown: list[Sense]
    well: dict[str, list[Sense]]


def listed(look: Look, counts: list[RefusalCount]) -> Listed:
    """Return every sensor, those that one should see to first; of many the well ones by place."""
    found = senses(look, counts)
    if len(found) <= _MANY:
        return Listed(found, {})
    told = Listed([], {})
    unknown = _unknown(look, look.farm.places)
    for each in found:
        if _is_well(each, unknown) and not each.refused:
            told.well.setdefault(each.place, []).append(each)
        else:
            told.shown.append(each)
    return told


def _unknown(look: Look, places: Iterable[str]) -> set[str]:
    """Return the sensors of some places that tell something that is not known now."""
    channels = [channel for place in places for channel in look.status(place).channels]
    return {each.channel.sensor for each in channels if each.state is PlaceState.UNKNOWN}


def _is_well(sensor: Sense, unknown: set[str]) -> bool:
    return sensor.state == "heard" and not sensor.doubts and sensor.id not in unknown


def sense(look: Look, sensor: Sensor, counts: list[RefusalCount] | None = None) -> Sense:
    """Return one sensor."""
    state, heard = _heard(look, sensor)
    return Sense(
        id=sensor.id,
        name=sensor.name,
        place=look.place(sensor.place),
        place_id=sensor.place,
        state=state,
        heard=heard,
        values=_values(look, sensor),
        hangs=sensor.hangs,
        topic=sensor.topic,
        doubts=doubt_lines(look, sensor),
        refused=tuple(
            Phrase(
                "{count:,} refused: {refusal}, the last {ago}",
                count=each.count,
                refusal=say_refusal(each.reason),
                ago=look.ago(each.last_ms),
            )
            for each in counts or ()
            if each.sensor == sensor.id
        ),
    )


def _heard(look: Look, sensor: Sensor) -> tuple[str, str]:
    every = Phrase("speaks every {span}", span=say_span(sensor.interval_s))
    if sensor.id not in look.watch.plan.sensors:
        return "waiting", Phrase("never heard yet; {every}", every=every)
    status = sensor_status(look.watch, sensor.id, look.now_ms)
    if status.last_heard_ms is None:
        state = "silent" if status.silent else "waiting"
        return state, Phrase("never heard yet; {every}", every=every)
    if status.silent:
        return "silent", Phrase(
            "silent {lasting}; {every}", lasting=look.lasting(status.last_heard_ms), every=every
        )
    return "heard", Phrase("heard {ago}; {every}", ago=look.ago(status.last_heard_ms), every=every)


def _values(look: Look, sensor: Sensor) -> tuple[str, ...]:
    told = []
    for spec in sensor.channels:
        channel = Channel(sensor.id, spec.quantity)
        if channel in look.watch.plan.channels:
            status = channel_status(look.watch, channel, look.now_ms)
            name = look.quantity(spec.quantity, sensor.place)
            doubt = "" if status.trusted or status.value is None else Phrase(" (not sure)")
            told.append(
                Phrase(
                    "{name} {figure}{doubt}",
                    name=name,
                    figure=look.figure(status.value, spec.quantity),
                    doubt=doubt,
                )
            )
    return tuple(told)


def refused(look: Look, refusals: list[Refusal]) -> list[Line]:
    """Return what could not be used, the latest first."""
    return [
        Line(
            each.topic,
            Phrase(
                "{refusal}: {detail}, {time}",
                refusal=say_refusal(each.reason),
                detail=each.detail,
                time=look.time(each.received_ms),
            ),
            sample(each.payload),
        )
        for each in refusals
    ]


def sample(payload: bytes) -> str:
    """Return the beginning of what came, as text."""
    text = payload[:_SAMPLE].decode("utf-8", "replace")
    return "".join(each if each.isprintable() else "·" for each in text)
