"""What goes wrong, when, and in which place or sensor."""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from simulator.dice import Floats, Times


class FaultKind(StrEnum):
    """The faults that can be played."""

    COMPRESSOR_DEAD = "compressor_dead"
    CAPACITY_LOST = "capacity_lost"  # slowly: `size` is the share lost a day
    COOLING_STUCK_ON = "cooling_stuck_on"
    HEATER_DEAD = "heater_dead"
    HEATER_STUCK_ON = "heater_stuck_on"
    DOOR_AJAR = "door_ajar"  # `size` is the share it stands open
    DEFROST_STUCK_ON = "defrost_stuck_on"
    MAINS_OUT = "mains_out"  # the whole farm
    SENSOR_DEATH = "sensor_death"
    STUCK_VALUE = "stuck_value"
    DRIFT = "drift"  # `size` [K a day], or [% a day] for humidity
    GATEWAY_DARK = "gateway_dark"  # every sensor, or those of one place
    FROST_NIGHT = "frost_night"  # `size` is the night's lowest air outside [°C]
    TUNNEL_CLOSED = "tunnel_closed"  # nobody vents: heat by day


PLACE_FAULTS = frozenset({
    FaultKind.COMPRESSOR_DEAD, FaultKind.CAPACITY_LOST, FaultKind.COOLING_STUCK_ON,
    FaultKind.HEATER_DEAD, FaultKind.HEATER_STUCK_ON, FaultKind.DOOR_AJAR,
    FaultKind.DEFROST_STUCK_ON, FaultKind.TUNNEL_CLOSED,
})  # fmt: skip
SENSOR_FAULTS = frozenset({FaultKind.SENSOR_DEATH, FaultKind.STUCK_VALUE, FaultKind.DRIFT})

USUAL_SIZE = {
    FaultKind.CAPACITY_LOST: 0.15,
    FaultKind.DOOR_AJAR: 0.15,
    FaultKind.DRIFT: 0.5,
    FaultKind.FROST_NIGHT: -5.0,
}


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault: its kind, where, from when until when (None: it stays). [ms]

    ``subject`` is the id of a place or a sensor; empty means the whole farm.
    """

    kind: FaultKind
    start_ms: int
    subject: str = ""
    until_ms: int | None = None
    size: float | None = None

    @property
    def strength(self) -> float:
        """How strong it is, in its kind's own unit."""
        return USUAL_SIZE.get(self.kind, 1.0) if self.size is None else self.size

    def active(self, at_ms: Times) -> Floats:
        """Return 1 where the fault is on, else 0."""
        on = at_ms >= self.start_ms
        if self.until_ms is not None:
            on &= at_ms < self.until_ms
        return on.astype(np.float64)

    def days(self, at_ms: Times) -> Floats:
        """Return for how long it has been on; 0 where it is not. [days]"""
        return np.maximum(at_ms - self.start_ms, 0) / 86_400_000.0 * self.active(at_ms)
