"""A plain cooler for tests: two exponentials, a timer's defrosts and doors.

Follows Newton's law on both sides of a thermostat, in steps of ten seconds, read once a
minute to 0.01 K with noise.
"""

from dataclasses import dataclass, field

import numpy as np

from monitor.science.series import Samples

TAU_S = 150.0 * 60.0
STEP_S = 10


@dataclass
class Cooler:
    """Warms to the room, cools to the cold side, between two settings."""

    room_c: float = 22.0
    cold_c: float = -8.0
    low_c: float = 1.0
    high_c: float = 3.0
    defrosts_h: tuple[float, ...] = ()
    doors_min: tuple[int, ...] = ()
    noise_k: float = 0.03
    seed: int = 1
    defrost_s: float = 1500.0
    door_s: float = 90.0
    air_c: float = field(default=2.0, init=False)

    def _defrosting(self, at_s: float) -> float | None:
        hour_s = at_s % 86_400.0
        for begin_h in self.defrosts_h:
            since = hour_s - begin_h * 3600.0
            if 0.0 <= since < self.defrost_s:
                return since
        return None

    def run(self, days: float, since_ms: int = 0) -> Samples:
        """Return the air once a minute."""
        running, values = False, []
        doors_s = [minute * 60.0 for minute in self.doors_min]
        for step in range(round(days * 86_400 / STEP_S)):
            at_s = step * STEP_S
            if at_s % 60 == 0:
                values.append(self.air_c)
            melting = self._defrosting(at_s)
            towards, tau_s = (self.cold_c if running else self.room_c), TAU_S
            if melting is not None:  # the frost melts first, then the heater warms the air
                towards = self.room_c if melting < self.defrost_s / 2.0 else 60.0
            if any(begin <= at_s < begin + self.door_s for begin in doors_s):
                towards, tau_s = self.room_c, 420.0
            self.air_c = towards + (self.air_c - towards) * float(np.exp(-STEP_S / tau_s))
            if melting is None:
                running = self.air_c >= self.high_c or (running and self.air_c > self.low_c)
        noise = np.random.default_rng(self.seed).normal(0.0, self.noise_k, len(values))
        at_ms = since_ms + np.arange(len(values), dtype=np.int64) * 60_000
        return Samples(at_ms, np.round(np.array(values) + noise, 2), 180.0)
