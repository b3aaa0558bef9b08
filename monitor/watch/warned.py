"""What is told ahead of a limit, in the terms that alarms are told by."""

from typing import Any

from monitor.science import warm_up
from monitor.watch.contents import SURE, fitted, kept_now_c
from monitor.watch.nearing import Course
from monitor.watch.state import Run, Spell, Standing, Track
from monitor.watch.tail import trend_per_h
from monitor.watch.warming import Rising


def early_standing(track: Track) -> Standing:
    """Return how a channel stands by its own habits: told of, just over, or quiet."""
    warming = track.warming
    last = None if warming.over is None else _over(*warming.over)
    told = warming.told
    if told is None or warming.last_ms is None:
        return Standing(last=last)
    lasted_ms = warming.last_ms - told.began_ms
    run = Run(told.began_ms, lasted_ms, 0, told.peak_c)
    spell = Spell(told.began_ms, told.raised_ms or warming.last_ms, lasted_ms, 0, told.peak_c)
    return Standing(run=run, spell=spell, last=last)


def _over(rising: Rising, back_ms: int) -> Spell:
    raised_ms = rising.raised_ms or back_ms
    return Spell(
        rising.began_ms, raised_ms, back_ms - rising.began_ms, 0, rising.peak_c,
        back_ms=back_ms, hold_ms=back_ms, ended_ms=back_ms,
    )  # fmt: skip


def course_standing(track: Track, course: Course) -> Standing:
    """Return how a channel stands that heads for a limit: told of, just over, or quiet."""
    toward, over = course.toward, course.over
    last = None
    if over is not None:
        was, back_ms = over
        last = Spell(
            was.began_ms, was.raised_ms, back_ms - was.began_ms, 0, was.peak,
            back_ms=back_ms, hold_ms=back_ms, ended_ms=back_ms,
        )  # fmt: skip
    if toward is None or track.newest is None:
        return Standing(last=last)
    lasted_ms = track.newest.at_ms - toward.began_ms
    run = Run(toward.began_ms, lasted_ms, 0, toward.peak)
    spell = Spell(toward.began_ms, toward.raised_ms, lasted_ms, 0, toward.peak)
    return Standing(run=run, spell=spell, last=last)


def course_ended(track: Track, spell: Spell) -> bool:
    """Return whether a spell that ended was told ahead of a limit."""
    ends = [each.over.toward.raised_ms for each in track.courses if each.over is not None]
    return spell.raised_ms in ends


def course_facts(track: Track, raised_ms: int) -> dict[str, Any]:
    """Return that a limit is near, and between which times it is passed. [ms]"""
    towards = [each.toward for each in track.courses if each.toward is not None]
    toward = next((each for each in towards if each.raised_ms == raised_ms), None)
    if toward is None:
        return {}
    return {
        "nearing": True, "past_from_ms": toward.past_from_ms,
        "past_until_ms": toward.past_until_ms, "trend_per_h": toward.per_h,
    }  # fmt: skip


def warming_facts(track: Track, limit_c: float, lag_ms: int = 0) -> dict[str, Any]:
    """Return that it is warming, and between which times a limit is passed.

    Parameters
    ----------
    track : Track
        Of the air.
    limit_c : float
        The limit. [°C]
    lag_ms : int
        How slowly what is kept there follows the air; 0 where not known. [ms]

    Returns
    -------
    dict
        ``past_from_ms``, ``past_until_ms`` for the air, where that can be told; with a lag
        ``contents_c``, and ``contents_past_from_ms``, ``contents_past_until_ms``.
    """
    told = track.warming.told
    facts: dict[str, Any] = {"warming": True}
    if told is None or not track.tail_ms.size:
        return facts
    at_ms, value = track.tail_ms, track.tail_value
    since = at_ms >= told.from_ms
    facts["trend_per_h"] = trend_per_h(at_ms[since], value[since])
    kept_c = kept_now_c(track, lag_ms / 1000) if lag_ms else None
    if kept_c is not None:
        facts["contents_c"] = kept_c
    fits = fitted(track, told.from_ms, told.noise_k)
    if fits is None:
        return facts
    newest_ms = int(at_ms[-1])
    if value[-1] < limit_c:
        facts |= _between("past", warm_up.air_reaches(fits, limit_c), newest_ms)
    if kept_c is not None and kept_c < limit_c:
        reach = warm_up.contents_reach(fits, kept_c, lag_ms / 1000, limit_c)
        facts |= _between("contents_past", reach, newest_ms)
    return facts


def _between(name: str, reach: warm_up.Reach, newest_ms: int) -> dict[str, int]:
    if reach.chance <= SURE or reach.late_s == float("inf"):
        return {}
    return {
        f"{name}_from_ms": newest_ms + round(reach.early_s * 1000),
        f"{name}_until_ms": newest_ms + round(reach.late_s * 1000),
    }
