"""A plastic tunnel: sun in, sky out, soil below, and sides that somebody opens."""

from dataclasses import dataclass
from math import expm1
from typing import Final, NamedTuple

from simulator.moist import (
    AIR_J_KGK,
    LATENT_J_KG,
    humidity_ratio,
    saturated_ratio,
)
from simulator.sky import STEFAN_BOLTZMANN_W_M2K4

_KELVIN: Final = 273.15
_AIR_KG_M3: Final = 1.2
_SURFACE_EMISSIVITY: Final = 0.9
_FULL_FILM_KG_M2: Final = 0.02
_VAPOUR_TO_FILM_KG_M2S: Final = 0.005
_FILM_DRYING_KG_J: Final = 0.15 / LATENT_J_KG
_VENT_SPAN_K: Final = 6.0  # from first opening to wide open
_COVER_SHARE: Final = 0.45  # how far covered plants stand towards the soil


@dataclass(frozen=True, slots=True)
class Tunnel:
    """A tunnel by its figures.

    Attributes
    ----------
    floor_m2, cover_m2, volume_m3 : float
        Its size.
    u_w_m2k : float
        Heat through the film. [W/m²K]
    leak_per_h, vent_per_h : float
        Changes of air, closed and with the sides wide open. [1/h]
    dry_long_wave, wet_long_wave : float
        Share of long-wave radiation that the film lets through, dry and wet.
    sun_share : float
        Share of the sunshine outside that warms the air within.
    air_j_m2k, soil_j_m2k : float
        Heat capacity per floor: air with canopy and frame; the soil that takes part.
    soil_w_m2k, deep_w_m2k : float
        Soil to air, and deep soil to soil. [W/m²K]
    plants_lag_s : float
        Time constant of the plants. [s]
    wet_kg_m2s : float
        Exchange of vapour between plants with soil and air. [kg/m²s per ratio]
    vent_at_c : float
        Where somebody begins to open the sides. [°C]
    """

    floor_m2: float = 200.0
    cover_m2: float = 300.0
    volume_m3: float = 500.0
    u_w_m2k: float = 6.0
    leak_per_h: float = 1.0
    vent_per_h: float = 45.0
    dry_long_wave: float = 0.6
    wet_long_wave: float = 0.1
    sun_share: float = 0.5
    air_j_m2k: float = 15_000.0
    soil_j_m2k: float = 300_000.0
    soil_w_m2k: float = 5.0
    deep_w_m2k: float = 1.5
    plants_lag_s: float = 900.0
    wet_kg_m2s: float = 0.003
    vent_at_c: float = 15.0


class Air(NamedTuple):
    """What acts on a tunnel during one step.

    ``attended`` is 1 where somebody opens the sides, ``covered`` 1 where row covers lie.
    """

    outside_c: float
    dew_c: float
    sky_k: float
    sun_w_m2: float
    deep_c: float
    attended: float = 0.0
    covered: float = 0.0


@dataclass(slots=True)
class Grown:
    """A tunnel now: temperatures [°C], humidity ratio, water on the film [kg/m²]."""

    air_c: float
    plants_c: float
    soil_c: float
    ratio: float
    film_kg_m2: float = 0.0
    opened: float = 0.0


def begun(air_c: float, soil_c: float, humidity_pct: float = 80.0) -> Grown:
    """Return a tunnel whose plants stand at the temperature of its air."""
    return Grown(air_c, air_c, soil_c, humidity_ratio(air_c, humidity_pct))


def advance(tunnel: Tunnel, grown: Grown, air: Air, span_s: float) -> None:
    """Carry a tunnel through one step of ``span_s`` [s]."""
    wanted = (grown.air_c - tunnel.vent_at_c) / _VENT_SPAN_K * air.attended
    grown.opened = min(max(wanted, 0.0), 1.0)
    changes_per_h = tunnel.leak_per_h + grown.opened * tunnel.vent_per_h
    flow_kg_s = _AIR_KG_M3 * tunnel.volume_m3 * changes_per_h / 3_600.0
    latent_w = _moisten(tunnel, grown, air, flow_kg_s, span_s)
    before_c = grown.air_c
    mean_c = _warm(tunnel, grown, air, flow_kg_s * AIR_J_KGK, latent_w, span_s=span_s)
    soil_w_m2 = (
        tunnel.soil_w_m2k * (mean_c - grown.soil_c)
        + tunnel.deep_w_m2k * (air.deep_c - grown.soil_c)
        + 0.2 * tunnel.sun_share * air.sun_w_m2
    )
    around_c = before_c + air.covered * _COVER_SHARE * (grown.soil_c - before_c)
    grown.plants_c -= (around_c - grown.plants_c) * expm1(-span_s / tunnel.plants_lag_s)
    grown.soil_c += soil_w_m2 * span_s / tunnel.soil_j_m2k


