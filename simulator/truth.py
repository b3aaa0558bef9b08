"""What really is, minute by minute, before any instrument has looked."""

from dataclasses import dataclass

from simulator.dice import Floats, Times


@dataclass(frozen=True, slots=True)
class Truth:
    """A place over a stretch of time; each row tells how it stands at ``at_ms``.

    Attributes
    ----------
    at_ms : ndarray of int64
        UTC. [ms]
    air_c, contents_c, soil_c : ndarray
        Air, what is kept there, and the soil (air's own where there is none). [°C]
    humidity_pct : ndarray
        Relative humidity over water. [%]
    door : ndarray
        Share of the step that the door was open.
    cooling, heating : ndarray
        Share of the step that each machine ran.
    mains : ndarray
        1 with mains, 0 without.
    """

    at_ms: Times
    air_c: Floats
    contents_c: Floats
    soil_c: Floats
    humidity_pct: Floats
    door: Floats
    cooling: Floats
    heating: Floats
    mains: Floats
