"""How the farm's history is kept: copies by the day, and how long every reading stays."""

from dataclasses import dataclass
from datetime import time
from pathlib import Path

COPY_AT = time(2, 30)
COPIES_KEPT = 14


@dataclass(frozen=True, slots=True)
class Backup:
    """Copies of the whole farm made each day: where, when by the farm's clock, how many stay."""

    folder: Path
    at: time = COPY_AT
    keep: int = COPIES_KEPT
