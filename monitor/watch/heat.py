"""When a tunnel passes its opening temperature this morning, as times of the clock."""

from dataclasses import dataclass
from math import isfinite
from typing import Final

from monitor.science.checking import Floats
from monitor.science.tunnel_heat import Basis, passing

HOUR_MS: Final = 3_600_000
LIKELY: Final = 0.5
_LEAD_MS: Final = 15 * 60_000
_SURE_AFTER_MS: Final = 3 * HOUR_MS // 2  # by then a morning's climb tells the hour to 30 min
_SOON_MS: Final = HOUR_MS
_AHEAD_MS: Final = 3 * HOUR_MS


@dataclass(frozen=True, slots=True)
class Heat:
    """When a place passes a limit [°C] today: 80 % range and middle [ms].

    ``late_ms`` is None where it may never be; ``chance`` is None where no like days of
    its own are known.
    """

    place: str
    limit_c: float
    rise_ms: int
    early_ms: int
    middle_ms: int
    late_ms: int | None
    chance: float | None
    days: int
    basis: Basis


def heat(place: str, limit_c: float, rise_ms: int, today: Floats, past: Floats) -> Heat | None:
    """Return when a place passes its limit, None where that is not said or not likely.

    Parameters
    ----------
    place : str
        Its id.
    limit_c : float
        Limit. [°C]
    rise_ms : int
        Sunrise of today. [ms]
    today, past : ndarray, shapes (72,) and (days, 72)
        Courses from sunrise, as `tunnel_heat.passing` takes them. [°C]
    """
    found = passing(today, past, limit_c)
    if found is None or not isfinite(found.middle_h):
        return None
    if found.chance is not None and found.chance < LIKELY:
        return None
    early, middle = (rise_ms + round(each * HOUR_MS) for each in found[:2])
    late = rise_ms + round(found.late_h * HOUR_MS) if isfinite(found.late_h) else None
    return Heat(place, limit_c, rise_ms, early, middle, late, found.chance, found.days, found.basis)


def worth_telling(told: Heat, now_ms: int) -> bool:
    """Return whether it is time to tell: sure enough, not too far off, and with some lead."""
    ahead_ms = told.middle_ms - now_ms
    if ahead_ms < _LEAD_MS:
        return False
    if told.basis is Basis.CLIMB_ALONE:
        return ahead_ms <= _SOON_MS
    return ahead_ms <= _AHEAD_MS and (
        now_ms - told.rise_ms >= _SURE_AFTER_MS or ahead_ms <= _SOON_MS
    )
