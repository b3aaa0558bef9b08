"""Says on a page what the rules of the ledger say for a command line."""

import re
from collections.abc import Mapping
from typing import Final

LABELS: Final[Mapping[str, str]] = {
    "at": "When", "by": "your name", "crop": "Crop", "cultivar": "Cultivar", "place": "Where",
    "to": "Where to", "stage": "Stage", "count": "How many", "stems": "How many",
    "sold": "Sold", "used": "Used", "given": "Given away", "culled": "Thrown away",
    "bunches-of": "In bunches of", "received": "Received", "rotten": "Rotten",
    "roots": "Roots", "mould": "Mould", "softness": "Soft", "moisture": "Moisture",
    "culls": "Thrown away", "all-fine": "All fine", "held-for": "Order", "note": "Note",
    "entry": "Entry",
}  # fmt: skip
PAGES: Final[Mapping[str, str]] = {
    "undo": "Undo", "harvest": "Harvest", "move": "Move", "out": "Out", "add": "Add",
    "list": "Batches", "show": "its page", "observe": "Look",
}  # fmt: skip
_MOST: Final = 600
_OPTION = re.compile(r"--([a-z]+(?:-[a-z]+)*)(?: (?:[A-Z]{1,5}\b|\"[^\"]*\"))?")
_COMMAND = re.compile(r"cormwatch batch (\w+)((?: (?:#?\d+|--[a-z-]+|[A-Z]+))*)")


def plainly(text: str) -> str:
    """Return a refusal in a page's words: fields by their labels, commands by their pages."""
    told = _COMMAND.sub(lambda found: f"“{PAGES.get(found[1], found[1])}”", text)
    told = _OPTION.sub(lambda found: f"“{LABELS.get(found[1], found[1])}”", told)
    return told if len(told) <= _MOST else f"{told[:_MOST]} …"
