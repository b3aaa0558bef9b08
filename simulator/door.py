"""Air that changes places through an open door."""

from dataclasses import dataclass
from math import sqrt
from typing import Final

from simulator.moist import density_kg_m3, enthalpy_j_kg

_GRAVITY_M_S2: Final = 9.80665
_STILL_K: Final = 11.0


@dataclass(frozen=True, slots=True)
class Door:
    """A door by its opening [m²], its height [m] and the share a strip curtain holds back."""

    area_m2: float = 1.8
    height_m: float = 2.0
    protection: float = 0.0


@dataclass(frozen=True, slots=True)
class Exchange:
    """What a wide open door lets through: heat to the room [W], water to it [kg/s]."""

    flow_kg_s: float
    heat_w: float
    moisture_kg_s: float


def exchange_kg_s(
    door: Door, inside_c: float, inside_ratio: float, outside_c: float, outside_ratio: float
) -> float:
    """Return how much air changes places while the door is wide open. [kg/s]

    Parameters
    ----------
    door : Door
        The opening.
    inside_c, outside_c : float
        Air on either side. [°C]
    inside_ratio, outside_ratio : float
        Humidity ratios. [kg/kg]

    References
    ----------
    Gosney & Olama (1975), as printed in the EnergyPlus Engineering Reference,
    refrigerated walk-ins: B = 0.221 A rho_i F_D sqrt((1 - rho_o / rho_i) g H), with
    F_D = [2 / (1 + (rho_i / rho_o)^(1/3))]^1.5; the doorway's flow is 0.8 of it where the
    sides differ by more than 11 K, else 1.1. With the warm side inside the two change roles.
    """
    here, there = density_kg_m3(inside_c, inside_ratio), density_kg_m3(outside_c, outside_ratio)
    heavy, light = max(here, there), min(here, there)
    factor: float = (2.0 / (1.0 + (heavy / light) ** (1.0 / 3.0))) ** 1.5
    head = sqrt((1.0 - light / heavy) * _GRAVITY_M_S2 * door.height_m)
    flowing = 0.8 if abs(outside_c - inside_c) > _STILL_K else 1.1
    return 0.221 * door.area_m2 * heavy * factor * head * flowing * (1.0 - door.protection)


def exchange(
    door: Door, inside_c: float, inside_ratio: float, outside_c: float, outside_ratio: float
) -> Exchange:
    """Return what a wide open door lets in; see `exchange_kg_s` for its figures."""
    flow = exchange_kg_s(door, inside_c, inside_ratio, outside_c, outside_ratio)
    heat_j_kg = enthalpy_j_kg(outside_c, outside_ratio) - enthalpy_j_kg(inside_c, inside_ratio)
    return Exchange(flow, flow * heat_j_kg, flow * (outside_ratio - inside_ratio))
