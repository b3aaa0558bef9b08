"""A small made-up farm, and readings for it."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
from pydantic import SecretStr

from monitor.farm import (
    Broker,
    ChannelSpec,
    Crop,
    Farm,
    NoticeRules,
    Person,
    Place,
    Sensor,
    Web,
)
from monitor.model import (
    Alarm,
    AlarmState,
    Band,
    Batch,
    Channel,
    Flag,
    Grade,
    Harm,
    Ideal,
    PlaceKind,
    Quantity,
    Stage,
    Stay,
    Transition,
)
from monitor.units import TemperatureUnit
from monitor.watch import Samples, Stepped, WatchState, step

MINUTE_MS = 60_000
HOUR_MS = 3_600_000
START_MS = 1_773_000_000_000  # a night in March 2026
NORTH = Channel("north", Quantity.TEMPERATURE)
SOUTH = Channel("south", Quantity.TEMPERATURE)
DAMP = Channel("north", Quantity.HUMIDITY)


def band(  # noqa: PLR0917  # limits in their order
    low: float | None = 0.5,
    high: float | None = 5.0,
    tolerated_s: float = 1800.0,
    ideal: tuple[float | None, float | None] | None = (1.0, 4.0),
    tolerated_low_s: float | None = None,
    cumulative_s: float | None = None,
) -> Band:
    """Return a band with limits in [°C] or [%]."""
    low_s = tolerated_s if tolerated_low_s is None else tolerated_low_s
    return Band(
        ideal=None if ideal is None else Ideal(*ideal, Grade.FARM, "a test"),
        harm=Harm(low, high, low_s, tolerated_s, Grade.FARM, "a test", cumulative_s),
    )


def cooler(**more: Any) -> Place:  # noqa: ANN401  # any field
    """Return a walk-in cooler."""
    bands = {
        Quantity.TEMPERATURE: band(),
        Quantity.HUMIDITY: band(80.0, None, 3600.0, (90.0, 95.0)),
    }
    fields: dict[str, Any] = {
        "id": "cooler", "name": "Walk-in cooler", "kind": PlaceKind.COOLER, "bands": bands,
        "first_look": "door, breaker, ice on the coil",
    }  # fmt: skip
    return Place(**(fields | more))


def sensor(name: str, quantities: Sequence[Quantity], place: str = "cooler") -> Sensor:
    """Return a sensor that reports every minute and may be silent for three."""
    specs = tuple(
        ChannelSpec(each, path=None, unit="%" if each is Quantity.HUMIDITY else "C")
        for each in quantities
    )
    return Sensor(name, name.capitalize(), place, f"farm/{name}", 60.0, 180.0, 180.0, specs)


RANUNCULUS = Crop(
    "ranunculus",
    "Ranunculus",
    {
        "soak": Stage(
            "soak", "Soak", (PlaceKind.SOAK_BUCKET,), longest_s=4 * 3600.0,
            tell_before_s=3600.0, late_harms=True,
        ),
        "pre_sprout": Stage(
            "pre_sprout", "Pre-sprout", (PlaceKind.SPROUTING_ROOM,), longest_s=14 * 86400.0,
            tell_before_s=86400.0,
        ),
        "cut_stems": Stage(
            "cut_stems", "Cut stems", (PlaceKind.COOLER,),
            bands={Quantity.TEMPERATURE: band(None, 8.0, 600.0, None, cumulative_s=7200.0)},
        ),
    },
    {"soak": "corms", "pre_sprout": "corms", "cut_stems": "stems"},
)  # fmt: skip


def farm(
    places: Iterable[Place] | None = None,
    sensors: Iterable[Sensor] | None = None,
    **more: Any,  # noqa: ANN401  # any field
) -> Farm:
    """Return a farm with a cooler, a bucket, a room and two sensors in the cooler."""
    rooms = [
        *(places or [cooler()]),
        Place("bucket", "Soak bucket", PlaceKind.SOAK_BUCKET),
        Place("room", "Sprouting room", PlaceKind.SPROUTING_ROOM),
    ]
    both = (Quantity.TEMPERATURE, Quantity.HUMIDITY)
    probes = sensors or [sensor("north", both), sensor("south", (Quantity.TEMPERATURE,))]
    fields: dict[str, Any] = {
        "name": "Low Meadow", "zone": ZoneInfo("America/New_York"), "latitude": 42.0,
        "longitude": -73.0, "units": TemperatureUnit.FAHRENHEIT, "broker": Broker(),
        "web": Web(), "places": {each.id: each for each in rooms},
        "sensors": {each.id: each for each in probes}, "crops": {"ranunculus": RANUNCULUS},
        "people": {
            "ida": Person("ida", "Ida", (SecretStr("json://one"), SecretStr("json://two"))),
            "max": Person("max", "Max", (SecretStr("json://three"),)),
        },
        "notices": NoticeRules(), "directory": Path(),
    }  # fmt: skip
    return Farm(**(fields | more))


def batch(number: int, stage: str, place: str, since_ms: int = START_MS, **more: Any) -> Batch:  # noqa: ANN401  # any field
    """Return an open batch."""
    fields: dict[str, Any] = {
        "id": number, "crop": "ranunculus", "cultivar": "Dawn Apricot", "supplier": None,
        "lot": None, "grade": None, "count": 320, "rough": True, "counted_at_ms": None,
        "received": None, "rotten": None, "unit": "stems",
        "stays": (Stay(place, stage, since_ms, None),), "ended_ms": None, "held_for": None,
        "parents": (),
    }  # fmt: skip
    return Batch(**(fields | more))


def pack(
    channel: Channel,
    minutes: Sequence[float],
    values: Sequence[float],
    flag: Flag | Sequence[int] = Flag.DEVICE_TIME,
    received_ms: int | None = None,
) -> Samples:
    """Return readings at minutes after the start."""
    at_ms = START_MS + np.round(np.asarray(minutes, dtype=float) * MINUTE_MS).astype(np.int64)
    flags = np.full(len(at_ms), int(flag)) if isinstance(flag, Flag) else np.asarray(flag)
    received_ms = int(at_ms.max()) if received_ms is None else received_ms
    return Samples(channel, at_ms, np.asarray(values, dtype=float), flags, received_ms)


def each(channel: Channel, minutes: Sequence[float], values: Sequence[float]) -> Iterator[Samples]:
    """Yield readings one by one."""
    for minute, value in zip(minutes, values, strict=True):
        yield pack(channel, [minute], [value])


def run(state: WatchState, events: Iterable[Any]) -> tuple[WatchState, list[Transition]]:
    """Return the state after events, and all they told."""
    told: list[Transition] = []
    for event in events:
        stepped: Stepped = step(state, event)
        state = stepped.state
        told += stepped.transitions
    return state, told


def alarm_of(transition: Transition, number: int = 1) -> Alarm:
    """Return the ledger's row of a transition that was raised."""
    return Alarm(
        id=number, key=transition.key, priority=transition.priority,
        state=AlarmState.UNACKNOWLEDGED, place=transition.place, sensor=transition.sensor,
        quantity=transition.quantity, batches=transition.batches, began_ms=transition.began_ms,
        raised_ms=transition.at_ms, returned_ms=None, acknowledged_ms=None,
        acknowledged_by=None, value=transition.value, limit=transition.limit,
        peak=transition.peak, title="", text="", facts=transition.facts,
    )  # fmt: skip


def judged(state: WatchState) -> Mapping[Channel, Any]:
    """Return all that judging knows of each channel, in a form that compares.

    When a pack was received is left out: it is a matter of packs.
    """
    return {
        channel: (
            track.standings, track.shown, track.newest, track.first_ms, track.known_ms,
            track.unit_suspect, track.quiet, track.tail_ms.tolist(),
            track.tail_value.tolist(),
        )
        for channel, track in state.tracks.items()
    }  # fmt: skip
