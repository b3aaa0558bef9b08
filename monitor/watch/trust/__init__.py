"""Whether a sensor can be believed: by its neighbours, its own past, and what air can do.

Each channel keeps two days of half hours (``Trust``), which depend on its readings alone
and not on how they were packed. Every rule is one small module that looks at the half
hours of a place; ``assess`` puts them together. In doubt a rule says nothing: a sensor
that is wrongly silenced is worse than one too many that is believed.
"""

from monitor.watch.trust.assess import assess
from monitor.watch.trust.blocks import BLOCK_MS, BLOCKS, Trust, after, moved
from monitor.watch.trust.doubt import Doubt, Reason
from monitor.watch.trust.held import Hold, came_along, held, standing_from
from monitor.watch.trust.possible import confirmed, incredible
from monitor.watch.trust.power import low_battery

__all__ = [
    "BLOCKS",
    "BLOCK_MS",
    "Doubt",
    "Hold",
    "Reason",
    "Trust",
    "after",
    "assess",
    "came_along",
    "confirmed",
    "held",
    "incredible",
    "low_battery",
    "moved",
    "standing_from",
]
