"""The limits that were changed, as the page of alarms lists them."""

from typing import Final

from monitor.alarms.altered import say_altered
from monitor.farm.altering import Altered, altered
from monitor.web.look import Look

_SHOWN: Final = 30


class Limits:
    """Keeps the changes until another configuration is accepted: comparing them takes long."""

    def __init__(self) -> None:
        self._kept: tuple[int, list[Altered]] = 0, []

    def lines(self, look: Look) -> list[str]:
        """Return the limits that were changed, the newest first.

        Raises
        ------
        StoreError
            If the ledger cannot be read.
        """
        accepted = look.desk.ledger.configurations()
        newest = accepted[-1].id if accepted else 0
        if self._kept[0] != newest:
            self._kept = newest, altered(accepted)
        return [say_altered(look.farm, each) for each in reversed(self._kept[1][-_SHOWN:])]
