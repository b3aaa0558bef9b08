"""The weather outside: seasons, days, clouds and wind, as a pure function of time."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from simulator.dice import Floats, Times, wander
from simulator.sunlight import clear_sky_w_m2

_GRID_S: Final = 600
_MEMORY: Final = 144  # grid steps that the air near the ground remembers
_AIR_LAG_S: Final = 9_000.0
_WARMING_K_PER_W_M2: Final = 0.024
_COOLING_K_PER_W_M2: Final = 0.085
_YEAR_S: Final = 31_556_952.0
_WARMEST_S: Final = 17_280_000.0  # after New Year, in the north


@dataclass(frozen=True, slots=True)
class Climate:
    """A place's year: mean and swing of its days' means, and how much they wander. [°C]"""

    latitude: float
    longitude: float
    mean_c: float = 11.0
    swing_c: float = 10.0
    unrest_c: float = 3.0


@dataclass(frozen=True, slots=True)
class FrostNight:
    """A clear, calm night, from dusk until morning [ms], and its lowest air [°C]."""

    start_ms: int
    lowest_c: float
    length_s: float = 57_600.0


@dataclass(frozen=True, slots=True)
class Outside:
    """Air and sky over time.

    Attributes
    ----------
    air_c, dew_c : ndarray
        Air at two metres and its dew point. [°C]
    cloud_oktas : ndarray
        Sky covered, 0 to 8.
    wind_m_s, sun_w_m2 : ndarray
        Wind, and sunshine on level ground.
    """

    at_ms: Times
    air_c: Floats
    dew_c: Floats
    cloud_oktas: Floats
    wind_m_s: Floats
    sun_w_m2: Floats


class Weather:
    """A seeded weather; the same time gives the same weather whenever it is asked for."""

    def __init__(
        self, climate: Climate, seed: int, frost_nights: tuple[FrostNight, ...] = ()
    ) -> None:
        self._climate = climate
        self._seed = seed
        self._shifts = tuple((night, 0.0) for night in frost_nights)
        self._shifts = tuple((night, self._shift_c(night)) for night in frost_nights)

    def at(self, at_ms: Times) -> Outside:
        """Return the weather at increasing times [ms]."""
        first = int(at_ms[0]) // (_GRID_S * 1000) - 1
        count = int(at_ms[-1]) // (_GRID_S * 1000) - first + 2
        grid_ms = (first - _MEMORY + np.arange(count + _MEMORY, dtype=np.int64)) * _GRID_S * 1000
        near = self._grid(grid_ms)
        air_c = np.interp(at_ms, near.at_ms, near.air_c)
        return Outside(
            at_ms,
            air_c,
            np.minimum(np.interp(at_ms, near.at_ms, near.dew_c), air_c),
            np.interp(at_ms, near.at_ms, near.cloud_oktas),
            np.interp(at_ms, near.at_ms, near.wind_m_s),
            np.interp(at_ms, near.at_ms, near.sun_w_m2),
        )

    def _grid(self, grid_ms: Times) -> Outside:
        """Return the weather on the grid; its first `_MEMORY` rows are only remembered."""
        settled = self._settled(grid_ms)
        cloud = 8.0 / (1.0 + np.exp(-1.9 * self._wander("cloud", grid_ms, 28_000.0)))
        cloud *= 1.0 - settled
        gust = self._wander("wind", grid_ms, 15_000.0)
        wind = (2.2 * np.exp(0.55 * gust)) * (1.0 - settled) + 0.3 * settled
        clear = clear_sky_w_m2(grid_ms, self._climate.latitude, self._climate.longitude)
        sun = clear * (1.0 - 0.75 * (cloud / 8.0) ** 3.4)
        base_c = self._base_c(grid_ms)
        swing_k = self._swing_k(sun, cloud, wind)
        air_c = base_c[_MEMORY:] + swing_k
        for night, shift_c in self._shifts:
            air_c = air_c + shift_c * _window(night, grid_ms[_MEMORY:])
        spread_k = 4.5 + 2.0 * self._wander("dew", grid_ms, 50_000.0)[_MEMORY:]
        dew_c = np.minimum(base_c[_MEMORY:] - np.maximum(spread_k, 0.5), air_c - 0.05)
        kept = slice(_MEMORY, None)
        return Outside(grid_ms[kept], air_c, dew_c, cloud[kept], wind[kept], sun[kept])

    def _wander(self, name: str, at_ms: Times, knot_s: float) -> Floats:
        return wander(self._seed, f"weather {name}", at_ms, knot_s)

    def season_c(self, at_ms: Times) -> Floats:
        """Return the season's mean, as deep soil keeps it. [°C]"""
        climate = self._climate
        turned_s = at_ms / 1000.0 - _WARMEST_S + (_YEAR_S / 2.0 if climate.latitude < 0 else 0.0)
        season: Floats = climate.swing_c * np.cos(2.0 * np.pi * turned_s / _YEAR_S)
        return climate.mean_c + season

    def _base_c(self, grid_ms: Times) -> Floats:
        """Return the air without day and night: the season and the passing fronts. [°C]"""
        fronts = 0.85 * self._wander("front", grid_ms, 260_000.0)
        fronts += 0.5 * self._wander("shower", grid_ms, 70_000.0)
        base: Floats = self.season_c(grid_ms) + self._climate.unrest_c * fronts
        return base

    def _swing_k(self, sun: Floats, cloud: Floats, wind: Floats) -> Floats:
        """Return day and night: sun warms, a clear sky cools, and wind stirs both away. [K]"""
        calm = 1.0 / (1.0 + wind / 6.0)
        open_sky_w_m2 = 75.0 * (1.0 - 0.85 * (cloud / 8.0) ** 1.5)
        pull = (_WARMING_K_PER_W_M2 * sun - _COOLING_K_PER_W_M2 * open_sky_w_m2) * calm
        fading = np.exp(-np.arange(_MEMORY + 1) * _GRID_S / _AIR_LAG_S)
        swing: Floats = np.convolve(pull, fading / fading.sum(), mode="valid")
        return swing

    def _settled(self, grid_ms: Times) -> Floats:
        """Return 1 in the midst of a frost night, 0 outside of all. [-]"""
        settled = np.zeros(grid_ms.shape)
        for night, _ in self._shifts:
            settled = np.maximum(settled, _window(night, grid_ms))
        return settled

    def _shift_c(self, night: FrostNight) -> float:
        """Return how much colder its air mass must be for the night's lowest air. [K]"""
        until_ms = night.start_ms + int(night.length_s * 1000)
        at_ms = np.arange(night.start_ms, until_ms, _GRID_S * 1000, dtype=np.int64)
        return night.lowest_c - float(self.at(at_ms).air_c.min())


def _window(night: FrostNight, at_ms: Times) -> Floats:
    """Return a smooth gate: open over the night, closed six hours before and after. [-]"""
    ramp_ms = 21_600_000.0
    until_ms = night.start_ms + night.length_s * 1000.0
    rising = np.clip((at_ms - night.start_ms + ramp_ms) / ramp_ms, 0.0, 1.0)
    falling = np.clip((until_ms + ramp_ms - at_ms) / ramp_ms, 0.0, 1.0)
    gate: Floats = np.minimum(rising, falling)
    return gate * gate * (3.0 - 2.0 * gate)
