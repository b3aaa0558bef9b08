"""A closed room with machines: its air, its moisture and what is kept in it.

Within a step every coefficient is held, so air and moisture follow exponentials that are
exact for any step, and a thermostat switches at the very moment of its crossing.
"""

from dataclasses import dataclass, field
from math import exp, expm1, inf, log
from typing import Final, NamedTuple

from monitor.errors import OutOfRangeError
from simulator.coil import Coil, CoilState, choked, felt_w_k, rest
from simulator.door import Door, exchange_kg_s
from simulator.moist import AIR_J_KGK, LATENT_J_KG, VAPOUR_J_KGK, saturated_ratio, surface_ratio

_LEAST_LAG_S: Final = 120.0
_TOUCH_K: Final = 1e-5
_INSTANT_S: Final = 1.0
_LN_THREE_PER_TEN_K: Final = 0.109861  # Q10 of 3
_BREATHES_MOST_C: Final = 25.0
_SATURATION_PER_K: Final = 0.07
_FILM_KG: Final = 0.3  # frost that covers half of the coil
_FROST_SHARE: Final = 0.3  # of the air that frost at rest reaches
STUCK: Final = 2.0  # a defrost that its own thermostat does not end


@dataclass(frozen=True, slots=True)
class Cooling:
    """A compressor [W] under a thermostat [°C], with its coil."""

    capacity_w: float
    off_below_c: float
    on_above_c: float
    coil: Coil = field(default_factory=Coil)


@dataclass(frozen=True, slots=True)
class Heating:
    """A heater [W] under a thermostat [°C]."""

    power_w: float
    on_below_c: float
    off_above_c: float


@dataclass(frozen=True, slots=True)
class Room:
    """A room by its figures.

    Attributes
    ----------
    air_j_k, contents_j_k : float
        Heat capacity of the air with shelves and skin, and of what is kept. [J/K]
    ua_w_k : float
        Heat through walls, floor and ceiling. [W/K]
    moisture_kg : float
        Dry air, with the walls' share in holding moisture. [kg]
    contents_lag_s : float
        Time constant of the contents in the air. [s]
    fan_w, respiration_w : float
        Heat of the fan, and of what breathes (at 0 °C; Q10 of 3 up
        to 25 °C). [W]
    wet_kg_s : float
        Exchange of vapour between wet contents and air, per humidity ratio. [kg/s]
    leak_kg_s : float
        Air that changes places with the doors shut. [kg/s]
    """

    air_j_k: float
    contents_j_k: float
    ua_w_k: float
    moisture_kg: float
    contents_lag_s: float
    fan_w: float = 0.0
    respiration_w: float = 0.0
    wet_kg_s: float = 0.0
    leak_kg_s: float = 0.0
    door: Door = field(default_factory=Door)
    cooling: Cooling | None = None
    heating: Heating | None = None

    def __post_init__(self) -> None:
        if self.contents_lag_s < _LEAST_LAG_S:
            raise OutOfRangeError(
                f"contents_lag_s is {self.contents_lag_s:g}: give at least {_LEAST_LAG_S:g} s, "
                "or the contents would overtake the steps they are taken in"
            )


class Step(NamedTuple):
    """What acts on a room during one step; switches are 0 or 1.

    ``load`` is the share of the contents exchanged for others at ``load_c``.
    """

    outside_c: float
    outside_ratio: float
    door: float = 0.0
    load: float = 0.0
    load_c: float = 0.0
    cooling: float = 1.0  # share of the capacity left
    cooling_stuck: float = 0.0
    heating: float = 1.0
    heating_stuck: float = 0.0
    defrost: float = 0.0
    mains: float = 1.0


@dataclass(slots=True)
class Inside:
    """A room now.

    ``gained_j`` adds up all heat that crossed its walls [J]; ``side_w`` is what coil and
    vapour last gave the air [W], by which the next switching is foreseen.
    """

    air_c: float
    contents_c: float
    ratio: float
    coil: CoilState
    cooling_on: bool = False
    heating_on: bool = False
    cooled_s: float = 0.0
    heated_s: float = 0.0
    gained_j: float = 0.0
    side_w: float = 0.0


def stored_j(room: Room, inside: Inside) -> float:
    """Return the heat in air, vapour and contents, from 0 °C. [J]"""
    vapour_j = room.moisture_kg * LATENT_J_KG * inside.ratio
    return room.air_j_k * inside.air_c + room.contents_j_k * inside.contents_c + vapour_j


