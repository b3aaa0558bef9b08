"""A battery by its own record: low for a day, or falling fast."""

from typing import Final

from monitor.watch.trust.blocks import BLOCK_MS, Trust

LOW_PCT: Final = 20.0  # common practice
GOOD_PCT: Final = 35.0
_FALL_PCT: Final = 20.0
_HALF_PCT: Final = 50.0
_DAY: Final = 86_400_000 // BLOCK_MS
_FEW: Final = 3


def low_battery(trust: Trust, *, told: bool) -> bool:
    """Return whether a battery is to be changed.

    Once told, a new battery has to show: it stays low until it is well above the limit.
    A cold night's dip is none: a day's best counts.
    """
    if not trust.closed:
        return told
    last = trust.closed[-1]
    if told:
        return last.mean < GOOD_PCT
    day = [each for each in trust.closed if each.half > last.half - _DAY]
    if len(trust.closed) < _FEW or last.half - trust.closed[0].half < _DAY - 1:
        return False
    best = max(each.high for each in day)
    before = max(each.high for each in trust.closed[:_FEW])
    return best < LOW_PCT or (best < _HALF_PCT and before - best >= _FALL_PCT)
