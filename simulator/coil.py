"""The cooling coil: frost gathers on it, a defrost melts it, its heat goes to the room."""

from dataclasses import dataclass
from math import exp, expm1

from simulator.moist import MELTING_J_KG


@dataclass(frozen=True, slots=True)
class Coil:
    """A finned coil with its fan.

    Attributes
    ----------
    difference_k : float
        How far it runs below the room's air. [K]
    flow_kg_s, bypass : float
        Air over it [kg/s], and the share of that which touches no fin.
    metal_j_k : float
        Heat capacity of its metal. [J/K]
    blown_w_k, still_w_k : float
        Its exchange with the air, fan on and off. [W/K]
    heater_w : float
        Defrost heater; 0 melts by the room's air, fan on. [W]
    done_c : float
        A heated defrost ends once the coil is this warm. [°C]
    choking_kg : float
        Frost that halves its capacity. [kg]
    fan_cycles : bool
        Its fan rests with the compressor, so that frost outlasts the pauses.
    """

    difference_k: float = 6.0
    flow_kg_s: float = 0.6
    bypass: float = 0.3
    metal_j_k: float = 9_000.0
    blown_w_k: float = 250.0
    still_w_k: float = 25.0
    heater_w: float = 1_500.0
    done_c: float = 12.0
    choking_kg: float = 8.0
    fan_cycles: bool = False


@dataclass(slots=True)
class CoilState:
    """The coil now: its metal [°C], its frost [kg], and whether its defrost is over."""

    metal_c: float
    frost_kg: float = 0.0
    done: bool = False


def felt_w_k(exchange_w_k: float, air_j_k: float, span_s: float) -> float:
    """Return a coil's exchange with air that itself gives way during the span. [W/K]

    However long the span, no more heat is exchanged than brings the air to the coil.
    """
    return -expm1(-exchange_w_k * span_s / air_j_k) * air_j_k / span_s


def choked(coil: Coil, state: CoilState) -> float:
    """Return the share of its capacity that the frost leaves."""
    return 1.0 / (1.0 + state.frost_kg / coil.choking_kg)


def rest(
    coil: Coil, state: CoilState, air_c: float, span_s: float, *, heater_w: float, felt_w_k: float
) -> float:
    """Let the coil stand without its compressor, and return its heat to the air. [W]

    ``felt_w_k`` is its exchange with the air over the span. [W/K]

    Its metal relaxes towards the air (and its heater); frost holds it at 0 °C until it
    has melted. The heat returned, the heat kept and the heat of melting add up to the
    heater's.

    References
    ----------
    Newton's law of cooling, lumped capacity; heat of fusion 333.6 kJ/kg (from memory).
    """
    level_c = air_c + heater_w / felt_w_k
    fading = exp(-felt_w_k * span_s / coil.metal_j_k)
    after_c = level_c + (state.metal_c - level_c) * fading
    if state.frost_kg > 0.0 and after_c > 0.0:
        return _melt(coil, state, air_c, span_s, heater_w=heater_w, felt_w_k=felt_w_k)
    kept_w = coil.metal_j_k * (after_c - state.metal_c) / span_s
    state.metal_c = after_c
    return heater_w - kept_w


def _melt(
    coil: Coil, state: CoilState, air_c: float, span_s: float, *, heater_w: float, felt_w_k: float
) -> float:
    """Hold the metal at 0 °C; what is left of the heat melts frost."""
    kept_w = coil.metal_j_k * -state.metal_c / span_s
    to_air_w = -felt_w_k * air_c
    melted_kg = (heater_w - to_air_w - kept_w) * span_s / MELTING_J_KG
    if melted_kg <= state.frost_kg:
        state.frost_kg -= max(melted_kg, 0.0)
        state.metal_c = 0.0
        return to_air_w
    spare_w = (melted_kg - state.frost_kg) * MELTING_J_KG / span_s
    state.frost_kg = 0.0
    state.metal_c = spare_w * span_s / coil.metal_j_k
    return to_air_w