def advance(room: Room, inside: Inside, step: Step, span_s: float) -> None:
    """Carry a room through one step of ``span_s`` [s]."""
    if step.load > 0.0:
        warmer_k = step.load * (step.load_c - inside.contents_c)
        inside.contents_c += warmer_k
        inside.gained_j += warmer_k * room.contents_j_k
    flow_kg_s = room.leak_kg_s
    if step.door > 0.0:
        flow_kg_s += step.door * exchange_kg_s(
            room.door, inside.air_c, inside.ratio, step.outside_c, step.outside_ratio
        )
    if not step.defrost:
        inside.coil.done = False
    left_s = span_s
    while left_s > 0.0:
        left_s -= _stretch(room, inside, step, flow_kg_s, left_s)


class _Powers(NamedTuple):
    """What the machines do during a stretch: cold, warmth, heater of the coil. [W]"""

    cold_w: float
    warm_w: float
    heater_w: float
    blown: bool


def _stretch(room: Room, inside: Inside, step: Step, flow_kg_s: float, left_s: float) -> float:
    """Carry a room to the end of the step or to its next switching. Return the time. [s]"""
    _switch(room, inside)
    powers = _machines(room, inside, step)
    touch_w_k = room.contents_j_k / room.contents_lag_s
    open_w_k = room.ua_w_k + flow_kg_s * (AIR_J_KGK + VAPOUR_J_KGK * inside.ratio)
    total_w_k = open_w_k + touch_w_k
    steady_w = powers.warm_w - powers.cold_w
    pull_w = open_w_k * step.outside_c + touch_w_k * inside.contents_c + steady_w
    tau_s = room.air_j_k / total_w_k
    span_s = _until_switch(room, inside, (pull_w + inside.side_w) / total_w_k, tau_s, left_s)
    coil_w = _coil_w(room, inside, powers, span_s)
    latent_w, breath_w, vapour_w = _moisten(
        room, inside, step, span_s, flow_kg_s=flow_kg_s, powers=powers
    )
    inside.side_w = coil_w + latent_w
    level_c = (pull_w + inside.side_w) / total_w_k
    fallen = -expm1(-span_s / tau_s)
    mean_c = level_c + (inside.air_c - level_c) * fallen * tau_s / span_s
    inside.air_c += (level_c - inside.air_c) * fallen
    breathing_w = room.respiration_w * exp(
        _LN_THREE_PER_TEN_K * min(inside.contents_c, _BREATHES_MOST_C)
    )
    gained_w = touch_w_k * (mean_c - inside.contents_c) + breathing_w - breath_w
    inside.contents_c += gained_w * span_s / room.contents_j_k
    walls_w = open_w_k * (step.outside_c - mean_c)
    inside.gained_j += (walls_w + steady_w + coil_w + breathing_w + vapour_w) * span_s
    inside.cooled_s += span_s if powers.cold_w > 0.0 else 0.0
    inside.heated_s += span_s if powers.warm_w > room.fan_w else 0.0
    _fog(room, inside)
    return span_s


def _switch(room: Room, inside: Inside) -> None:
    """Let the thermostats look at the air."""
    cooling, heating = room.cooling, room.heating
    if cooling is not None:
        if inside.air_c >= cooling.on_above_c - _TOUCH_K:
            inside.cooling_on = True
        elif inside.air_c <= cooling.off_below_c + _TOUCH_K:
            inside.cooling_on = False
    if heating is not None:
        if inside.air_c <= heating.on_below_c + _TOUCH_K:
            inside.heating_on = True
        elif inside.air_c >= heating.off_above_c - _TOUCH_K:
            inside.heating_on = False


def _machines(room: Room, inside: Inside, step: Step) -> _Powers:
    """Return what the machines give."""
    heating, cooling = room.heating, room.cooling
    warm_w = 0.0
    if heating is not None and (step.heating_stuck or (inside.heating_on and step.heating)):
        warm_w = heating.power_w * step.mains
    if cooling is None:
        return _Powers(0.0, warm_w + room.fan_w * step.mains, 0.0, blown=bool(step.mains))
    cold_w = 0.0
    if (inside.cooling_on or step.cooling_stuck) and not step.defrost:
        share = step.cooling * step.mains * choked(cooling.coil, inside.coil)
        cold_w = cooling.capacity_w * share
    heater_w = _defrosting_w(cooling.coil, inside.coil, step)
    blown = cold_w > 0.0 or (bool(step.mains) and _airing(cooling.coil, step))
    return _Powers(cold_w, warm_w + room.fan_w * blown, heater_w, blown=blown)


def _airing(coil: Coil, step: Step) -> bool:
    """Return whether the fan runs while the compressor does not."""
    return not coil.heater_w if step.defrost else not coil.fan_cycles


def _defrosting_w(coil: Coil, state: CoilState, step: Step) -> float:
    """Return the defrost heater's power; it rests once the coil is warm, unless stuck. [W]"""
    if not step.defrost or not step.mains:
        return 0.0
    if state.metal_c >= coil.done_c and step.defrost < STUCK:
        state.done = True
    return 0.0 if state.done else coil.heater_w


