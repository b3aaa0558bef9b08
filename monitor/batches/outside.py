"""A batch's times out: runs of known time outside an ideal or a harm limit."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import NamedTuple

from monitor.batches.combining import Course
from monitor.batches.pieces import Piece
from monitor.model import Band, Quantity, Side
from monitor.science.exposure import Excursion, excursions


class Depth(StrEnum):
    """Which limits a time out lies outside of."""

    DRIFT = "drift"
    HARM = "harm"


@dataclass(frozen=True, slots=True)
class TimeOut:
    """A run of known time outside a limit. [ms], [°C] or [%], degree-hours [unit times h]

    ``too_long`` says that a harm limit was passed for at least the time tolerated.
    ``began`` and ``ended`` are False where a gap or an end of the record cuts the run:
    it may have lasted longer.
    """

    place: str
    quantity: Quantity
    depth: Depth
    side: Side
    limit: float
    from_ms: int
    until_ms: int
    peak: float
    degree_hours: float
    tolerated_s: float | None
    began: bool
    ended: bool

    @property
    def duration_s(self) -> float:
        """Return how long it is known to have lasted. [s]"""
        return (self.until_ms - self.from_ms) / 1000

    @property
    def too_long(self) -> bool:
        """Return whether it lasted at least the time that harm is tolerated for."""
        return self.tolerated_s is not None and self.duration_s >= self.tolerated_s


class _Limit(NamedTuple):
    depth: Depth
    side: Side
    value: float
    tolerated_s: float | None


def _limits(band: Band) -> Iterator[_Limit]:
    if band.ideal is not None:
        if band.ideal.low is not None:
            yield _Limit(Depth.DRIFT, Side.LOW, band.ideal.low, None)
        if band.ideal.high is not None:
            yield _Limit(Depth.DRIFT, Side.HIGH, band.ideal.high, None)
    if band.harm is not None:
        if band.harm.low is not None:
            yield _Limit(Depth.HARM, Side.LOW, band.harm.low, band.harm.tolerated_low_s)
        if band.harm.high is not None:
            yield _Limit(Depth.HARM, Side.HIGH, band.harm.high, band.harm.tolerated_high_s)


def times_out(quantity: Quantity, met: Sequence[tuple[Piece, Course]]) -> list[TimeOut]:
    """Return a quantity's times out through pieces that follow each other.

    A run that goes on from one piece into the next is one, where the limit is the same.
    """
    found: list[TimeOut] = []
    for part, course in met:
        band = part.bands.get(quantity)
        for limit in _limits(band) if band is not None else ():
            runs = excursions(
                course.samples, limit.side, limit.value, limit_is_out=limit.depth is Depth.HARM
            )
            found += [_out(part, quantity, limit, run) for run in runs]
    return sorted(_joined(found), key=lambda out: (out.from_ms, out.depth, out.side))


def _out(part: Piece, quantity: Quantity, limit: _Limit, run: Excursion) -> TimeOut:
    return TimeOut(
        place=part.place, quantity=quantity, depth=limit.depth, side=limit.side,
        limit=limit.value, from_ms=run.from_ms, until_ms=run.until_ms, peak=run.peak,
        degree_hours=run.degree_hours, tolerated_s=limit.tolerated_s,
        began=run.began, ended=run.ended,
    )  # fmt: skip


def _joined(found: Sequence[TimeOut]) -> list[TimeOut]:
    """Join the runs that a cut between two pieces parted."""
    kept: list[TimeOut] = []
    by_limit: dict[tuple[Depth, Side, float], int] = {}
    for out in sorted(found, key=lambda each: each.from_ms):
        key = (out.depth, out.side, out.limit)
        at = by_limit.get(key)
        if at is not None and kept[at].until_ms == out.from_ms and not kept[at].ended:
            kept[at] = _one(kept[at], out)
        else:
            by_limit[key] = len(kept)
            kept.append(out)
    return kept


def _one(first: TimeOut, second: TimeOut) -> TimeOut:
    worst = max if first.side is Side.HIGH else min
    return replace(
        first, until_ms=second.until_ms, peak=worst(first.peak, second.peak), ended=second.ended,
        degree_hours=first.degree_hours + second.degree_hours,
    )  # fmt: skip


def used_up_ms(outs: Sequence[TimeOut], allowed: Sequence[tuple[str, float]]) -> int | None:
    """Return when a harm limit's whole tolerated time was first used up in one place. [ms]

    Parameters
    ----------
    outs : sequence of TimeOut
        Of one quantity, in order of time.
    allowed : sequence of (str, float)
        Each place's whole tolerated time [s], where its band sets one.
    """
    limits = dict(allowed)
    used_s: dict[str, float] = {}
    for out in outs:
        if out.depth is not Depth.HARM or out.place not in limits:
            continue
        before_s = used_s.get(out.place, 0.0)
        used_s[out.place] = before_s + out.duration_s
        if used_s[out.place] >= limits[out.place]:
            return out.from_ms + round((limits[out.place] - before_s) * 1000)
    return None
