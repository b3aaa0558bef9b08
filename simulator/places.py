"""Places that live through their surroundings and give back what really was."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from simulator import room as rooms
from simulator import tunnel as tunnels
from simulator.dice import Floats, Times
from simulator.faults import Fault, FaultKind
from simulator.lagging import follow
from simulator.moist import many_relative_humidities_pct, saturation_pa
from simulator.room import STUCK, Inside, Room, Step
from simulator.surroundings import Surroundings
from simulator.truth import Truth
from simulator.tunnel import Air, Grown, Tunnel
from simulator.working_day import WorkingDays

_TENDED_H = (7.0, 18.0)
_COVER_BELOW_C = 3.0


class Played(Protocol):
    """A place that can be carried on in time."""

    def play(self, around: Surroundings, step_s: float) -> Truth:
        """Carry the place through steps that end at the surroundings' times."""


def strength(faults: Sequence[Fault], kind: FaultKind, at_ms: Times) -> Floats:
    """Return how strong the faults of a kind are over time; 0 where there is none."""
    total = np.zeros(at_ms.shape)
    for each in faults:
        if each.kind is kind:
            total = np.maximum(total, each.strength * each.active(at_ms))
    return total


def _mains(faults: Sequence[Fault], at_ms: Times) -> Floats:
    return 1.0 - strength(faults, FaultKind.MAINS_OUT, at_ms)


@dataclass(slots=True)
class RoomPlace:
    """A cooler, a sprouting room or a store in the shed."""

    room: Room
    inside: Inside
    days: WorkingDays
    faults: tuple[Fault, ...] = ()
    shed_share: float = 1.0  # of its walls that face the shed; the rest face the barn
    field_warmer_k: float = 2.0  # stems come in warmer than the air outside

    def play(self, around: Surroundings, step_s: float) -> Truth:
        """Carry the room on."""
        steps, door = self._steps(around, step_s)
        rows = []
        for step in steps:
            before = (self.inside.cooled_s, self.inside.heated_s)
            rooms.advance(self.room, self.inside, step, step_s)
            rows.append(self._row(before, step_s))
        air, contents, ratio, cooling, heating = np.array(rows).T
        humidity = many_relative_humidities_pct(air, ratio)
        mains = _mains(self.faults, around.at_ms)
        return Truth(
            around.at_ms, air, contents, contents, humidity, door, cooling, heating, mains
        )  # fmt: skip

    def _row(self, before: tuple[float, float], step_s: float) -> tuple[float, ...]:
        inside = self.inside
        cooled = (inside.cooled_s - before[0]) / step_s
        heated = (inside.heated_s - before[1]) / step_s
        return inside.air_c, inside.contents_c, inside.ratio, cooled, heated

    def _steps(self, around: Surroundings, step_s: float) -> tuple[Iterator[Step], Floats]:
        """Return what acts on the room in each step, and its door."""
        at_ms, faults = around.at_ms, self.faults
        work = self.days.work(at_ms, step_s)
        door = np.maximum(work.door, strength(faults, FaultKind.DOOR_AJAR, at_ms))
        stuck = STUCK * (strength(faults, FaultKind.DEFROST_STUCK_ON, at_ms) > 0.0)
        beside_c = around.barn_c + self.shed_share * (around.shed_c - around.barn_c)
        columns = (
            beside_c, around.shed_ratio, door, work.load,
            around.outside.air_c + self.field_warmer_k,
            self._capacity(at_ms),
            strength(faults, FaultKind.COOLING_STUCK_ON, at_ms),
            1.0 - strength(faults, FaultKind.HEATER_DEAD, at_ms),
            strength(faults, FaultKind.HEATER_STUCK_ON, at_ms),
            np.maximum(work.defrost, stuck),
            _mains(faults, at_ms),
        )  # fmt: skip
        return map(Step, *(column.tolist() for column in columns)), door

    def _capacity(self, at_ms: Times) -> Floats:
        """Return the share of its capacity that the compressor has left."""
        share = 1.0 - strength(self.faults, FaultKind.COMPRESSOR_DEAD, at_ms)
        for each in self.faults:
            if each.kind is FaultKind.CAPACITY_LOST:
                share = share * np.maximum(1.0 - each.strength * each.days(at_ms), 0.0)
        return share


@dataclass(slots=True)
class TunnelPlace:
    """A tunnel that somebody vents by day and covers on cold nights."""

    tunnel: Tunnel
    grown: Grown
    faults: tuple[Fault, ...] = ()
    row_covers: bool = True

    def play(self, around: Surroundings, step_s: float) -> Truth:
        """Carry the tunnel on."""
        outside, at_ms = around.outside, around.at_ms
        closed = strength(self.faults, FaultKind.TUNNEL_CLOSED, at_ms)
        tended = ((around.hour >= _TENDED_H[0]) & (around.hour < _TENDED_H[1])) * (1.0 - closed)
        cold_dark = (outside.air_c < _COVER_BELOW_C) & (outside.sun_w_m2 <= 0.0)
        columns = (
            outside.air_c, outside.dew_c, around.sky_k, outside.sun_w_m2, around.deep_c,
            tended, cold_dark * float(self.row_covers),
        )  # fmt: skip
        rows = []
        for air in map(Air, *(column.tolist() for column in columns)):
            tunnels.advance(self.tunnel, self.grown, air, step_s)
            rows.append(self._row())
        air_c, plants_c, soil_c, ratio, opened = np.array(rows).T
        humidity = many_relative_humidities_pct(air_c, ratio)
        idle = np.zeros(at_ms.shape)
        mains = _mains(self.faults, at_ms)
        return Truth(at_ms, air_c, plants_c, soil_c, humidity, opened, idle, idle, mains)

    def _row(self) -> tuple[float, ...]:
        grown = self.grown
        return grown.air_c, grown.plants_c, grown.soil_c, grown.ratio, grown.opened


@dataclass(slots=True)
class FieldPlace:
    """Open ground: the weather itself, with soil that follows it late."""

    soil_c: float
    plants_c: float
    faults: tuple[Fault, ...] = ()
    soil_lag_s: float = 43_200.0
    plants_lag_s: float = 600.0

    def play(self, around: Surroundings, step_s: float) -> Truth:
        """Carry soil and plants on."""
        outside = around.outside
        soil = follow(outside.air_c, self.soil_c, step_s / self.soil_lag_s)
        plants = follow(outside.air_c, self.plants_c, step_s / self.plants_lag_s)
        self.soil_c, self.plants_c = float(soil[-1]), float(plants[-1])
        pairs = zip(outside.air_c.tolist(), outside.dew_c.tolist(), strict=True)
        humidity = np.array([100.0 * saturation_pa(dew) / saturation_pa(air) for air, dew in pairs])
        idle = np.zeros(outside.at_ms.shape)
        mains = _mains(self.faults, outside.at_ms)
        return Truth(
            outside.at_ms, outside.air_c, plants, soil, humidity, idle, idle, idle, mains
        )  # fmt: skip