def _coil_w(room: Room, inside: Inside, powers: _Powers, span_s: float) -> float:
    """Return the heat that an idle coil gives the air; a running one is cold. [W]"""
    cooling = room.cooling
    if cooling is None:
        return 0.0
    if powers.cold_w > 0.0:
        inside.coil.metal_c = inside.air_c - cooling.coil.difference_k
        return 0.0
    exchange_w_k = cooling.coil.blown_w_k if powers.blown else cooling.coil.still_w_k
    felt = felt_w_k(exchange_w_k, room.air_j_k, span_s)
    return rest(
        cooling.coil, inside.coil, inside.air_c, span_s, heater_w=powers.heater_w, felt_w_k=felt
    )


def _until_switch(room: Room, inside: Inside, level_c: float, tau_s: float, left_s: float) -> float:
    """Return the time to the next crossing of a thermostat, at most ``left_s``. [s]

    References
    ----------
    Newton's law of cooling: t = tau ln((T - level) / (limit - level)).
    """
    if room.cooling is None and room.heating is None:
        return left_s
    limit_c = _next_limit_c(room, inside, rising=level_c > inside.air_c)
    if (limit_c - level_c) * (limit_c - inside.air_c) >= 0.0:
        return left_s
    span_s = tau_s * log((inside.air_c - level_c) / (limit_c - level_c))
    return min(max(span_s, _INSTANT_S), left_s)


def _next_limit_c(room: Room, inside: Inside, *, rising: bool) -> float:
    """Return the next temperature at which a thermostat would switch; else infinite. [°C]"""
    cooling, heating = room.cooling, room.heating
    limits = []
    if cooling is not None and inside.cooling_on is not rising:
        limits.append(cooling.on_above_c if rising else cooling.off_below_c)
    if heating is not None and inside.heating_on is rising:
        limits.append(heating.off_above_c if rising else heating.on_below_c)
    if rising:
        return min(limits, default=inf)
    return max(limits, default=-inf)


def _moisten(
    room: Room, inside: Inside, step: Step, span_s: float, *, flow_kg_s: float, powers: _Powers
) -> tuple[float, float, float]:
    """Carry the moisture on; return latent heat to the air, from the contents, by air. [W]"""
    coil_ratio, coil_kg_s = _coil_vapour(room, inside, powers)
    wet_ratio = saturated_ratio(inside.contents_c) if room.wet_kg_s else 0.0
    total_kg_s = flow_kg_s + room.wet_kg_s + coil_kg_s
    if total_kg_s <= 0.0:
        return 0.0, 0.0, 0.0
    level = flow_kg_s * step.outside_ratio + room.wet_kg_s * wet_ratio + coil_kg_s * coil_ratio
    level /= total_kg_s
    tau_s = room.moisture_kg / total_kg_s
    fallen = -expm1(-span_s / tau_s)
    mean = level + (inside.ratio - level) * fallen * tau_s / span_s
    inside.ratio += (level - inside.ratio) * fallen
    caught_kg_s = coil_kg_s * (mean - coil_ratio)
    if inside.coil.metal_c < 0.0 or caught_kg_s < 0.0:
        inside.coil.frost_kg = max(inside.coil.frost_kg + caught_kg_s * span_s, 0.0)
    breath_w = LATENT_J_KG * room.wet_kg_s * (wet_ratio - mean)
    vapour_w = LATENT_J_KG * flow_kg_s * (step.outside_ratio - mean)
    return LATENT_J_KG * caught_kg_s, breath_w, vapour_w


def _coil_vapour(room: Room, inside: Inside, powers: _Powers) -> tuple[float, float]:
    """Return the humidity ratio at the coil and how much air feels it. [kg/kg], [kg/s]

    A running coil dries air down to saturation at its own temperature; one at rest gives
    frost back as vapour, the fan on.
    """
    if room.cooling is None:
        return 0.0, 0.0
    coil = room.cooling.coil
    touching_kg_s = coil.flow_kg_s * (1.0 - coil.bypass)
    ratio = surface_ratio(inside.coil.metal_c)
    if powers.cold_w > 0.0:
        return ratio, touching_kg_s if inside.ratio > ratio else 0.0
    share = inside.coil.frost_kg / (inside.coil.frost_kg + _FILM_KG) * _FROST_SHARE
    return ratio, touching_kg_s * share * powers.blown


def _fog(room: Room, inside: Inside) -> None:
    """Let what is more than saturated fall out, and warm the air by its heat."""
    most = saturated_ratio(inside.air_c)
    excess = inside.ratio - most
    if excess <= 0.0:
        return
    slope = most * _SATURATION_PER_K * room.moisture_kg * LATENT_J_KG / room.air_j_k
    fallen = excess / (1.0 + slope)
    inside.ratio -= fallen
    inside.air_c += fallen * room.moisture_kg * LATENT_J_KG / room.air_j_k
