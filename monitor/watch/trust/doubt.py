"""A doubt: which rule, since when, and what it does to judging."""

from dataclasses import dataclass, field
from enum import StrEnum

from monitor.model import Side


class Reason(StrEnum):
    """Why a channel is not, or not wholly, believed."""

    IMPOSSIBLE = "impossible"  # no place here is like that
    HELD = "held"  # leapt to a value, and exactly the same since
    FLAT = "flat"  # exactly the same for hours while others, or it itself, would move
    ODD_ONE = "odd_one"  # far from two or more that agree
    SUNRISE = "sunrise"  # sun on the probe, not heat in the air
    APART = "apart"  # two of a place, further apart than is usual for them
    CLOCK = "clock"  # its own time is not credible
    UNIT = "unit"  # reads as the other unit


_BOTH = frozenset(Side)


@dataclass(frozen=True, slots=True)
class Doubt:
    """One channel in doubt since a time; ``sides`` are the limits that it may not judge.

    ``told`` says whether it is worth an alarm; ``value`` is what it says, ``others`` what
    the others of the place say at the same time. [°C or %]
    """

    reason: Reason
    since_ms: int
    value: float
    sides: frozenset[Side] = field(default=_BOTH)
    told: bool = True
    others: float | None = None
