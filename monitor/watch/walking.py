"""One sample against one line, where a spell lasts or could begin, and for short packs.

The same sums as ``segments``, to the last digit: what a pack at once and its samples one
by one leave behind is the same.
"""

from typing import Final, NamedTuple

from monitor.model import Side
from monitor.watch.plan import Line
from monitor.watch.state import Newest, Run, Spell, Standing

_ROUNDING: Final = 1e-9  # a limit minus its deadband, in floating point


class _Move(NamedTuple):
    """The way from the sample before to this one, for one line."""

    at_ms: int
    value: float
    height: float
    outside: bool
    came_out: bool  # the sample before was outside
    known: bool
    gap_ms: int  # unknown time
    spent_ms: int
    area: int
    cross_ms: int


def follow(
    before: Standing, line: Line, was: Newest | None, now: Newest, gap_ms: int
) -> tuple[Standing, Spell | None]:
    """Judge one sample by one line; also return the spell that it ended.

    Parameters
    ----------
    before : Standing
        How the channel stood at the sample before.
    line : Line
        The limit.
    was : Newest or None
        The sample before; None where there is none.
    now : Newest
        The sample.
    gap_ms : int
        The longest gap that may be interpolated. [ms]
    """
    move = _move(line, was, now, gap_ms)
    run = _run(before.run, line, move)
    whole_ms = before.whole_ms + move.spent_ms
    spell, last, told_times = before.spell, before.last, before.told_times
    ended = None
    if line.kind is not None:
        if spell is not None:
            spell, ended = _spell(spell, run, line, move)
            last = ended or last
        elif run is not None and _outlasted(run, line, whole_ms, told_times):
            spell = run.spell(move.at_ms)
        if line.cumulative_ms is not None and spell is not None:
            told_times = whole_ms // line.cumulative_ms
    since_ms = _inside_since(before, move)
    whole_area = before.whole_area + move.area
    return Standing(since_ms, run, spell, last, whole_ms, whole_area, told_times), ended


def _move(line: Line, was: Newest | None, now: Newest, gap_ms: int) -> _Move:
    at_ms, value = now
    harm, sign = line.kind is not None, line.sign
    height = sign * (value - line.limit)
    outside = height >= 0.0 if harm else height > 0.0
    known = was is not None and at_ms - was.at_ms <= gap_ms
    if was is None:
        return _Move(at_ms, value, height, outside, known, known, 0, 0, 0, at_ms)
    span = at_ms - was.at_ms
    before = sign * (was.value - line.limit)
    came_out = before >= 0.0 if harm else before > 0.0
    if not known:
        return _Move(at_ms, value, height, outside, came_out, known, span, 0, 0, at_ms)
    if outside == came_out:
        spent, beyond = (span, (before + height) / 2.0) if outside else (0, 0.0)
        area = round(beyond * span)
        return _Move(at_ms, value, height, outside, came_out, known, 0, spent, area, at_ms)
    steep = before - height
    cross = was.at_ms + round(before / steep * span)
    top = height if outside else before
    area = round(top * top / (2.0 * abs(steep)) * span)
    spent = at_ms - cross if outside else cross - was.at_ms
    return _Move(at_ms, value, height, outside, came_out, known, 0, spent, area, cross)


def _run(run: Run | None, line: Line, move: _Move) -> Run | None:
    if not move.outside:
        return None
    if run is None:
        return Run(move.cross_ms, move.spent_ms, move.area, move.value)
    peak = _further(line, run.peak, move.value)
    return Run(run.began_ms, run.known_ms + move.spent_ms, run.area + move.area, peak)


def _further(line: Line, peak: float, value: float) -> float:
    return max(peak, value) if line.side is Side.HIGH else min(peak, value)


def _outlasted(run: Run, line: Line, whole_ms: int, told_times: int) -> bool:
    if line.cumulative_ms is not None:
        return whole_ms // line.cumulative_ms > told_times
    return run.known_ms >= (line.tolerated_ms or 0)


def _inside_since(before: Standing, move: _Move) -> int | None:
    if move.outside:
        return None
    if move.came_out:
        return move.cross_ms
    return move.at_ms if before.inside_since_ms is None else before.inside_since_ms


def _spell(
    spell: Spell, run: Run | None, line: Line, move: _Move
) -> tuple[Spell | None, Spell | None]:
    """Return the spell that goes on, or None and the one that ended.

    One that the ledger knows of already is taken up at the sample that raised it.
    """
    if move.at_ms <= spell.raised_ms:
        if run is not None and move.at_ms == spell.raised_ms:
            return run.spell(move.at_ms), None
        return spell, None
    back_ms, hold_ms = _back(spell, move), _hold(spell, line, move)
    over = hold_ms is not None and move.at_ms - hold_ms >= line.off_delay_ms
    after = Spell(
        began_ms=spell.began_ms,
        raised_ms=spell.raised_ms,
        known_ms=spell.known_ms + move.spent_ms,
        area=spell.area + move.area,
        peak=_further(line, spell.peak, move.value),
        unknown_ms=spell.unknown_ms + move.gap_ms,
        back_ms=hold_ms if over and back_ms is None else back_ms,
        hold_ms=hold_ms,
        ended_ms=move.at_ms if over else None,
    )
    return (None, after) if over else (after, None)


def _back(spell: Spell, move: _Move) -> int | None:
    if move.outside:
        return None
    return move.cross_ms if move.came_out else spell.back_ms


def _hold(spell: Spell, line: Line, move: _Move) -> int | None:
    if move.outside or move.height > _ROUNDING - line.deadband:
        return None
    if spell.hold_ms is None or not move.known:
        return move.at_ms
    return spell.hold_ms
