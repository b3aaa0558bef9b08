"""One channel against one line: the run that lasts, and the spell that alarms.

A run that lasts to the newest sample is found for a whole pack at once; only where a
spell lasts, or could begin, the samples are walked one by one. Decisions fall at
samples, never by their absence; a gap counts for no delay, and what was outside before
and after it is one run of which the gap is unknown.
"""

from typing import Final

import numpy as np

from monitor.model import Side
from monitor.watch.events import Times, Values
from monitor.watch.plan import Line
from monitor.watch.segments import Flags, Segments, Steps, segments
from monitor.watch.state import Newest, Run, Spell, Standing
from monitor.watch.walking import follow

_NEVER: Final = np.iinfo(np.int64).min
_FEW: Final = 8  # samples: fewer are walked faster than they are put into columns


def untouched(before: Standing, line: Line, low: float, high: float) -> bool:
    """Return whether a pack between two values leaves a standing just as it was."""
    if before.run is not None or before.spell is not None or before.inside_since_ms is None:
        return False
    return high < line.limit if line.side is Side.HIGH else low > line.limit


def advance(
    before: Standing, line: Line, way: Steps, value: Values, gap_ms: int, *, joined: bool
) -> tuple[Standing, tuple[Spell, ...]]:
    """Judge a pack by one line; also return the spells that ended within it.

    Parameters
    ----------
    before : Standing
        How the channel stood at the newest sample before the pack.
    line : Line
        The limit, in the unit of the values.
    way : Steps
        The samples' times; with ``joined`` the first is that newest sample before the
        pack, else nothing is known before the first.
    value : ndarray
        The samples. [°C or %]
    gap_ms : int
        The longest gap that may be interpolated. [ms]
    joined : bool
        Whether the first sample was judged before.
    """
    if len(value) <= _FEW:
        return _walk(before, line, way.at_ms, value, gap_ms, joined=joined)
    seg = segments(way, line.sign * (value - line.limit), limit_is_out=line.kind is not None)
    if line.kind is not None and (
        before.spell is not None or _raising(before, line, seg)[int(joined) :].any()
    ):
        return _walk(before, line, way.at_ms, value, gap_ms, joined=joined)
    after = Standing(
        inside_since_ms=_inside_since(before, seg),
        run=run_after(before.run, seg, value, line.side),
        spell=None,
        last=before.last,
        whole_ms=before.whole_ms + int(seg.spent_ms.sum()),
        whole_area=before.whole_area + int(seg.area.sum()),
        told_times=before.told_times,
    )
    return after, ()


def _walk(
    standing: Standing, line: Line, at_ms: Times, value: Values, gap_ms: int, *, joined: bool
) -> tuple[Standing, tuple[Spell, ...]]:
    """Judge a pack sample by sample."""
    ended: list[Spell] = []
    was: Newest | None = None
    samples = map(Newest._make, zip(at_ms.tolist(), value.tolist(), strict=True))
    if joined:
        was = next(samples)
    for now in samples:
        standing, spell = follow(standing, line, was, now, gap_ms)
        was = now
        if spell is not None:
            ended.append(spell)
    return standing, tuple(ended)


def run_after(run: Run | None, seg: Segments, value: Values, side: Side) -> Run | None:
    """Return the run that lasts at the last sample, or None inside the limit."""
    if not seg.outside[-1]:
        return None
    inside = np.flatnonzero(~seg.outside)
    start = int(inside[-1]) if inside.size else 0
    values = value[start + 1 :] if inside.size else value
    fresh = Run(
        began_ms=int(seg.cross_ms[start]) if inside.size else int(seg.at_ms[0]),
        known_ms=int(seg.spent_ms[start:].sum()),
        area=int(seg.area[start:].sum()),
        peak=extreme(values, side),
    )
    return fresh if inside.size or run is None else continued(run, fresh, side)


def continued(run: Run, more: Run, side: Side) -> Run:
    """Return a run lengthened by what came after it."""
    return Run(
        began_ms=run.began_ms,
        known_ms=run.known_ms + more.known_ms,
        area=run.area + more.area,
        peak=max(run.peak, more.peak) if side is Side.HIGH else min(run.peak, more.peak),
    )


def extreme(values: Values, side: Side) -> float:
    """Return the value furthest out on a side."""
    return float(values.max() if side is Side.HIGH else values.min())


def _inside_since(before: Standing, seg: Segments) -> int | None:
    """Return since when the value is inside; None while it is outside. [ms]"""
    if seg.outside[-1]:
        return None
    outside = np.flatnonzero(seg.outside)
    if outside.size:
        return int(seg.cross_ms[int(outside[-1])])
    return int(seg.at_ms[0]) if before.inside_since_ms is None else before.inside_since_ms


def _raising(before: Standing, line: Line, seg: Segments) -> Flags:
    """Return at which samples the line is outside for longer than it may be."""
    total = np.concatenate((np.zeros(1, dtype=np.int64), np.cumsum(seg.spent_ms)))
    if line.cumulative_ms is not None:
        times = (before.whole_ms + total) // line.cumulative_ms
        return seg.outside & (times > before.told_times)
    base = np.where(seg.outside, _NEVER, total)
    if seg.outside[0]:
        base[0] = 0 if before.run is None else -before.run.known_ms
    elapsed = total - np.maximum.accumulate(base)
    return seg.outside & (elapsed >= (line.tolerated_ms or 0))
