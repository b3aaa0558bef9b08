"""Warm air that a cooler's own doors and defrosts explain, so that nobody need be woken.

A limit that has lasted is expected while the air still behaves as it did on the days
before: it rose and stood above its level for no longer than this cooler's habit, and it
has not been over the limit for twice the tolerated time. The hour at which that ends does
not depend on how the readings were packed.
"""

from collections.abc import Sequence
from typing import Final

from monitor.model import Side
from monitor.watch.plan import Line
from monitor.watch.state import Standing, Track

WHY: Final = "this cooler's doors and defrosts take as long"
_TIMES: Final = 2  # the tolerated time, after which no habit explains it
_NEVER: Final = 2**62


def until_ms(members: Sequence[tuple[Track, Line, Standing]]) -> int:
    """Return until when a habit explains every limit that has lasted; 0 for never. [ms]"""
    lasting = [each for each in members if each[2].spell is not None]
    return min((_one(*each) for each in lasting), default=0)


def _one(track: Track, line: Line, standing: Standing) -> int:
    warming, spell = track.warming, standing.spell
    plain = line.tolerated_ms is not None and line.cumulative_ms is None
    early = line.tolerated_ms is None and line.cumulative_ms is None
    if spell is None or line.side is not Side.HIGH or not (plain or early):
        return 0
    if early:
        return spell.raised_ms
    if warming.habits.learning or warming.rising is None:
        return 0
    told = warming.rising.raised_ms
    return min(_NEVER if told is None else told, spell.began_ms + _TIMES * (line.tolerated_ms or 0))
