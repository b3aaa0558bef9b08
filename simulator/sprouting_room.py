"""A dark sprouting room: small, wet, heated and cooled around the middle of its band."""

from simulator.coil import Coil
from simulator.door import Door
from simulator.room import Cooling, Heating, Room


def sprouting_room(
    low_c: float, high_c: float, lag_s: float = 5_400.0, kept_kg: float = 250.0
) -> Room:
    """Return a room of 14 m³ with a 900 W heater and a 1.2 kW cooler.

    Parameters
    ----------
    low_c, high_c : float
        The band it is kept in; each machine acts in its own outer quarter. [°C]
    lag_s : float
        Time constant of the trays. [s]
    kept_kg : float
        Trays, moist mix and corms. [kg]
    """
    middle_c, half_k = (low_c + high_c) / 2.0, (high_c - low_c) / 2.0
    air_kg = 1.25 * 14.0
    coil = Coil(
        difference_k=3.5, flow_kg_s=0.35, metal_j_k=4_000.0, blown_w_k=140.0, still_w_k=20.0,
        heater_w=0.0,
    )  # fmt: skip
    return Room(
        air_j_k=6.0 * 1_006.0 * air_kg,
        contents_j_k=3_300.0 * kept_kg,
        ua_w_k=22.0,
        moisture_kg=2.0 * air_kg,
        contents_lag_s=lag_s,
        fan_w=35.0,
        respiration_w=0.02 * kept_kg,
        wet_kg_s=0.0006 * kept_kg,
        leak_kg_s=0.5 * air_kg / 3_600.0,
        door=Door(1.6, 2.0),
        cooling=Cooling(1_200.0, middle_c + 0.1 * half_k, middle_c + 0.5 * half_k, coil),
        heating=Heating(900.0, middle_c - 0.5 * half_k, middle_c - 0.1 * half_k),
    )
