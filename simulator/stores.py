"""Plain places: a dry store, and a bucket that corms soak in."""

from simulator.door import Door
from simulator.room import Heating, Room


def dry_store(lag_s: float = 7_200.0) -> Room:
    """Return a room of 20 m³ in the shed: it follows the shed, slowly. Lag in [s]."""
    air_kg = 25.0
    return Room(
        air_j_k=8.0 * 1_006.0 * air_kg,
        contents_j_k=900_000.0,
        ua_w_k=30.0,
        moisture_kg=6.0 * air_kg,
        contents_lag_s=lag_s,
        leak_kg_s=0.5 * air_kg / 3_600.0,
        door=Door(1.6, 2.0),
    )


def soak_bucket(lag_s: float = 14_400.0) -> Room:
    """Return a warmed corner of the shed with 40 litres of water in it. Lag in [s]."""
    air_kg = 25.0
    return Room(
        air_j_k=4.0 * 1_006.0 * air_kg,
        contents_j_k=4_186.0 * 40.0,
        ua_w_k=30.0,
        moisture_kg=air_kg,
        contents_lag_s=lag_s,
        wet_kg_s=0.002,
        leak_kg_s=air_kg / 3_600.0,
        heating=Heating(1_200.0, 17.5, 19.5),
    )
