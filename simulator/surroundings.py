"""What lies around the places of one farm over a stretch of time."""

from dataclasses import dataclass
from typing import Final
from zoneinfo import ZoneInfo

import numpy as np

from simulator.dice import Floats, Times
from simulator.faults import Fault, FaultKind
from simulator.moist import saturated_ratio
from simulator.sky import sky_temperature_k
from simulator.sunlight import sine_of_elevation
from simulator.weather import Climate, FrostNight, Outside, Weather

_GRID_MS: Final = 600_000
_MEMORY: Final = 144
_BARN_LAG_S: Final = 18_000.0
_BARN_SHARE: Final = 0.75
_BARN_C: Final = 10.0
_HEATED_C: Final = 16.0  # people make up bunches there: below it somebody heats the shed
_SOFT_K: Final = 1.5
_SHED_DRYER: Final = 0.9
_LOOK_MS: Final = 300_000
_DAY_MS: Final = 86_400_000


@dataclass(frozen=True, slots=True)
class Surroundings:
    """Weather, shed and clock over increasing times.

    Attributes
    ----------
    outside : Outside
        The weather.
    shed_c, shed_ratio : ndarray
        Air of the packing shed, heated for those who work there. [°C], [kg/kg]
    barn_c : ndarray
        Air of the barn beside it, which nobody heats. [°C]
    sky_k : ndarray
        Temperature of the sky. [K]
    deep_c : ndarray
        Deep soil. [°C]
    hour : ndarray
        Hour of the farm's own day, 0 to 24.
    """

    outside: Outside
    shed_c: Floats
    shed_ratio: Floats
    barn_c: Floats
    sky_k: Floats
    deep_c: Floats
    hour: Floats

    @property
    def at_ms(self) -> Times:
        """UTC. [ms]"""
        return self.outside.at_ms


def surroundings(weather: Weather, zone: ZoneInfo, at_ms: Times) -> Surroundings:
    """Return what lies around the places at increasing times [ms]."""
    outside = weather.at(at_ms)
    barn_c = _barn_c(weather, at_ms)
    shed_c = _HEATED_C + _SOFT_K * np.logaddexp(0.0, (barn_c - _HEATED_C) / _SOFT_K)
    vapour = [saturated_ratio(each) * _SHED_DRYER for each in outside.dew_c.tolist()]
    most = [saturated_ratio(each) for each in barn_c.tolist()]
    columns = (outside.air_c.tolist(), outside.dew_c.tolist(), outside.cloud_oktas.tolist())
    return Surroundings(
        outside,
        shed_c,
        np.minimum(np.array(vapour), 0.95 * np.array(most)),
        barn_c,
        np.array([sky_temperature_k(*each) for each in zip(*columns, strict=True)]),
        weather.season_c(at_ms),
        hours_of_day(zone, at_ms),
    )


def _barn_c(weather: Weather, at_ms: Times) -> Floats:
    """Return the barn's air: it follows the weather late, and less far. [°C]"""
    first, last = int(at_ms[0]) // _GRID_MS - _MEMORY, int(at_ms[-1]) // _GRID_MS + 1
    grid_ms = np.arange(first, last + 1, dtype=np.int64) * _GRID_MS
    fading = np.exp(-np.arange(_MEMORY + 1) * _GRID_MS / 1000.0 / _BARN_LAG_S)
    followed = np.convolve(weather.at(grid_ms).air_c, fading / fading.sum(), mode="valid")
    barn_c = _BARN_C + _BARN_SHARE * (followed - _BARN_C)
    return np.interp(at_ms, grid_ms[_MEMORY:], barn_c)


def hours_of_day(zone: ZoneInfo, at_ms: Times) -> Floats:
    """Return the hour of the farm's own day, the offset looked up once a quarter hour."""
    quarter_ms = at_ms // 900_000 * 900_000
    starts, which = np.unique(quarter_ms, return_inverse=True)
    offsets = np.array([offset_ms(zone, int(each)) for each in starts])
    hours: Floats = ((at_ms + offsets[which]) % _DAY_MS) / 3_600_000.0
    return hours


def offset_ms(zone: ZoneInfo, at_ms: int) -> int:
    """Return how far the farm's clock stands ahead of UTC. [ms]"""
    moment = np.datetime64(at_ms, "ms").astype("datetime64[us]").item()
    ahead = zone.fromutc(moment.replace(tzinfo=zone)).utcoffset()
    return 0 if ahead is None else int(ahead.total_seconds() * 1000)


def frost_nights(climate: Climate, faults: tuple[Fault, ...]) -> tuple[FrostNight, ...]:
    """Return the frost nights that faults ask for: each the first night from its start."""
    wanted = [each for each in faults if each.kind is FaultKind.FROST_NIGHT]
    return tuple(_first_night(climate, each) for each in wanted)


def _first_night(climate: Climate, fault: Fault) -> FrostNight:
    """Return the rest of the night at the fault's start, or the next whole one."""
    at_ms = fault.start_ms + np.arange(0, 2 * _DAY_MS, _LOOK_MS, dtype=np.int64)
    dark = sine_of_elevation(at_ms, climate.latitude, climate.longitude) < 0.0
    if not dark.any():
        return FrostNight(fault.start_ms, fault.strength, 43_200.0)
    dusk = int(np.argmax(dark))
    light = ~dark[dusk:]
    dawn = dusk + (int(np.argmax(light)) if light.any() else 144)
    return FrostNight(int(at_ms[dusk]), fault.strength, (dawn - dusk) * _LOOK_MS / 1000.0 + 3_600.0)
