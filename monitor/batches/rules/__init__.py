"""What may be recorded: each verb builds its entries from the ledger as it stands.

Every function returns a builder for one ledger transaction: it is given the entries,
and returns the new ones or refuses. A refusal writes nothing.
"""

from monitor.batches.rules.adding import Start, add
from monitor.batches.rules.harvesting import harvest
from monitor.batches.rules.leaving import Leaving, end, out
from monitor.batches.rules.moving import move
from monitor.batches.rules.observing import Seen, observe
from monitor.batches.rules.parting import divide, split
from monitor.batches.rules.undoing import undo
from monitor.batches.rules.writing import Builder, Writing

__all__ = [
    "Builder", "Leaving", "Seen", "Start", "Writing", "add", "divide", "end", "harvest",
    "move", "observe", "out", "split", "undo",
]  # fmt: skip
