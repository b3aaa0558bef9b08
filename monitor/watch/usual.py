"""Warm air that a cooler's own doors and defrosts explain, so that nobody need be woken.

A limit that has lasted is expected while the air still behaves as it did on the days
before: it rose and stood above its level for no longer than this cooler's habit, and it
has not been over the limit for twice the tolerated time. The hour at which that ends does
not depend on how the readings were packed.
"""

from collections.abc import Sequence
from typing import Final, NamedTuple

from monitor.model import Side
from monitor.watch.plan import Line
from monitor.watch.state import Spell, Track

WHY: Final = "a door or a defrost, which take as long here"
_TIMES: Final = 2  # the tolerated time, after which no habit explains it (common practice)


class Lasting(NamedTuple):
    """A line that a channel has been outside of for longer than it may be."""

    track: Track
    line: Line
    spell: Spell


def until_ms(lasting: Sequence[Lasting]) -> int:
    """Return until when a habit explains every limit that has lasted; 0 for never. [ms]"""
    return min((_one(*each) for each in lasting), default=0)


def _one(track: Track, line: Line, spell: Spell) -> int:
    if line.side is not Side.HIGH or line.cumulative_ms is not None:
        return 0
    if line.tolerated_ms is None:  # the early warning itself: no habit explains it
        return spell.raised_ms
    rising = track.warming.rising
    if track.warming.habits.learning or rising is None:
        return 0
    most_ms = spell.began_ms + _TIMES * line.tolerated_ms
    return most_ms if rising.raised_ms is None else min(rising.raised_ms, most_ms)
