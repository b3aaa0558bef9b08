"""The batch ledger: what may be recorded, and what the record amounts to."""

from monitor.batches.book import (
    Book,
    Contradiction,
    Cutting,
    Hold,
    Observation,
    Out,
    Purpose,
    Roots,
    open_batches,
    stay_at,
)
from monitor.batches.fold import fold

__all__ = [
    "Book", "Contradiction", "Cutting", "Hold", "Observation", "Out", "Purpose", "Roots",
    "fold", "open_batches", "stay_at",
]  # fmt: skip
