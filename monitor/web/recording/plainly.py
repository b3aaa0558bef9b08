"""Says on a page what the rules of the ledger say for a command line."""

import re
from collections.abc import Mapping
from typing import Final

from monitor.phrase import Phrase
from monitor.speaking import said

LABELS: Final[Mapping[str, str]] = {
    "at": Phrase("When"),
    "by": Phrase("your name"),
    "crop": Phrase("Crop"),
    "cultivar": Phrase("Cultivar"),
    "place": Phrase("Where"),
    "to": Phrase("Where to"),
    "stage": Phrase("Stage"),
    "count": Phrase("How many"),
    "stems": Phrase("How many"),
    "sold": Phrase("Sold"),
    "used": Phrase("Used"),
    "given": Phrase("Given away"),
    "culled": Phrase("Thrown away"),
    "bunches-of": Phrase("In bunches of"),
    "received": Phrase("Received"),
    "rotten": Phrase("Rotten"),
    "roots": Phrase("Roots"),
    "mould": Phrase("Mould"),
    "softness": Phrase("Soft"),
    "moisture": Phrase("Moisture"),
    "culls": Phrase("Thrown away"),
    "all-fine": Phrase("All fine"),
    "held-for": Phrase("Order"),
    "note": Phrase("Note"),
    "entry": Phrase("Entry"),
}
PAGES: Final[Mapping[str, str]] = {
    "undo": Phrase("Undo"),
    "harvest": Phrase("Harvest"),
    "move": Phrase("Move"),
    "out": Phrase("Out"),
    "add": Phrase("Add"),
    "list": Phrase("Batches"),
    "show": Phrase("its page"),
    "observe": Phrase("Look"),
}
_MOST: Final = 600
_OPTION = re.compile(r"--([a-z]+(?:-[a-z]+)*)(?: (?:[A-Z]{1,5}\b|\"[^\"]*\"))?")
_COMMAND = re.compile(r"cormwatch batch (\w+)((?: (?:#?\d+|--[a-z-]+|[A-Z]+))*)")


def plainly(text: str) -> str:
    """Return a refusal in a page's words: fields by their labels, commands by their pages."""
    told = _COMMAND.sub(lambda found: f"“{said(PAGES.get(found[1], found[1]))}”", said(text))
    told = _OPTION.sub(lambda found: f"“{said(LABELS.get(found[1], found[1]))}”", told)
    return told if len(told) <= _MOST else f"{told[:_MOST]} …"
