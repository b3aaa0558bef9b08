"""Whether a cooler works harder than it used to, by its own cycle, day by day.

While the machine rests the air climbs by what comes in; while it runs the air falls by what
the machine takes away less what comes in. The sum of the two rates is the machine alone:
neither a hot day nor a busy one changes it much, and a dial that was turned does not. A day
is known where its cycles are many and each is read often enough; else nothing is said.

References
----------
Energy balance of the air, C dT/dt = G at rest, G - Q running: their difference is Q / C
[K/h], and the share of running is G / Q (any text on control; from memory). Six days, two
days in a row and 8 % were chosen by trial on seeds 1 and 2 (common practice otherwise).
"""

from typing import Final, NamedTuple

import numpy as np

from monitor.science.cycle import Cycles, cycles, turns
from monitor.science.series import Samples
from monitor.watch.events import Times, Values

KEPT_DAYS: Final = 28
LEAST_DAYS: Final = 6
_LATELY: Final = 2  # days in a row that must say it
_LEAST_CYCLES: Final = 30
_LEAST_SAMPLES: Final = 6.0  # a cycle
_LEAST_SWING_K, _SWING_NOISES, _SWING_DIGITS = 0.3, 4.0, 2.2
_LEAST_LOSS, _LOSS_SPREADS = 0.08, 2.5
_MOST_SPREAD: Final = 0.08
_BACK: Final = 0.5  # of the loss that was told: over again
_GAPS: Final = 3.0


class Worked(NamedTuple):
    """One day: what the machine takes from the air alone [K/h], and the share it runs."""

    strength_k_h: float
    share: float


class Harder(NamedTuple):
    """Since when a cooler works harder [ms], and against what: days of old, and of late."""

    since_ms: int
    before: Worked
    now: Worked

    @property
    def loss(self) -> float:
        """Return the share of its strength that the machine has lost."""
        return 1.0 - self.now.strength_k_h / self.before.strength_k_h


def worked(at_ms: Times, air_c: Values) -> Worked | None:
    """Return how a cooler worked on a day, None where its air does not tell.

    Parameters
    ----------
    at_ms, air_c : ndarray
        The day's readings, in order. [ms], [°C]
    """
    if at_ms.size < _LEAST_CYCLES * _LEAST_SAMPLES:
        return None
    bend = np.abs(air_c[2:] - 2.0 * air_c[1:-1] + air_c[:-2])
    noise_k = float(np.median(bend)) / (0.6745 * 6.0**0.5)
    steps = np.diff(np.unique(air_c))
    digit_k = float(steps[steps > 1e-6].min(initial=1.0))  # noqa: PLR2004  # no digit is finer
    swing_k = max(_LEAST_SWING_K, _SWING_NOISES * noise_k, _SWING_DIGITS * digit_k)
    every_s = float(np.median(np.diff(at_ms))) / 1000.0
    air = Samples(at_ms, air_c, _GAPS * every_s)
    of = cycles(air, turns(air, swing_k))
    if len(of.from_ms) < _LEAST_CYCLES or np.median(of.period_s) < _LEAST_SAMPLES * every_s:
        return None
    return _typical(of)


def _typical(of: Cycles) -> Worked:
    climb = (of.high_c - of.low_c) / of.rise_s
    fall = of.swing_k / (of.period_s - of.rise_s)
    strength_k_h = 3600.0 * float(np.median(climb) + np.median(fall))
    return Worked(strength_k_h, float(np.median(of.running_share)))


def harder_after(
    before: Harder | None, days: tuple[Worked | None, ...], now_ms: int
) -> Harder | None:
    """Return whether it works harder once a day is over, by the newest days, oldest first.

    What was told stays until two days in a row have half of the loss back.
    """
    lately = [each for each in days[-_LATELY:] if each is not None]
    if len(lately) < _LATELY:
        return before
    best = max(each.strength_k_h for each in lately)
    if before is not None:
        worst = min(each.strength_k_h for each in lately)
        back = worst >= (1.0 - _BACK * before.loss) * before.before.strength_k_h
        return None if back else before
    norm = _norm([each for each in days[:-_LATELY] if each is not None])
    if norm is None or best > (1.0 - norm[1]) * norm[0].strength_k_h:
        return None
    return Harder(now_ms, norm[0], lately[-1])


def _norm(days: list[Worked]) -> tuple[Worked, float] | None:
    """Return the usual day and the loss that is more than chance; None where it varies."""
    if len(days) < LEAST_DAYS:
        return None
    strength = np.array([each.strength_k_h for each in days])
    usual = float(np.median(strength))
    spread = 1.4826 * float(np.median(np.abs(strength - usual))) / usual
    if spread > _MOST_SPREAD:
        return None
    share = float(np.median([each.share for each in days]))
    return Worked(usual, share), max(_LEAST_LOSS, _LOSS_SPREADS * spread)
