"""A cooler that is being loaded: its warm air is expected until the hold is over.

The hold hides neither freezing, nor a bound on a whole stay, nor that what is kept there
is past its harm limit or will be before the hold is over. It depends on the time alone, so
that a replay tells the same.
"""

from collections.abc import Sequence
from typing import Final

from monitor.model import AlarmKind, PlaceKind
from monitor.science import lag, warm_up
from monitor.watch.contents import SURE, fitted, kept_now_c
from monitor.watch.plan import PlacePlan
from monitor.watch.state import Track
from monitor.watch.tail import trend_per_h
from monitor.watch.usual import Lasting

LOADING: Final = "loading"
_LAG_S: Final = 7_200.0
"""How slowly stems in water follow the air, where nobody said: common practice. [s]"""
_RISES_K_H: Final = 0.5


def held_until_ms(place: PlacePlan, now_ms: int) -> int:
    """Return until when a place is being loaded; 0 where it is not. [ms]"""
    return max((end for begin, end in place.loadings if begin <= now_ms < end), default=0)


def ended_ms(place: PlacePlan, now_ms: int) -> int:
    """Return when the last loading of a place was over, at the latest now; 0 for never. [ms]"""
    return max((end for _, end in place.loadings if end <= now_ms), default=0)


def explained_until_ms(
    place: PlacePlan, kind: AlarmKind, lasting: Sequence[Lasting], now_ms: int
) -> int:
    """Return until when loading explains every limit that has lasted; 0 where it does not. [ms]"""
    until_ms = held_until_ms(place, now_ms)
    warm = kind is AlarmKind.TOO_WARM and place.kind is PlaceKind.COOLER
    if not until_ms or not lasting or not warm:
        return 0
    if any(each.line.cumulative_ms is not None for each in lasting):
        return 0
    return 0 if any(_harmed(place, each.track, until_ms) for each in lasting) else until_ms


def _harmed(place: PlacePlan, track: Track, until_ms: int) -> bool:
    """Return whether what is kept is past its harm limit, or will be before the hold ends."""
    at_ms, value = track.tail_ms, track.tail_value
    if place.top_c is None or not at_ms.size:
        return False
    lag_s = place.lag_ms / 1000 or _LAG_S
    kept_c = kept_now_c(track, lag_s)
    left_s = (until_ms - int(at_ms[-1])) / 1000
    if kept_c >= place.top_c:
        return True
    if left_s > 0 and lag.held_step_c(kept_c, float(value[-1]), left_s, lag_s) >= place.top_c:
        return True
    trend = trend_per_h(at_ms, value)
    if trend is None or trend < _RISES_K_H:
        return False
    rising = track.warming.rising
    begun_ms = max(begin for begin, end in place.loadings if end == until_ms)
    fits = (
        fitted(track, begun_ms, 0.0)
        if rising is None
        else fitted(track, rising.from_ms, rising.noise_k)
    )
    if fits is None:
        return False
    reach = warm_up.contents_reach(fits, kept_c, lag_s, place.top_c)
    return bool(reach.chance > SURE and reach.early_s < left_s)
