"""What a spell out of band cost stems: the cooler time that they aged beyond the usual.

The stems follow the air by their place's lag, across a gap as if the air ran straight; what
they age there is not counted. From the end of the spell they cool down again, which is
reckoned on as if the air stood at the temperature that they are kept at.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from monitor.science.lag import follow, held_step_c
from monitor.science.series import Samples, clip
from monitor.science.storage_life import GREATEST_C, LEAST_C, Q10, Ageing, aged

LEAD_TAUS: Final = 6.0
"""How long before a spell the air is to be known, so that its start is settled to 0.3 %."""
_COOLED_TAUS: Final = 8.0
_COOLING_STEPS: Final = 200
_ANY_GAP_S: Final = 1e12
_DAY_S: Final = 86_400.0


@dataclass(frozen=True, slots=True)
class Kept:
    """Stems in a place: how fast they age, where they are to be kept [°C], since when. [ms]"""

    q10: Q10
    at_c: float
    since_ms: int


@dataclass(frozen=True, slots=True)
class Spent:
    """The time at ``kept.at_c`` that stems aged beyond the time that passed. [s]

    ``most_c`` and ``least_c`` are the stems' own extremes in the known time. ``outside_s``
    lay outside the ageing model, so that ``extra_s`` is a least figure.
    """

    kept: Kept
    extra_s: float
    most_c: float
    least_c: float
    known_s: float
    unknown_s: float
    outside_s: float


def spent(air: Samples, lag_s: float, from_ms: int, until_ms: int, kept: Kept) -> Spent | None:
    """Return what a spell cost; None where nothing of it is known.

    Parameters
    ----------
    air : Samples
        From ``LEAD_TAUS`` lags before the spell, where it is known. [°C]
    lag_s : float
        Time constant of what is kept there; 0 where it is as warm as the air. [s]
    from_ms, until_ms : int
        The spell, from its first crossing to the reading that ended it. [ms]
    kept : Kept
        What is kept there.
    """
    from_ms = max(from_ms, kept.since_ms)
    if from_ms >= until_ms:
        return None
    stems = clip(_stems(air, lag_s), from_ms, until_ms)
    if not stems.known_s:
        return None
    at_c = min(max(kept.at_c, LEAST_C), GREATEST_C)
    during = aged(stems, kept.q10, at_c)
    after = aged(_cooling(float(stems.value[-1]), at_c, lag_s), kept.q10, at_c)
    return Spent(
        kept=kept,
        extra_s=max(0.0, _extra_s(during) + _extra_s(after)),
        most_c=float(stems.value.max()),
        least_c=float(stems.value.min()),
        known_s=during.known_s,
        unknown_s=max(0.0, (until_ms - from_ms) / 1000.0 - during.known_s),
        outside_s=during.outside_s,
    )


def _stems(air: Samples, lag_s: float) -> Samples:
    if lag_s <= 0:
        return air
    bridged = Samples(air.at_ms, air.value, _ANY_GAP_S)
    return Samples(air.at_ms, follow(bridged, lag_s).value_c, air.allowed_gap_s)


def _cooling(from_c: float, to_c: float, lag_s: float) -> Samples:
    """Return stems that cool down to where they are kept; nothing where they are no warmer."""
    if lag_s <= 0 or from_c <= to_c:
        return Samples(np.empty(0, dtype=np.int64), np.empty(0), _ANY_GAP_S)
    at_s = np.linspace(0.0, _COOLED_TAUS * lag_s, _COOLING_STEPS + 1)
    value_c = held_step_c(from_c, to_c, at_s, lag_s)
    return Samples(np.round(at_s * 1000.0).astype(np.int64), value_c, _ANY_GAP_S)


def _extra_s(ageing: Ageing) -> float:
    return ageing.equivalent_days * _DAY_S - (ageing.known_s - ageing.outside_s)
