"""Filling in the forms of batches, as a browser without scripts would."""

import html
import re
from dataclasses import dataclass

import httpx

from monitor.model import LedgerEntry
from tests.web.desk import SmallDesk
from tests.web.visiting import Visitor

_FIELD = re.compile(r'<input type="hidden" name="(\w+)" value="([^"]*)">')


@dataclass
class Recorder:
    """Opens a form and presses a name on it."""

    visitor: Visitor
    desk: SmallDesk

    def hidden(self, path: str) -> dict[str, str]:
        """Return what the form of a page brings by itself."""
        form = self.visitor.get(path).text.partition('id="record"')[2]
        return {name: html.unescape(value) for name, value in _FIELD.findall(form)}

    def press(self, path: str, **words: str) -> httpx.Response:
        """Open a form, fill it in, press Wren's name."""
        sent = {**self.hidden(path), "by": "Wren", **words}
        return self.visitor.post(path.partition("?")[0], data=sent)

    def newest(self) -> LedgerEntry:
        """Return the newest entry of the ledger."""
        return self.desk.ledger.entries()[-1]
