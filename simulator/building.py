"""From a declared farm to places and instruments that can be played."""

from typing import Final

from monitor.farm import Farm, Place
from monitor.model import PlaceKind, Quantity
from simulator import tunnel as tunnels
from simulator.cooler import CoolerSize, begun, cooler
from simulator.dice import dice
from simulator.faults import Fault, FaultKind
from simulator.instrument import Instrument
from simulator.places import FieldPlace, Played, RoomPlace, TunnelPlace
from simulator.room import Room
from simulator.sprouting_room import sprouting_room
from simulator.stores import dry_store, soak_bucket
from simulator.surroundings import Surroundings
from simulator.tunnel import Tunnel
from simulator.weather import Climate
from simulator.working_day import Habits, WorkingDays

_COOLER_BAND_C: Final = (2.2, 4.4)
_SPROUTING_BAND_C: Final = (7.2, 10.0)
_SPROUTING_HABITS: Final = Habits(3.0, 60.0, 0.0, 0)
_STORE_HABITS: Final = Habits(4.0, 60.0, 0.0, 0)
_NARROWEST_K: Final = 0.5  # a narrower band than any thermostat keeps
_SHED_SHARE: Final = {PlaceKind.SPROUTING_ROOM: 0.0, PlaceKind.DRY_STORE: 0.4}
_BEGUN_PCT: Final = {PlaceKind.COOLER: 88.0, PlaceKind.SPROUTING_ROOM: 90.0}


def climate_of(farm: Farm) -> Climate:
    """Return a climate that suits the farm's latitude: colder and wider away from the sea.

    Means fall by 0.7 °C a degree beyond 25°, from 24 °C; rule of thumb, from memory.
    """
    away = min(max(abs(farm.latitude) - 25.0, 0.0), 35.0)
    return Climate(
        farm.latitude, farm.longitude, mean_c=23.0 - 0.75 * away, swing_c=4.0 + 0.4 * away
    )


def build_place(
    farm: Farm, place: Place, around: Surroundings, seed: int, faults: tuple[Fault, ...]
) -> Played:
    """Return a place of its kind, as it stands when its surroundings begin."""
    air_c = float(around.outside.air_c[0])
    if place.kind is PlaceKind.TUNNEL:
        soil_c = 0.5 * (air_c + float(around.deep_c[0]))
        return TunnelPlace(_tunnel(place, seed), tunnels.begun(air_c, soil_c), faults)
    if place.kind is PlaceKind.FIELD:
        return FieldPlace(air_c, air_c, faults)
    room, habits, start_c = _room(place, seed)
    start_c = 0.5 * float(around.shed_c[0] + around.barn_c[0]) if start_c is None else start_c
    days = WorkingDays(habits, farm.zone, seed, f"place {place.id}")
    inside = begun(room, start_c, _BEGUN_PCT.get(place.kind, 60.0))
    return RoomPlace(room, inside, days, faults, _SHED_SHARE.get(place.kind, 1.0))


def _room(place: Place, seed: int) -> tuple[Room, Habits, float | None]:
    """Return a room, how it is used, and where it begins (None: as the shed). [°C]"""
    if place.kind is PlaceKind.COOLER:
        low_c, high_c = _band_c(place, _COOLER_BAND_C)
        return cooler(_cooler_size(place, seed)), Habits(), (low_c + high_c) / 2.0
    if place.kind is PlaceKind.SPROUTING_ROOM:
        low_c, high_c = _band_c(place, _SPROUTING_BAND_C)
        room = sprouting_room(low_c, high_c, max(place.lag_s, 600.0) if place.lag_s else 5_400.0)
        return room, _SPROUTING_HABITS, (low_c + high_c) / 2.0
    if place.kind is PlaceKind.SOAK_BUCKET:
        return soak_bucket(), Habits(0.0, 60.0, 0.0, 0), None
    return dry_store(), _STORE_HABITS, None


def _tunnel(place: Place, seed: int) -> Tunnel:
    """Return a tunnel like its neighbours, yet not their twin."""
    own = dice(seed, place.id, "tunnel")
    floor_m2 = float(own.uniform(120.0, 300.0))
    return Tunnel(
        floor_m2=floor_m2,
        cover_m2=1.5 * floor_m2,
        volume_m3=2.5 * floor_m2,
        leak_per_h=float(own.uniform(0.7, 1.6)),
        sun_share=float(own.uniform(0.45, 0.55)),
        vent_at_c=float(own.uniform(13.0, 17.0)),
    )


def _cooler_size(place: Place, seed: int) -> CoolerSize:
    """Return a sound cooler whose thermostat keeps well inside the place's band."""
    own = dice(seed, place.id, "size")
    low_c, high_c = _band_c(place, _COOLER_BAND_C)
    volume_m3 = float(own.uniform(12.0, 22.0))
    return CoolerSize(
        volume_m3=volume_m3,
        ua_w_k=float(own.uniform(1.0, 1.4)) * volume_m3,
        spare=float(own.uniform(2.2, 3.2)),
        kept_kg=float(own.uniform(4.0, 14.0)) * volume_m3,
        lag_s=max(place.lag_s, 600.0) if place.lag_s else 2_700.0,
        low_c=low_c + 0.15 * (high_c - low_c),
        high_c=low_c + 0.6 * (high_c - low_c),
        coil_difference_k=float(own.uniform(1.6, 2.6)),
    )


def _band_c(place: Place, usual_c: tuple[float, float]) -> tuple[float, float]:
    """Return the place's ideal band of temperature, its gaps filled as is usual. [°C]"""
    band = place.bands.get(Quantity.TEMPERATURE)
    ideal = band.ideal if band else None
    low_c = usual_c[0] if ideal is None or ideal.low is None else ideal.low
    high_c = usual_c[1] if ideal is None or ideal.high is None else ideal.high
    return (low_c, high_c) if high_c - low_c >= _NARROWEST_K else (low_c, low_c + 1.5)


def place_faults(place: str, faults: tuple[Fault, ...]) -> tuple[Fault, ...]:
    """Return the faults that meet a place: its own, and those of the whole farm."""
    return tuple(each for each in faults if each.subject in ("", place))


def instruments(farm: Farm, seed: int, faults: tuple[Fault, ...]) -> dict[str, Instrument]:
    """Return the farm's instruments by their ids, each with the faults that meet it."""
    found = {}
    for sensor in farm.sensors.values():
        subjects = ("", sensor.place, sensor.id)
        own = tuple(
            each for each in faults
            if each.subject in (subjects if each.kind is FaultKind.GATEWAY_DARK else (sensor.id,))
        )  # fmt: skip
        found[sensor.id] = Instrument(sensor, seed, own)
    return found
