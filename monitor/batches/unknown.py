"""Hours that are not known, and whether they were long enough to hide harm.

A gap hides harm only if the air had time to run to the limit, stay there for the time
tolerated, and come back to where it was seen again. How fast a place can run is a
cautious setting of ours (from memory), by kind of place.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from monitor.batches.combining import Course
from monitor.batches.pieces import Piece
from monitor.model import Harm, PlaceKind, Quantity

AIR: Final = Quantity.TEMPERATURE
FASTEST_K_PER_H: Final[Mapping[PlaceKind, float]] = {
    PlaceKind.SPROUTING_ROOM: 3.0,
    PlaceKind.COOLER: 6.0,
    PlaceKind.DRY_STORE: 3.0,
    PlaceKind.SOAK_BUCKET: 5.0,
    PlaceKind.TUNNEL: 15.0,
    PlaceKind.FIELD: 8.0,
}
_FASTEST: Final = 15.0  # a place of no known kind
_WORTH_TELLING_S: Final = 1800.0


@dataclass(frozen=True, slots=True)
class Unknown:
    """A run of unknown air in one place; ``hides_harm`` where it was long enough to. [ms]"""

    place: str
    stage: str
    from_ms: int
    until_ms: int
    hides_harm: bool

    @property
    def duration_s(self) -> float:
        """Return how long it was. [s]"""
        return (self.until_ms - self.from_ms) / 1000


def unknown_air(part: Piece, course: Course, kind: PlaceKind | None) -> list[Unknown]:
    """Return the runs of a piece whose air is not known, those over half an hour.

    Parameters
    ----------
    part : Piece
        One place, one stage, one set of limits.
    course : Course
        Its air, already cut to the piece.
    kind : PlaceKind or None
        Of the place.
    """
    at_ms, value = course.samples.at_ms, course.samples.value
    gaps: list[tuple[int, int, float | None, float | None]] = []
    if not len(at_ms):
        gaps.append((part.since_ms, part.until_ms, None, None))
    else:
        cuts = np.flatnonzero(~course.samples.joined)
        gaps = [
            (int(at_ms[k]), int(at_ms[k + 1]), float(value[k]), float(value[k + 1])) for k in cuts
        ]
        gaps.insert(0, (part.since_ms, int(at_ms[0]), None, float(value[0])))
        gaps.append((int(at_ms[-1]), part.until_ms, float(value[-1]), None))
    rate = FASTEST_K_PER_H.get(kind, _FASTEST) if kind else _FASTEST
    band = part.bands.get(AIR)
    harm = band.harm if band is not None else None
    return [
        Unknown(part.place, part.stage, begin, end, _hides(harm, (end - begin) / 1000, ends, rate))
        for begin, end, *ends in gaps
        if end - begin > _WORTH_TELLING_S * 1000
    ]


def _hides(
    harm: Harm | None, lasted_s: float, ends: Sequence[float | None], rate_k_per_h: float
) -> bool:
    if harm is None:
        return False
    seen = [each for each in ends if each is not None]
    sides = ((harm.low, harm.tolerated_low_s, -1), (harm.high, harm.tolerated_high_s, 1))
    needed = [
        tolerated_s + sum(_run_s(limit - each, side, rate_k_per_h) for each in seen)
        for limit, tolerated_s, side in sides
        if limit is not None
    ]
    return any(lasted_s >= each for each in needed)


def _run_s(distance_k: float, side: int, rate_k_per_h: float) -> float:
    """Return the least time to run to a limit, 0 where it is beyond already. [s]"""
    return max(0.0, distance_k * side) / rate_k_per_h * 3600
