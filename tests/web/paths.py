"""Something that is there, in the furnished farm, for each gap of a route's path."""

import re
from typing import Final

FILLED: Final = {
    "place_id": "walk-in-cooler", "batch_id": "2", "alarm_id": "1", "sensor_id": "cooler-door-side",
    "crop_id": "ranunculus", "person_id": "wren", "stage_id": "pre_sprout",
    "quantity": "temperature", "year": "2026", "verb": "look", "token": "none",
    "path": "cormwatch.css",
}  # fmt: skip


def filled(path: str) -> str:
    """Return a route's path with its gaps filled; a gap without an example stays."""
    return re.sub(r"\{(\w+)(?::\w+)?\}", lambda gap: FILLED.get(gap.group(1), gap.group(0)), path)
