"""Samples that come after newer ones: they may complete the run that still lasts.

They never move the newest, clear nothing and shorten no delay: a run outside that they
show to have begun earlier, or to be better known, is told from its start.
"""

from dataclasses import replace

import numpy as np

from monitor.watch.events import Times, Values
from monitor.watch.judging import run_after
from monitor.watch.plan import ChannelPlan, Line
from monitor.watch.segments import segments, steps
from monitor.watch.state import Run, Standing, Track
from monitor.watch.tail import TAIL_MS, TAIL_SAMPLES


def mend(track: Track, plan: ChannelPlan, at_ms: Times, value: Values) -> Track:
    """Return a track that also knows late samples, in increasing time order.

    Only the last hours can be mended; what is older is left to the history.
    """
    if not track.tail_ms.size:
        return track
    late = (at_ms > track.tail_ms[-1] - TAIL_MS) & ~np.isin(at_ms, track.tail_ms)
    if not late.any():
        return track
    tail_ms = np.concatenate((track.tail_ms, at_ms[late]))
    order = np.argsort(tail_ms, kind="stable")[-TAIL_SAMPLES:]
    tail_value = np.concatenate((track.tail_value, value[late]))[order]
    mended = replace(track, tail_ms=tail_ms[order], tail_value=tail_value)
    standings = tuple(
        _mend_standing(standing, line, track, mended, plan.gap_ms)
        for line, standing in zip(plan.lines, track.standings, strict=True)
    )
    return replace(mended, standings=standings)


def _mend_standing(standing: Standing, line: Line, was: Track, now: Track, gap_ms: int) -> Standing:
    if standing.run is None:
        return standing
    run = _mended_run(standing.run, line, was, now, gap_ms)
    outlasted = line.tolerated_ms is not None and run.known_ms >= line.tolerated_ms
    if line.kind is None or standing.spell is not None or not outlasted:
        return replace(standing, run=run)
    return replace(standing, run=run, spell=run.spell(int(now.tail_ms[-1])))


def _mended_run(run: Run, line: Line, was: Track, now: Track, gap_ms: int) -> Run:
    """Return the run as the mended tail tells it; what lies before the tail stands."""
    after, inside = _tail_run(line, now, gap_ms)
    before, _ = _tail_run(line, was, gap_ms)
    if inside or before is None or after is None:
        return run if after is None else after
    return Run(
        began_ms=min(run.began_ms, after.began_ms),
        known_ms=run.known_ms + after.known_ms - before.known_ms,
        area=run.area + after.area - before.area,
        peak=after.peak if abs(after.peak - line.limit) > abs(run.peak - line.limit) else run.peak,
    )


def _tail_run(line: Line, track: Track, gap_ms: int) -> tuple[Run | None, bool]:
    """Return the run at the end of a tail, and whether the tail shows its beginning."""
    height = line.sign * (track.tail_value - line.limit)
    way = steps(track.tail_ms, gap_ms)
    seg = segments(way, height, limit_is_out=line.kind is not None)
    return run_after(None, seg, track.tail_value, line.side), not bool(seg.outside.all())