def long_wave_share(tunnel: Tunnel, grown: Grown) -> float:
    """Return the share of long-wave radiation that the film lets through now."""
    wet = min(grown.film_kg_m2 / _FULL_FILM_KG_M2, 1.0)
    return tunnel.dry_long_wave + wet * (tunnel.wet_long_wave - tunnel.dry_long_wave)


def _warm(
    tunnel: Tunnel, grown: Grown, air: Air, carried_w_k: float, latent_w: float, *, span_s: float
) -> float:
    """Carry the air on; return its mean over the step. [°C]

    The balance is solar gain - U A (T - To) - infiltration - t e s A (T⁴ - Tsky⁴) + soil;
    the long-wave term is made linear about the air of now, the rest is exact.
    """
    now_k = grown.air_c + _KELVIN
    seen = long_wave_share(tunnel, grown) * _SURFACE_EMISSIVITY * STEFAN_BOLTZMANN_W_M2K4
    lost_w = seen * tunnel.floor_m2 * (now_k**4 - air.sky_k**4)
    bent_w_k = 4.0 * seen * tunnel.floor_m2 * now_k**3
    out_w_k = tunnel.u_w_m2k * tunnel.cover_m2 + carried_w_k
    soil_w_k = tunnel.soil_w_m2k * tunnel.floor_m2
    total_w_k = out_w_k + soil_w_k + bent_w_k
    gain_w = tunnel.sun_share * air.sun_w_m2 * tunnel.floor_m2
    pull_w = gain_w + latent_w + out_w_k * air.outside_c + soil_w_k * grown.soil_c
    level_c = (pull_w - lost_w + bent_w_k * grown.air_c) / total_w_k
    tau_s = tunnel.air_j_m2k * tunnel.floor_m2 / total_w_k
    fallen = -expm1(-span_s / tau_s)
    mean_c = level_c + (grown.air_c - level_c) * fallen * tau_s / span_s
    grown.air_c += (level_c - grown.air_c) * fallen
    return mean_c


def _moisten(tunnel: Tunnel, grown: Grown, air: Air, flow_kg_s: float, span_s: float) -> float:
    """Carry the moisture on; return the latent heat to the air (negative: it is taken). [W]"""
    outside_ratio = saturated_ratio(air.dew_c)
    film_ratio = saturated_ratio(grown.air_c + 0.65 * (air.outside_c - grown.air_c))
    dewing = grown.ratio > film_ratio
    wet_kg_s = tunnel.wet_kg_m2s * tunnel.floor_m2
    film_kg_s = _VAPOUR_TO_FILM_KG_M2S * tunnel.cover_m2 if dewing else 0.0
    wet_ratio = saturated_ratio(grown.plants_c)
    total_kg_s = flow_kg_s + wet_kg_s + film_kg_s
    level = flow_kg_s * outside_ratio + wet_kg_s * wet_ratio + film_kg_s * film_ratio
    level /= total_kg_s
    tau_s = 1.5 * _AIR_KG_M3 * tunnel.volume_m3 / total_kg_s
    fallen = -expm1(-span_s / tau_s)
    mean = level + (grown.ratio - level) * fallen * tau_s / span_s
    grown.ratio = min(
        grown.ratio + (level - grown.ratio) * fallen, saturated_ratio(grown.air_c)
    )  # fmt: skip
    caught = film_kg_s * (mean - film_ratio) / tunnel.cover_m2
    dried = _FILM_DRYING_KG_J * air.sun_w_m2 + (0.0 if dewing else 2e-7)
    film = grown.film_kg_m2 + (caught - dried) * span_s
    grown.film_kg_m2 = min(max(film, 0.0), 2.0 * _FULL_FILM_KG_M2)
    return LATENT_J_KG * wet_kg_s * (mean - wet_ratio)
