"""Instruments: late, noisy, rounded, now and then unheard, and sometimes broken."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from monitor.farm import ChannelSpec, Sensor
from monitor.model import Quantity
from monitor.units import TemperatureUnit, from_celsius
from simulator.dice import Floats, Times, dice
from simulator.faults import Fault, FaultKind
from simulator.lagging import follow
from simulator.truth import Truth

_IN_CONTENTS: Final = ("bucket", "water", "contents", "flower head", "in a crate", "in the crate")
_TEMPERATURES: Final = (Quantity.TEMPERATURE, Quantity.SOIL_TEMPERATURE)
_SWITCHES: Final = (Quantity.DOOR, Quantity.MAINS)
_WET_PCT: Final = 95.0


@dataclass(frozen=True, slots=True)
class Character:
    """How well an instrument does its work.

    Attributes
    ----------
    noise_c, noise_pct : float
        Spread from reading to reading. [°C], [%]
    bias_c, bias_pct : float
        Spread of its own constant error from instrument to instrument. [°C], [%]
    decimals : int
        Digits it reports, in the unit it reports in.
    lag_s : float
        Time constant of its probe. [s]
    jitter_s : float
        Spread of the moment it reports at. [s]
    unheard : float
        Share of its messages that nobody hears.
    """

    noise_c: float = 0.05
    noise_pct: float = 0.4
    bias_c: float = 0.12
    bias_pct: float = 1.0
    decimals: int = 1
    lag_s: float = 90.0
    jitter_s: float = 0.8
    unheard: float = 0.002


@dataclass(frozen=True, slots=True)
class Readings:
    """What one instrument said: when [ms], and a row per channel, in the unit it reports."""

    at_ms: Times
    values: tuple[Floats, ...]


class Instrument:
    """One sensor of the farm, reading the truth of its place block by block."""

    def __init__(
        self, sensor: Sensor, seed: int, faults: tuple[Fault, ...] = (),
        character: Character | None = None,
    ) -> None:  # fmt: skip
        self._sensor = sensor
        self._seed = seed
        self._faults = faults
        self._is = character or Character()
        own = dice(seed, sensor.id, "character")
        self._bias = own.normal(0.0, 1.0, len(sensor.channels))
        self._beyond = float(own.uniform(0.0, 0.6))  # how far it overshoots when wet
        self._phase_ms = int(own.uniform(0.0, sensor.interval_s * 1000.0))
        self._probes: list[float | None] = [None] * len(sensor.channels)
        self._stuck: list[float | None] = [None] * len(sensor.channels)

    def read(self, truth: Truth, block: int, first_ms: int) -> Readings:
        """Return the readings from ``first_ms`` to the end of the truth. [ms]

        Blocks must be read in order, each once: the probe's lag runs through them.
        """
        roll = dice(self._seed, self._sensor.id, "block", block)
        at_ms = self._times(roll, first_ms, int(truth.at_ms[-1]))
        values = tuple(self._values(truth, number, at_ms, roll)
                       for number in range(len(self._sensor.channels)))  # fmt: skip
        heard = roll.random(at_ms.size) >= self._is.unheard
        for each in self._faults:
            if each.kind in (FaultKind.SENSOR_DEATH, FaultKind.GATEWAY_DARK):
                heard &= each.active(at_ms) == 0.0
        return Readings(at_ms[heard], tuple(each[heard] for each in values))

    def _times(self, roll: np.random.Generator, first_ms: int, last_ms: int) -> Times:
        """Return when it reports, within the block: its own rhythm, a little uneven."""
        interval_ms = max(int(self._sensor.interval_s * 1000.0), 1)
        ahead_ms = (self._phase_ms - first_ms) % interval_ms
        at_ms = np.arange(first_ms + ahead_ms, last_ms, interval_ms, dtype=np.int64)
        spread_ms = min(self._is.jitter_s * 1000.0, interval_ms / 10.0)
        uneven = np.clip(roll.normal(0.0, spread_ms, at_ms.size), -3 * spread_ms, 3 * spread_ms)
        return np.clip(at_ms + uneven.astype(np.int64), first_ms, last_ms - 1)

    def _values(self, truth: Truth, number: int, at_ms: Times, roll: np.random.Generator) -> Floats:
        spec = self._sensor.channels[number]
        ideal = self._seen(truth, number, at_ms)
        noise = roll.standard_normal(at_ms.size)
        if spec.quantity in _SWITCHES:
            return ideal
        spread, bias = self._spread(spec.quantity)
        read = ideal + noise * spread + self._bias[number] * bias
        if spec.quantity is Quantity.HUMIDITY:
            read = read + np.maximum(read - _WET_PCT, 0.0) * self._beyond
        read = self._broken(read, number, at_ms)
        return np.round(_in_unit(read, spec), self._is.decimals)

    def _spread(self, quantity: Quantity) -> tuple[float, float]:
        """Return noise and bias of a quantity, in its own unit."""
        if quantity in _TEMPERATURES:
            return self._is.noise_c, self._is.bias_c
        return self._is.noise_pct, self._is.bias_pct

    def _seen(self, truth: Truth, number: int, at_ms: Times) -> Floats:
        """Return what stands before the probe, as late as the probe is."""
        quantity = self._sensor.channels[number].quantity
        if quantity in _SWITCHES:
            return _held(
                truth.at_ms, truth.door if quantity is Quantity.DOOR else truth.mains, at_ms
            )
        if quantity is Quantity.BATTERY:
            return _battery_pct(at_ms)
        around = self._around(truth, quantity)
        step_s = (truth.at_ms[1] - truth.at_ms[0]) / 1000.0
        start = self._probes[number]
        start = float(around[0]) if start is None else start
        lag_s = self._is.lag_s
        probe = follow(around, start, step_s / lag_s if lag_s else np.inf)
        self._probes[number] = float(probe[-1])
        before_ms = truth.at_ms[0] - round(step_s * 1000)
        seen: Floats = np.interp(
            at_ms, np.concatenate([[before_ms], truth.at_ms]), np.concatenate([[start], probe])
        )
        return seen

    def _around(self, truth: Truth, quantity: Quantity) -> Floats:
        if quantity is Quantity.HUMIDITY:
            return truth.humidity_pct
        if quantity is Quantity.SOIL_TEMPERATURE:
            return truth.soil_c
        return truth.contents_c if hangs_in_contents(self._sensor) else truth.air_c

    def _broken(self, read: Floats, number: int, at_ms: Times) -> Floats:
        """Return what is read once faults have had their way."""
        for each in self._faults:
            if each.kind is FaultKind.DRIFT:
                read = read + each.strength * each.days(at_ms)
            if each.kind is FaultKind.STUCK_VALUE:
                on = each.active(at_ms) > 0.0
                if self._stuck[number] is None and on.any():
                    self._stuck[number] = float(read[int(np.argmax(on))])
                read = np.where(on, self._stuck[number] or 0.0, read)
        return read


def hangs_in_contents(sensor: Sensor) -> bool:
    """Return whether a sensor's own words say that it stands in what is kept there."""
    words = sensor.hangs.casefold()
    return any(each in words for each in _IN_CONTENTS)


def _battery_pct(at_ms: Times) -> Floats:
    """Return a battery that lasts two years, changed on the first of every other. [%]"""
    days = (at_ms / 86_400_000.0) % 730.0
    left: Floats = 100.0 - 0.11 * days
    return left


def _held(truth_ms: Times, share: Floats, at_ms: Times) -> Floats:
    """Return 1 where a share is over 0 in the step that a time falls into, else 0."""
    rows = np.searchsorted(truth_ms, at_ms).clip(0, share.size - 1)
    held: Floats = np.where(share[rows] > 0.0, 1.0, 0.0)
    return held


def _in_unit(values: Floats, spec: ChannelSpec) -> Floats:
    """Return values in the unit that the channel is declared in."""
    if spec.quantity not in _TEMPERATURES:
        return values
    unit = TemperatureUnit(spec.unit)
    slope = from_celsius(1.0, unit) - from_celsius(0.0, unit)
    return values * slope + from_celsius(0.0, unit)
