"""Walk-in coolers, by size and load."""

from dataclasses import dataclass
from math import exp, log
from typing import Final

import numpy as np

from simulator.coil import Coil, CoilState
from simulator.door import Door
from simulator.moist import humidity_ratio
from simulator.room import Cooling, Inside, Room

_WET_SHARE: Final = 0.2  # of the surface of stems and buckets that is wet


@dataclass(frozen=True, slots=True)
class CoolerSize:
    """What one says of a cooler before buying it.

    Attributes
    ----------
    volume_m3, ua_w_k : float
        Inside [m³], and heat through its walls [W/K].
    spare : float
        Capacity over the heat that comes in with 30 °C outside.
    kept_kg, lag_s : float
        Stems and water [kg], and their time constant in the air [s].
    """

    volume_m3: float = 16.0
    ua_w_k: float = 18.0
    spare: float = 2.6
    kept_kg: float = 150.0
    lag_s: float = 2_700.0
    low_c: float = 1.6
    high_c: float = 3.2
    coil_difference_k: float = 5.0
    defrost_heater_w: float = 1_200.0


def cooler(size: CoolerSize) -> Room:
    """Return the room of a cooler of this size.

    Water-like contents take 3 600 J/kgK; air, shelves and the walls' skin together five
    times the air alone; a fan of 6 % of the capacity; all from memory. Vapour goes from the
    wet share of the contents as heat comes to them (Lewis relation).
    """
    air_kg = 1.25 * size.volume_m3
    air_j_k = 5.0 * 1_006.0 * air_kg
    contents_j_k = max(3_600.0 * size.kept_kg, 0.05 * air_j_k)
    load_w = size.ua_w_k * (30.0 - size.low_c) * 1.4
    capacity_w = size.spare * load_w
    coil = Coil(
        difference_k=size.coil_difference_k,
        flow_kg_s=0.02 * air_kg + capacity_w / 6_000.0,
        metal_j_k=3.0 * capacity_w,
        blown_w_k=capacity_w / 8.0,
        still_w_k=capacity_w / 60.0,
        heater_w=size.defrost_heater_w,
        fan_cycles=size.defrost_heater_w > 0.0,
        choking_kg=3.0 + capacity_w / 500.0,
    )
    return Room(
        air_j_k=air_j_k,
        contents_j_k=contents_j_k,
        ua_w_k=size.ua_w_k,
        moisture_kg=2.0 * air_kg,
        contents_lag_s=size.lag_s,
        fan_w=0.06 * capacity_w,
        respiration_w=0.05 * size.kept_kg,
        wet_kg_s=_WET_SHARE * contents_j_k / size.lag_s / 1_006.0,
        leak_kg_s=0.3 * air_kg / 3_600.0,
        door=Door(1.8, 2.0, protection=0.5),
        cooling=Cooling(capacity_w, size.low_c, size.high_c, coil),
    )


def begun(room: Room, air_c: float, humidity_pct: float) -> Inside:
    """Return a room that has stood long at one temperature."""
    difference_k = room.cooling.coil.difference_k if room.cooling else 0.0
    return Inside(
        air_c, air_c, humidity_ratio(air_c, humidity_pct), CoilState(air_c - difference_k)
    )


def time_constant_s(room: Room) -> float:
    """Return how slowly the whole room warms with its machines dead. [s]"""
    return (room.air_j_k + room.contents_j_k) / room.ua_w_k


def random_size(dice: np.random.Generator) -> CoolerSize:
    """Return a cooler as one meets them: from an empty box to a full large room.

    Time constants run from about half an hour to many hours.
    """

    def between(low: float, high: float) -> float:
        return exp(dice.uniform(log(low), log(high)))

    volume_m3 = between(6.0, 60.0)
    low_c = dice.uniform(0.8, 2.4)
    return CoolerSize(
        volume_m3=volume_m3,
        ua_w_k=between(0.8, 2.2) * 4.5 * volume_m3 ** (2.0 / 3.0) * 0.6,
        spare=dice.uniform(1.6, 3.6),
        kept_kg=between(0.3, 30.0) * volume_m3,
        lag_s=between(900.0, 10_800.0),
        low_c=low_c,
        high_c=low_c + dice.uniform(1.0, 2.4),
        coil_difference_k=dice.uniform(3.0, 8.0),
        defrost_heater_w=float(dice.choice([0.0, 800.0, 1_500.0])),
    )
