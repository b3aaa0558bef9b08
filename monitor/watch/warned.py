"""A cooler that warms as it never does, in the terms that alarms are told by."""

from typing import Any, Final

from monitor.errors import OutOfRangeError
from monitor.science import lag, warm_up
from monitor.science.series import Samples
from monitor.watch.state import Run, Spell, Standing, Track
from monitor.watch.tail import trend_per_h
from monitor.watch.warming import Rising

_ROOM_C: Final = 20.0  # outside the cooler: not known, so a wide range
_ROOM_SD_K: Final = 6.0
_LEAST_NOISE_K: Final = 0.05
_GAP_S: Final = 1800.0
_SURE: Final = 0.5


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
    kept_c = _kept_c(track, lag_ms)
    if kept_c is not None:
        facts["contents_c"] = kept_c
    try:
        air = Samples(at_ms[since], value[since], _GAP_S)
        fits = warm_up.fit(air, _ROOM_C, max(told.noise_k, _LEAST_NOISE_K), _ROOM_SD_K)
    except OutOfRangeError:
        return facts
    newest_ms = int(at_ms[-1])
    if value[-1] < limit_c:
        facts |= _between("past", warm_up.air_reaches(fits, limit_c), newest_ms)
    if kept_c is not None and kept_c < limit_c:
        reach = warm_up.contents_reach(fits, kept_c, lag_ms / 1000, limit_c)
        facts |= _between("contents_past", reach, newest_ms)
    return facts


def _kept_c(track: Track, lag_ms: int) -> float | None:
    """Return how warm what is kept there is, by the air of the last hours. [°C]"""
    if not lag_ms:
        return None
    air = Samples(track.tail_ms, track.tail_value, _GAP_S)
    return float(lag.follow(air, lag_ms / 1000).value_c[-1])


def _between(name: str, reach: warm_up.Reach, newest_ms: int) -> dict[str, int]:
    if reach.chance <= _SURE or reach.late_s == float("inf"):
        return {}
    return {
        f"{name}_from_ms": newest_ms + round(reach.early_s * 1000),
        f"{name}_until_ms": newest_ms + round(reach.late_s * 1000),
    }
